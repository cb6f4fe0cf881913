"""Water vapour against the printed points and an independent equation of state."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.errors import InputError
from blender.humidity import (
    AirState,
    damp_air,
    damp_o2,
    parse_air_state,
    saturation_pressure_pa,
    water_fraction,
)
from blender.units import PA_PER_ATM, PA_PER_MMHG


def mmhg(celsius: float) -> float:
    return saturation_pressure_pa(celsius) / PA_PER_MMHG


@pytest.mark.parametrize(
    ("celsius", "printed"), [(20.0, 17.535), (25.0, 23.756), (30.0, 31.824), (37.0, 47.067)]
)
def test_printed_points(celsius, printed):  # P, gas-analyser handbook
    assert round(mmhg(celsius), 3) == printed


@pytest.mark.parametrize(
    ("celsius", "classic"),
    [(16.0, 13.634), (18.0, 15.477), (22.0, 19.827), (24.0, 22.377), (26.0, 25.209)],
)
def test_between_the_points(celsius, classic):
    # M: the classic 1 K table of physics handbooks, from memory; bound 0.03 %, as documented.
    assert mmhg(celsius) == pytest.approx(classic, rel=3e-4)


@pytest.mark.parametrize("celsius", [0.1, 3.0, 7.5, 12.0, 20.0, 25.0, 33.0, 37.0, 43.0, 52.0, 60.0])
def test_against_the_saturation_curve_of_water(celsius):
    # CoolProp (IAPWS-95).  The classic table is up to 0.15 % lower: bound 0.2 %.
    prop = pytest.importorskip("CoolProp.CoolProp")
    independent = prop.PropsSI("P", "T", celsius + 273.15, "Q", 0, "Water")
    assert saturation_pressure_pa(celsius) == pytest.approx(independent, rel=2e-3)


@pytest.mark.parametrize("celsius", [-20.0, -12.5, -5.0])
def test_supercooled_water(celsius):
    # Magnus formula over water, WMO form, from memory (M), good to 0.6 % at these temperatures.
    magnus = 611.2 * 2.718281828 ** (17.62 * celsius / (243.12 + celsius))
    assert saturation_pressure_pa(celsius) == pytest.approx(magnus, rel=6e-3)


@given(st.floats(-20.0, 59.9), st.floats(0.001, 0.1))
def test_rises_with_temperature(celsius, step):
    assert saturation_pressure_pa(celsius + step) > saturation_pressure_pa(celsius)


@pytest.mark.parametrize(
    ("celsius", "humidity", "percent"), [(20.0, 0.5, 20.703), (30.0, 1.0, 20.068)]
)
def test_oxygen_in_damp_air(celsius, humidity, percent):
    # D from the handbook's formula, whose dry air is 20.945 % where ours is 20.946 %.
    water = water_fraction(celsius, humidity, PA_PER_ATM)
    assert round(damp_o2(20.945, water), 3) == percent
    assert damp_air(celsius, humidity, PA_PER_ATM) * 100 == pytest.approx(percent, abs=0.0015)


def test_intake_air_of_a_compressor():
    # D: 25 degC, 60 %, 760 mmHg.  EAN32 wants 35.051 % dry; the injected oxygen (17.566 % of the
    # inlet flow) is dry, so only the air's share of the stream carries water: 34.509 % damp.
    water = water_fraction(25.0, 0.6, PA_PER_ATM) * (1.0 - 0.17566)
    assert damp_o2(35.051, water) == pytest.approx(34.509, abs=0.001)


@given(st.text(max_size=20))
def test_hostile_text_is_only_ever_bad_input(text):
    with contextlib.suppress(InputError):
        parse_air_state(text)


@pytest.mark.parametrize(
    ("typed", "state"),
    [
        ("20C/50%", AirState(20.0, 0.5)),
        ("25C/60", AirState(25.0, 0.6)),
        (" 77F / 62,5% ", AirState(25.0, 0.625)),
    ],
)
def test_reads_what_people_type(typed, state):
    assert parse_air_state(typed) == state


@pytest.mark.parametrize(
    "typed", ["", "25C", "25C/", "/60%", "25/60%", "25C/101%", "61C/50%", "60%/25C"]
)
def test_refuses_what_it_cannot_read(typed):
    with pytest.raises(InputError) as caught:
        parse_air_state(typed, "--calibration-air")
    assert caught.value.field == "--calibration-air"


@pytest.mark.parametrize(
    "ask",
    [
        lambda: saturation_pressure_pa(61.0),
        lambda: saturation_pressure_pa(float("nan")),
        lambda: water_fraction(20.0, 1.5, PA_PER_ATM),
        lambda: water_fraction(20.0, 0.5, 0.0),
    ],
)
def test_out_of_range_is_refused(ask):
    with pytest.raises(InputError):
        ask()
