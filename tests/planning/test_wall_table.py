"""Wall tables: cell by cell the plan of its own request, and published or independent values."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyaga8 import Composition, Gerg2008

from blender.errors import InputError, NoFillError
from blender.gas import AIR, HELIUM, OXYGEN, parse_gas
from blender.planning import GasAt, PlanRequest, plan
from blender.planning.supplies import DEFAULT_SUPPLIES
from blender.planning.wall_table import MOST_CELLS, WallRequest, WallTable, wall_table


def _table(residual: str, bars: tuple[float, ...], wanted: str, want_bar: float) -> WallTable:
    mixes = tuple(parse_gas(name) for name in wanted.split())
    return wall_table(WallRequest(parse_gas(residual), bars, mixes, want_bar))


def test_the_stops_of_ordinary_days() -> None:
    """Worked out beforehand in pyaga8 (GERG-2008), step by step, within 0.05 bar."""
    repeat = _table("EAN28", (60.0,), "EAN32", 230.0)
    assert repeat.oxygen_bar[0, 0] == pytest.approx(84.425, abs=0.05)
    assert math.isnan(repeat.drain_bar[0, 0])
    drained = _table("EAN40", (180.0,), "EAN32", 200.0)
    assert drained.drain_bar[0, 0] == pytest.approx(111.462, abs=0.05)
    assert math.isnan(drained.oxygen_bar[0, 0])
    trimix = wall_table(
        WallRequest(
            parse_gas("21/35"), (40.0,), (parse_gas("18/45"),), 220.0,
            oxygen=parse_gas("oxygen99.5"),
        )
    )  # fmt: skip
    assert trimix.helium_bar[0, 0] == pytest.approx(121.894, abs=0.05)
    assert trimix.oxygen_bar[0, 0] == pytest.approx(136.142, abs=0.05)
    assert trimix.final_bar[0, 0] == pytest.approx(220.0, abs=1e-9)


@pytest.mark.parametrize("chance", range(6))
def test_every_cell_is_the_plan_of_its_own_request(chance: int) -> None:
    rng = random.Random(chance)
    residual = parse_gas(rng.choice(["air", "EAN32", "EAN50", "21/35", "18/45"]))
    request = WallRequest(
        residual,
        tuple(sorted(rng.uniform(0.0, 190.0) for _ in range(6))),
        tuple(parse_gas(m) for m in ("EAN28", "EAN32", "EAN40", "EAN80", "18/45", "10/70")),
        rng.uniform(195.0, 280.0),
        temperature_c=rng.uniform(-5.0, 45.0),
        settle_at_c=rng.uniform(10.0, 25.0),
        ambient_bar=rng.uniform(0.7, 1.05),
    )
    table = wall_table(request)
    for row, bar in enumerate(request.residual_bar):
        for column, wanted in enumerate(request.wanted):
            _same_as_plan(table, row, column, bar, wanted.o2, wanted.he)


def _same_as_plan(
    table: WallTable, row: int, column: int, bar: float, o2: float, he: float
) -> None:
    asked = table.request
    cells = {
        name: float(getattr(table, f"{name}_bar")[row, column])
        for name in ("drain", "helium", "oxygen", "final")
    }
    try:
        made = plan(
            PlanRequest(
                0.012, GasAt(bar, asked.residual), GasAt(asked.want_bar, asked.wanted[column]),
                supplies=DEFAULT_SUPPLIES, temperatures_c=(asked.temperature_c,),
                settle_at_c=asked.settle_at_c, ambient_bar=asked.ambient_bar,
            )
        )  # fmt: skip
    except NoFillError:
        assert math.isnan(cells["final"])
        return
    if max(abs(made.result.o2 - o2), abs(made.result.he - he)) > 1e-9:
        assert math.isnan(cells["final"])  # the plan misses a little; the table says nothing
        return
    stops = {
        "drain": [s.to_bar for s in made.steps if s.action == "drain"],
        "helium": [s.to_bar for s in made.steps if s.action == "add" and s.supply == "helium"],
        "oxygen": [s.to_bar for s in made.steps if s.action == "add" and s.supply == "oxygen"],
    }
    for name, planned in stops.items():
        assert (not planned) == math.isnan(cells[name]), (name, planned, cells)
        if planned:
            assert cells[name] == pytest.approx(planned[0], abs=1e-6)
    last = [s.to_bar for s in made.steps if s.action in ("add", "drain")]
    if last:
        assert cells["final"] == pytest.approx(last[-1], abs=1e-6)


def test_a_page_of_cells_lands_on_its_mixes_in_another_library() -> None:
    """Each stop executed in pyaga8 (GERG-2008), which shares no code with the product."""
    table = _table("EAN32", tuple(range(0, 200, 20)), "EAN28 EAN32 EAN36 EAN50", 200.0)
    for row, bar in enumerate(table.request.residual_bar):
        for column, wanted in enumerate(table.request.wanted):
            if not math.isnan(table.final_bar[row, column]):
                o2 = _executed(table, row, column, bar)
                assert o2 == pytest.approx(wanted.o2, abs=1e-4)


def _executed(table: WallTable, row: int, column: int, bar: float) -> float:
    residual = table.request.residual.fractions
    drained = table.drain_bar[row, column]
    left = bar if math.isnan(drained) else float(drained)
    holds = np.array(residual) * _density(residual, left)
    oxygen = table.oxygen_bar[row, column]
    if not math.isnan(oxygen):
        holds = _filled(holds, OXYGEN.fractions, float(oxygen))
    holds = _filled(holds, AIR.fractions, 200.0)
    return float(holds[0] / holds.sum())


def _filled(holds: np.ndarray, gas: tuple[float, ...], to_bar: float) -> np.ndarray:
    """Return what it holds once a gas was let in to a gauge pressure, by halving."""
    low, high = 0.0, 20.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        mixed = holds + middle * np.array(gas)
        if _density(tuple(mixed / mixed.sum()), to_bar) > mixed.sum():
            low = middle
        else:
            high = middle
    return holds + low * np.array(gas)


def _density(fractions: tuple[float, ...], gauge_bar: float) -> float:
    """Molar density at 20 degC [mol/L] by pyaga8."""
    mix = Composition()
    mix.oxygen, mix.helium, mix.nitrogen, mix.argon = fractions
    state = Gerg2008()
    state.set_composition(mix)
    state.pressure, state.temperature = (gauge_bar + 1.01325) * 100.0, 293.15
    state.calc_density(0)
    return float(state.d)


@given(
    st.floats(0.0, 150.0),
    st.floats(0.22, 0.6),
    st.floats(0.001, 0.3),
    st.sampled_from(["air", "EAN32"]),
)
def test_more_oxygen_asked_never_lowers_the_oxygen_stop(
    bar: float, o2: float, more: float, residual: str
) -> None:
    wanted = tuple(parse_gas(f"{x:.6f}/0") for x in (o2, min(o2 + more, 0.9)))
    table = wall_table(WallRequest(parse_gas(residual), (bar,), wanted, 200.0))
    one, other = table.oxygen_bar[0]
    assert math.isnan(one) or math.isnan(other) or other >= one - 1e-9


@pytest.mark.parametrize(
    "change",
    [
        {"residual_bar": ()},
        {"residual_bar": (210.0,)},
        {"residual_bar": (-1.0,)},
        {"residual_bar": tuple([1.0] * (MOST_CELLS + 1))},
        {"oxygen": AIR},
        {"helium": OXYGEN},
    ],
)
def test_what_makes_no_table_is_bad_input(change: dict[str, object]) -> None:
    facts: dict[str, object] = {
        "residual": AIR, "residual_bar": (0.0,), "wanted": (parse_gas("EAN32"),),
        "want_bar": 200.0, "helium": HELIUM,
    }  # fmt: skip
    with pytest.raises(InputError):
        wall_table(WallRequest(**{**facts, **change}))
