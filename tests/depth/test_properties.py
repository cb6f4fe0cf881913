"""What must hold for every gas and depth, and what is refused."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from blender.atmosphere import HANDBOOK, place, standard_pressure_pa, true_place
from blender.depth import (
    depth_figures,
    ead,
    end,
    floor,
    limits_from_readings,
    mnd,
    mod,
    require_breathable,
)
from blender.errors import InputError
from blender.gas import AIR, ARGON, HELIUM, OXYGEN, Mix, mix
from blender.rounding import deeper, round_down, round_up, shallower

places = st.one_of(
    st.just(HANDBOOK),
    st.builds(
        place,
        st.sampled_from(["salt", "fresh", "en13319"]),
        st.floats(-450.0, 5000.0, allow_nan=False),
    ),
)
oxygen = st.floats(0.05, 1.0)
limits = st.floats(1.2, 1.6)


@given(rich=oxygen, lean=oxygen, ppo2=limits, where=places)
def test_mod_falls_as_oxygen_rises(rich, lean, ppo2, where):
    assume(rich > lean + 1e-9)
    assert mod(mix(rich), ppo2, where.metric) < mod(mix(lean), ppo2, where.metric)


@given(o2=oxygen, ppo2=limits, where=places)
def test_mod_and_floor_return_their_ppo2(o2, ppo2, where):
    for column in (where.metric, where.imperial):
        at_mod = column.pressure(mod(mix(o2), ppo2, column)) * o2
        assert at_mod == pytest.approx(ppo2, rel=1e-12)
        lowest = floor(mix(o2), column)
        assert column.pressure(lowest) * o2 >= 0.18 * (1 - 1e-12)
        assert lowest <= mod(mix(o2), ppo2, column)


@given(percent=st.integers(5, 100), ppo2_tenths=st.integers(12, 16))
@example(percent=28, ppo2_tenths=14)
@example(percent=32, ppo2_tenths=16)
@example(percent=40, ppo2_tenths=14)
def test_shown_mod_is_the_exact_one_rounded_down(percent, ppo2_tenths):
    """Against rational arithmetic: neither deeper than allowed nor a unit short."""
    figures = depth_figures(mix(round(percent / 100.0, 12)), ppo2_tenths / 10.0)
    for head, unit in ((10, "m"), (33, "ft")):
        exact = (Fraction(ppo2_tenths, 10) / Fraction(percent, 100) - 1) * head
        assert figures[f"mod_{unit}_shown"] == math.floor(exact)
        lowest = max((Fraction(18, 100) / Fraction(percent, 100) - 1) * head, 0)
        assert figures[f"floor_{unit}_shown"] == math.ceil(lowest)


@given(percent=st.integers(21, 100), depth=st.integers(0, 100))
def test_shown_equivalents_are_the_exact_ones_rounded_up(percent, depth):
    figures = depth_figures(mix(round(percent / 100.0, 12)), 1.4, at=(float(depth), "m"))
    nitrogen = 1 - Fraction(percent, 100)
    exact = max(nitrogen / Fraction(79, 100) * (depth + 10) - 10, 0)
    if percent != 21:  # 21 % goes by the name of air: the depth itself
        assert figures["ead_m_shown"] == math.ceil(exact)
    else:
        assert figures["ead_m_shown"] == depth
    assert figures["end_m_shown"] == depth


@given(value=st.floats(-1e6, 1e6), step=st.sampled_from([0.01, 0.1, 0.5, 1.0, 10.0]))
def test_rounding_stays_on_the_safe_side(value, step):
    slack = 2e-9 * max(step, abs(value))
    down, up = round_down(value, step), round_up(value, step)
    assert value - step - slack <= down <= value + slack
    assert value - slack <= up <= value + step + slack


@given(whole=st.integers(0, 10_000), ulps=st.integers(-8, 8))
def test_a_whole_value_stays_in_spite_of_the_binary_tail(whole, ulps):
    value = whole + ulps * math.ulp(float(max(whole, 1)))
    assert shallower(value) == deeper(value) == whole


def test_a_millimetre_is_not_taken_for_a_tail():
    assert shallower(39.999) == 39
    assert deeper(26.001) == 27


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_rounding_refuses_what_is_no_number(value):
    with pytest.raises(InputError):
        shallower(value)
    with pytest.raises(InputError):
        deeper(value)


@given(o2=oxygen, share=st.floats(0.0, 1.0), depth=st.floats(0.0, 350.0), where=places)
def test_equivalent_depths_are_never_above_the_surface(o2, share, depth, where):
    gas = mix(o2, share * (1.0 - o2))
    for column in (where.metric, where.imperial):
        air = ead(gas, depth, column)
        assert air is None or air >= 0.0
        assert 0.0 <= end(gas, depth, column) <= depth + 1e-9
        assert end(gas, depth, column, oxygen_narcotic=False) >= 0.0


@given(
    o2=st.floats(0.005, 1.0),
    share=st.floats(0.0, 1.0),
    ppo2=limits,
    where=places,
    depth=st.floats(0.0, 350.0),
    unit=st.sampled_from(["m", "ft"]),
    narcotic=st.booleans(),
)
def test_every_figure_is_finite_or_none(o2, share, ppo2, where, depth, unit, narcotic):
    gas = mix(o2, share * (1.0 - o2))
    figures = depth_figures(gas, ppo2, where, (depth, unit), narcotic)
    numbers = [x for x in figures.values() if isinstance(x, float)]
    assert all(math.isfinite(x) for x in numbers)
    assert figures["mod_m"] >= figures["mod_m_shown"] - 1e-6
    assert figures["floor_m"] <= figures["floor_m_shown"] + 1e-6


def test_negative_ead_is_the_surface():
    assert ead(OXYGEN, 5.0, HANDBOOK.metric) == 0.0
    assert ead(mix(0.5), 2.0, HANDBOOK.metric) == 0.0


def test_heliox_has_no_ead_and_without_oxygen_counted_no_narcotic_limit():
    heliox = mix(0.2, 0.8)
    assert ead(heliox, 60.0, HANDBOOK.metric) is None
    assert mnd(heliox, HANDBOOK.metric, oxygen_narcotic=False) is None
    assert mnd(heliox, HANDBOOK.metric) == pytest.approx(190.0)


def test_argon_in_oxygen_counts_as_nitrogen():
    industrial = Mix(0.995, 0.0, 0.0, 0.005)
    with_nitrogen = Mix(0.995, 0.0, 0.005, 0.0)
    args = (200.0, HANDBOOK.metric, False)
    assert end(industrial, *args) == end(with_nitrogen, *args)
    assert mnd(industrial, *args[1:]) == mnd(with_nitrogen, *args[1:])


@pytest.mark.parametrize("gas", [ARGON, HELIUM, mix(0.001, 0.99), Mix(0.2, 0.0, 0.0, 0.8)])
def test_what_nobody_may_breathe_has_no_depth(gas):
    for ask in (
        lambda: require_breathable(gas),
        lambda: mod(gas, 1.4, HANDBOOK.metric),
        lambda: floor(gas, HANDBOOK.metric),
        lambda: depth_figures(gas),
    ):
        with pytest.raises(InputError, match="NOT BREATHABLE"):
            ask()


@pytest.mark.parametrize(
    "ask",
    [
        lambda: mod(OXYGEN, 0.9, HANDBOOK.metric),
        lambda: depth_figures(AIR, 1.7),
        lambda: depth_figures(AIR, 1.4, at=(351.0, "m")),
        lambda: limits_from_readings([]),
        lambda: place("brackish", None),
        lambda: place("fresh", 6000.0),
        lambda: standard_pressure_pa(12_000.0),
        lambda: true_place(1_000.0, 1000.0),
        lambda: true_place(101_325.0, 13_600.0),
    ],
)
def test_out_of_range_is_refused(ask):
    with pytest.raises(InputError):
        ask()
