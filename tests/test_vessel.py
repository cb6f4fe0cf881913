"""A rigid cylinder: amounts, gauges, isolators, leaks.

Numbers marked "scenario": worked for this project with an independent GERG-2008
implementation (pyaga8), moles conserved step by step.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.errors import InputError, ModelRangeError
from blender.gas import AIR, HELIUM, OXYGEN, mix, parse_gas
from blender.units import parse_gauge_pressure
from blender.vessel import (
    added_to_reach,
    amount_for_pressure,
    contents_at,
    joined,
    levelled,
    resume_check,
    root,
)

STOP_BAR, POINT, MOL = 0.05, 1e-4, 1e-3  # tolerances: bar, fraction, relative

gases = st.builds(
    lambda o2, he: mix(o2, he * (1.0 - o2)), st.floats(0.05, 1.0), st.floats(0.0, 1.0)
)


@pytest.mark.parametrize(
    ("gas", "bar", "celsius", "litres", "mol"),
    [
        ("EAN28", 60.0, 20.0, 12.0, 30.497),
        ("EAN28", 60.0, 33.0, 12.0, 29.015),
        ("21/35", 40.0, 20.0, 24.0, 39.820),
        ("18/45", 220.0, 20.0, 24.0, 193.290),
        ("air", 45.0, 20.0, 12.0, 22.913),
        ("air", 150.0, 20.0, 3.0, 18.545),
        ("EAN50", 30.0, 20.0, 11.1, 14.312),
    ],
)
def test_amounts(gas, bar, celsius, litres, mol):
    """Scenario amounts."""
    assert amount_for_pressure(parse_gas(gas), bar, celsius, litres / 1000.0) == pytest.approx(
        mol, rel=MOL
    )


def test_hot_residual_at_20_degrees():
    """Scenario: 60 bar read at 33 degC is 57.054 bar at 20 degC."""
    assert contents_at(parse_gas("EAN28"), 60.0, 33.0, 0.012).gauge_bar(20.0) == pytest.approx(
        57.054, abs=STOP_BAR
    )


@pytest.mark.parametrize(
    ("bar", "read_c", "at"),
    [
        (232.0, 5.0, {15.0: 245.179, 20.0: 251.754, 50.0: 291.002, 65.0: 310.506}),
        (232.0, 15.0, {5.0: 219.676, 20.0: 238.148, 50.0: 274.857, 65.0: 293.102}),
        (232.0, 20.0, {15.0: 226.043, 50.0: 267.566, 65.0: 285.244}),
        (300.0, 5.0, {15.0: 317.942, 20.0: 326.890, 50.0: 380.273, 65.0: 406.775}),
        (300.0, 20.0, {15.0: 291.902, 50.0: 348.323, 65.0: 372.322}),
    ],
)
def test_gauge_at_another_temperature(bar, read_c, at):
    """Scenario table: EAN32, constant amount."""
    held = contents_at(parse_gas("EAN32"), bar, read_c, 0.012)
    for celsius, expected in at.items():
        assert held.gauge_bar(celsius) == pytest.approx(expected, abs=STOP_BAR)


def test_air_heated_to_200_fahrenheit():
    """Scenario: 3000 psi at 70 degF becomes 4057.705 psi; 3740 (ideal) and 3729 are wrong."""
    psi = parse_gauge_pressure("1psi")
    held = contents_at(AIR, 3000.0 * psi, (70 - 32) / 1.8, 0.011)
    hot = held.gauge_bar((200 - 32) / 1.8) / psi
    assert hot == pytest.approx(4057.705, abs=STOP_BAR / psi)
    assert abs(hot - 3740.0) > 300.0


def test_isolator_opened_after_one_side_was_filled():
    """Scenario: 124.852 bar, 18.512 % O2, 43.292 % He."""
    left = contents_at(parse_gas("18/45"), 220.0, 20.0, 0.012)
    right = contents_at(parse_gas("21/35"), 40.0, 20.0, 0.012)
    both = joined(left, right)
    assert both.gauge_bar(20.0) == pytest.approx(124.852, abs=STOP_BAR)
    assert both.mix.o2 == pytest.approx(0.18512, abs=POINT)
    assert both.mix.he == pytest.approx(0.43292, abs=POINT)


def test_isolator_found_closed_after_the_oxygen_stage():
    """Scenario: opened at that point both hold 86.823 bar of 17.506 / 61.205 %."""
    right = contents_at(parse_gas("21/35"), 40.0, 20.0, 0.012)
    left = right.with_gas(HELIUM, 73.043 / 2).with_gas(parse_gas("oxygen99.5"), 12.200 / 2)
    assert left.gauge_bar(20.0) == pytest.approx(136.142, abs=STOP_BAR)
    both = joined(left, right)
    assert both.gauge_bar(20.0) == pytest.approx(86.823, abs=STOP_BAR)
    assert both.mix.o2 == pytest.approx(0.17506, abs=POINT)
    assert both.mix.he == pytest.approx(0.61205, abs=POINT)
    topped = both.with_gas(AIR, added_to_reach(both, AIR, 220.0, 20.0))
    assert topped.mix.o2 == pytest.approx(0.19509, abs=POINT)
    assert topped.mix.he == pytest.approx(0.25558, abs=POINT)


def test_two_cylinders_on_one_whip():
    """Scenario: 60 bar EAN28 beside 100 bar EAN50: both 80.045 bar, 10.158 mol came over."""
    low = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    high = contents_at(parse_gas("EAN50"), 100.0, 20.0, 0.012)
    for first, second in (levelled(low, high, 20.0), levelled(high, low, 20.0)[::-1]):
        assert first.gauge_bar(20.0) == pytest.approx(80.045, abs=STOP_BAR)
        assert second.gauge_bar(20.0) == pytest.approx(first.gauge_bar(20.0), abs=1e-9)
        assert first.mix.o2 == pytest.approx(0.33497, abs=POINT)
        assert second.mix.o2 == pytest.approx(0.5, abs=1e-12)
        assert first.total_mol - low.total_mol == pytest.approx(10.158, rel=MOL)


def _interrupted():
    start = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    return start.with_gas(OXYGEN, added_to_reach(start, OXYGEN, 84.425, 20.0))


def test_resuming_after_a_power_cut():
    """Scenario: 43.161 mol of 49.126 % show 81.581 bar at 12 degC."""
    held = _interrupted()
    assert held.total_mol == pytest.approx(43.161, rel=MOL)
    assert held.mix.o2 == pytest.approx(0.49126, abs=POINT)
    check = resume_check(held, 81.6, 12.0)
    assert check.expected_bar == pytest.approx(81.581, abs=STOP_BAR)
    assert abs(check.missing_fraction) < 5e-4


def test_a_leak_is_counted_in_moles():
    """Scenario: 78.0 bar at 12 degC is 41.262 mol, 1.899 mol (4.400 %) missing."""
    check = resume_check(_interrupted(), 78.0, 12.0)
    assert check.remaining.total_mol == pytest.approx(41.262, rel=MOL)
    assert check.missing_mol == pytest.approx(1.899, abs=0.002)
    assert check.missing_fraction == pytest.approx(0.044, abs=POINT)
    left = check.remaining
    blindly = left.with_gas(AIR, added_to_reach(left, AIR, 230.0, 20.0))
    assert blindly.mix.o2 == pytest.approx(0.31520, abs=POINT)


@pytest.mark.parametrize(
    ("stop", "o2"),
    [
        (84.0, 0.31843),
        (84.5, 0.32028),
        (85.0, 0.32213),
        (84.425 - 2.5, 0.31075),
        (84.425 + 2.5, 0.32924),
        (84.425 - 6.4, 0.29630),
        (84.425 + 6.4, 0.34362),
    ],
)
def test_rounded_and_misread_oxygen_stops(stop, o2):
    """Scenario: what the first stop, off by that much, makes of EAN32 at 230 bar."""
    start = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    rich = start.with_gas(OXYGEN, added_to_reach(start, OXYGEN, stop, 20.0))
    done = rich.with_gas(AIR, added_to_reach(rich, AIR, 230.0, 20.0))
    assert done.mix.o2 == pytest.approx(o2, abs=POINT)


def test_impure_oxygen_at_the_stop_for_pure():
    """Scenario: the stop for pure oxygen with 99.5 % makes 31.942 %."""
    start, impure = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012), parse_gas("oxygen99.5")
    rich = start.with_gas(impure, added_to_reach(start, impure, 84.425, 20.0))
    assert rich.with_gas(AIR, added_to_reach(rich, AIR, 230.0, 20.0)).mix.o2 == pytest.approx(
        0.31942, abs=POINT
    )


@pytest.mark.parametrize(
    ("residual", "o2"), [("air", 0.30046), ("EAN36", 0.34216), ("EAN50", 0.38092)]
)
def test_wrongly_stated_residual(residual, o2):
    """Scenario: the stops for 60 bar EAN28 used on something else."""
    start = contents_at(parse_gas(residual), 60.0, 20.0, 0.012)
    rich = start.with_gas(OXYGEN, added_to_reach(start, OXYGEN, 84.425, 20.0))
    done = rich.with_gas(AIR, added_to_reach(rich, AIR, 230.0, 20.0))
    assert done.mix.o2 == pytest.approx(o2, abs=POINT)


def test_stops_used_on_hot_gas():
    """Scenario: temperatures ignored: 32.696 %, settles at 208.140 bar."""
    start = contents_at(parse_gas("EAN28"), 60.0, 33.0, 0.012)
    rich = start.with_gas(OXYGEN, added_to_reach(start, OXYGEN, 84.425, 30.0))
    done = rich.with_gas(AIR, added_to_reach(rich, AIR, 230.0, 41.0))
    assert done.mix.o2 == pytest.approx(0.32696, abs=POINT)
    assert done.gauge_bar(20.0) == pytest.approx(208.140, abs=STOP_BAR)


def test_a_lower_reading_than_before_is_refused():
    held = contents_at(AIR, 100.0, 20.0, 0.012)
    with pytest.raises(InputError, match="gas was lost"):
        added_to_reach(held, OXYGEN, 90.0, 20.0)


def test_beyond_the_model_is_refused():
    with pytest.raises(ModelRangeError):
        contents_at(AIR, 499.5, 20.0, 0.012)


def test_mass_of_a_fill():
    """Scenario: 12.664 mol of oxygen are 405.235 g."""
    held = contents_at(OXYGEN, 0.0, 20.0, 0.012).kept(0.0).with_gas(OXYGEN, 12.664)
    assert held.mass_g == pytest.approx(405.235, rel=MOL)


@given(gas=gases, bar=st.floats(0.0, 350.0), celsius=st.floats(-20.0, 60.0))
def test_gauge_and_amount_are_inverse(gas, bar, celsius):
    held = contents_at(gas, bar, celsius, 0.012)
    assert held.gauge_bar(celsius) == pytest.approx(bar, abs=1e-8)


@given(
    one=gases, other=gases, bars=st.tuples(st.floats(0, 200), st.floats(0, 200)), c=st.floats(0, 40)
)
def test_levelling_loses_nothing(one, other, bars, c):
    first, second = contents_at(one, bars[0], c, 0.012), contents_at(other, bars[1], c, 0.007)
    after = levelled(first, second, c)
    before = [a + b for a, b in zip(first.amounts_mol, second.amounts_mol, strict=True)]
    moles = [a + b for a, b in zip(after[0].amounts_mol, after[1].amounts_mol, strict=True)]
    assert moles == pytest.approx(before, rel=1e-12, abs=1e-12)
    assert after[0].gauge_bar(c) == pytest.approx(after[1].gauge_bar(c), abs=1e-8)


@given(start=gases, gas=gases, bars=st.tuples(st.floats(0, 150), st.floats(0, 150)))
def test_what_was_added_is_found_again(start, gas, bars):
    held = contents_at(start, bars[0], 20.0, 0.012)
    fuller = held.with_gas(gas, added_to_reach(held, gas, sum(bars), 25.0)) if bars[1] > 5 else None
    if fuller is not None:
        assert fuller.gauge_bar(25.0) == pytest.approx(sum(bars), abs=1e-7)


def test_root_answers_an_end_when_there_is_none_between():
    assert root(lambda x: x + 1.0, 0.0, 5.0) == 0.0
    assert root(lambda x: x - 9.0, 0.0, 5.0) == 5.0
    assert root(lambda x: x**3 - 8.0, 0.0, 5.0) == pytest.approx(2.0, abs=1e-10)


@pytest.mark.parametrize("left_bar", [0.0, 20.0, 60.0])
@pytest.mark.parametrize("to_bar", [300.0, 330.0, 350.0])
def test_a_full_fill_is_found_within_the_range_of_the_equation(
    left_bar: float, to_bar: float
) -> None:
    """The search for the amount may not leave the range: 300 bar of air is an ordinary fill."""
    for residual, gas in (("air", "air"), ("EAN32", "air"), ("18/45", "helium")):
        left = contents_at(parse_gas(residual), left_bar, 20.0, 0.012)
        amount = added_to_reach(left, parse_gas(gas), to_bar, 20.0)
        filled = left.with_gas(parse_gas(gas), amount)
        assert filled.gauge_bar(20.0) == pytest.approx(to_bar, abs=1e-6)
