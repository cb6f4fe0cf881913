"""The mix for a dive: published best mixes, and both formulas of the END solved for helium."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from blender.atmosphere import HANDBOOK, WaterColumn
from blender.best_mix import DiveLimits, best_mix
from blender.depth import density_g_l, end, ppo2_at
from blender.errors import InputError, NoFillError
from blender.gas import Mix, mix
from tui.commands.best import answer, lines

MSW, FSW = HANDBOOK.metric, HANDBOOK.imperial


def test_published_best_mixes() -> None:
    """US Navy Diving Manual 12-5: 231 fsw at 1.2 (P inputs, D answer); 30 msw at 1.4 (D)."""
    no_density = {"density_g_l": None}
    assert best_mix(30.0, MSW, DiveLimits(1.4, 30.0, **no_density)).exact.o2 == pytest.approx(0.35)
    assert best_mix(231.0, FSW, DiveLimits(1.2, None, **no_density)).exact.o2 == pytest.approx(0.15)


def test_the_helium_for_an_end_by_hand() -> None:
    """D, from END = (1 - He)(D + k) - k: at 60 m for 30 m, He = 1 - 40/70."""
    found = best_mix(60.0, MSW, DiveLimits(1.4, 30.0, None))
    assert found.exact.he == pytest.approx(1.0 - 40.0 / 70.0)
    assert (found.whole.o2, found.whole.he, found.helium_for) == (0.20, 0.43, "end")
    # Nitrogen alone, N2 / 0.79 (D + k) - k: N2 = 0.79 x 40/70, and the rest is helium.
    counted = best_mix(60.0, MSW, DiveLimits(1.4, 30.0, None, oxygen_narcotic=False))
    assert counted.exact.he == pytest.approx(1.0 - 0.2 - 0.79 * 40.0 / 70.0)


def test_air_at_the_published_density_limits_needs_no_helium() -> None:
    """5.2 and 6.2 g/L are air at 31 m and 39 m with density taken at 0 degC (M)."""
    for depth, limit in ((30.7, 5.2), (38.6, 6.2)):
        assert (
            best_mix(depth, MSW, DiveLimits(0.2095 * (1 + depth / 10), None, limit)).exact.he < 0.01
        )


@given(
    st.floats(0.0, 120.0), st.floats(0.4, 1.6), st.none() | st.floats(0.0, 60.0),
    st.none() | st.floats(2.0, 10.0), st.booleans(), st.sampled_from([MSW, FSW]),
)  # fmt: skip
def test_the_mix_keeps_every_limit_and_no_helium_is_wasted(
    metres: float, ppo2: float, deepest: float | None, density: float | None, counted: bool,
    column: WaterColumn,
) -> None:  # fmt: skip
    depth = metres * column.head / 10.0
    limits = DiveLimits(ppo2, deepest, density, counted)
    try:
        found = best_mix(depth, column, limits)
    except NoFillError as error:
        assume(False)
        raise AssertionError from error
    for gas, slack in ((found.exact, 1e-9), (found.whole, 1e-9)):
        assert gas.o2 + gas.he <= 1.0 + 1e-12
        if gas.o2 > 0.01:
            assert ppo2_at(gas, depth, column) <= ppo2 * (1.0 + 1e-9)
        if gas.o2 + gas.he < 1.0 - 1e-9:
            if deepest is not None and gas.he > 0.0005:  # by the name of air none is needed
                assert end(gas, depth, column, counted) <= deepest + 1e-6 + slack
            if density is not None:
                assert density_g_l(gas, column.pressure_bar(depth)) <= density + 1e-6
    lean = found.exact.he - 1e-4
    assert lean < 0.0 or _breaks(mix(found.exact.o2, lean), depth, column, limits)


def _breaks(gas: Mix, depth: float, column: WaterColumn, limits: DiveLimits) -> bool:
    pressure = column.pressure_bar(depth)
    too_narcotic = (
        limits.end is not None and end(gas, depth, column, limits.oxygen_narcotic) > limits.end
    )
    too_dense = limits.density_g_l is not None and density_g_l(gas, pressure) > limits.density_g_l
    return too_narcotic or too_dense


def test_what_no_mix_keeps_is_said() -> None:
    with pytest.raises(NoFillError, match="END"):
        best_mix(30.0, MSW, DiveLimits(1.6, 0.0, None))
    with pytest.raises(NoFillError, match="density"):
        best_mix(200.0, MSW, DiveLimits(1.6, None, 2.0))


def test_the_command_says_the_mix_and_what_it_allows() -> None:
    told = answer("60m", end="30m", density="none")
    assert told["name"] == "20/43"
    assert told["end_m"] == pytest.approx(0.57 * 70.0 - 10.0)
    assert "20/43" in "\n".join(lines(told))
    assert answer("100ft", density="none")["helium_for"] == ""
    assert max(len(line) for line in lines(answer("95m", altitude="900m", water="fresh"))) <= 80


@given(
    *(
        st.text(max_size=8) | st.sampled_from(["60m", "100ft", "none", "1.4", "yes"])
        for _ in range(4)
    )
)
def test_hostile_text_is_bad_input_or_no_mix(
    at: str, ppo2: str, deepest: str, density: str
) -> None:
    try:
        told = answer(at, ppo2, deepest, density)
    except (InputError, NoFillError) as error:
        assert error.text
    else:
        assert lines(told)
