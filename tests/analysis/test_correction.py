"""A reading set right, and its uncertainty."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.analysis import (
    Calibration,
    check_ambient,
    correct,
    expanded,
    uncertainty_components,
    unstated_calibration,
)
from blender.errors import InputError
from blender.gas import AIR, OXYGEN
from blender.humidity import AirState

ATM = 101_325.0
DAMP = AirState(20.0, 0.5)


def shows(o2: float, calibration: Calibration, ambient_pa: float) -> float:
    """What a linear cell shows on a dry gas [%]: the other way round."""
    gain = calibration.shown_percent / (calibration.o2 * calibration.ambient_pa)
    return gain * o2 * ambient_pa


class TestPrinted:
    def test_air_at_0_8_bar_shows_16_7_percent(self):  # P, set on dry air at 1 bar
        assert (
            round(shows(AIR.o2, Calibration(AIR, 20.9, 1e5, AirState(20.0, 0.0)), 0.8e5), 1) == 16.7
        )

    def test_a_reading_of_32_at_0_8_bar_is_40_percent(self):  # P
        assert round(correct(32.0, unstated_calibration(1e5), 0.8e5) * 100, 1) == 40.0

    @pytest.mark.parametrize(
        ("set_to", "shown"), [(20.9, 32.304), (20.946, 32.376), (21.0, 32.459)]
    )
    def test_a_dry_32_on_a_meter_set_on_damp_air(self, set_to, shown):
        # D, worked with 20.703 % for the damp air; ours is 20.704 %, hence 0.003 points.
        calibration = Calibration(AIR, set_to, ATM, DAMP)
        assert shows(0.32, calibration, ATM) == pytest.approx(shown, abs=0.003)
        assert correct(shown, calibration, ATM) == pytest.approx(0.32, abs=3e-5)

    def test_disputed_analysis(self):  # D: 32.4 shown is 32.095 %
        calibration = Calibration(AIR, 20.9, ATM, DAMP)
        assert correct(32.4, calibration, ATM) * 100 == pytest.approx(32.095, abs=0.003)

    def test_true_32_at_795_mbar_shows_25_107(self):  # D
        assert round(shows(0.32, unstated_calibration(ATM), 79_500.0), 3) == 25.107

    def test_that_reading_is_refused(self):
        with pytest.raises(InputError, match="calibrate here first") as caught:
            check_ambient(ATM, 79_500.0, "--ambient")
        assert (caught.value.exit_code, caught.value.code) == (2, "calibrate-first")


@pytest.mark.parametrize(("change", "passes"), [(0.005, True), (-0.005, True), (0.0051, False)])
def test_ambient_may_move_half_a_percent(change, passes):
    if passes:
        check_ambient(ATM, ATM * (1.0 + change))
        return
    with pytest.raises(InputError):
        check_ambient(ATM, ATM * (1.0 + change))


@given(
    o2=st.floats(0.05, 1.0),
    set_to=st.floats(20.5, 21.2),
    celsius=st.floats(0.0, 40.0),
    humidity=st.floats(0.0, 1.0),
    change=st.floats(-0.005, 0.005),
)
def test_what_the_meter_shows_is_undone(o2, set_to, celsius, humidity, change):
    calibration = Calibration(AIR, set_to, ATM, AirState(celsius, humidity))
    now = ATM * (1.0 + change)
    assert correct(shows(o2, calibration, now), calibration, now) == pytest.approx(o2, rel=1e-12)


@given(celsius=st.floats(0.0, 40.0), humidity=st.floats(0.05, 1.0))
def test_damp_calibration_always_reads_too_high(celsius, humidity):
    damp = Calibration(AIR, 20.9, ATM, AirState(celsius, humidity))
    dry = Calibration(AIR, 20.9, ATM, AirState(celsius, 0.0))
    assert correct(32.0, damp, ATM) < correct(32.0, dry, ATM)


@pytest.mark.parametrize(("set_to", "o2"), [(20.9, 0.32), (20.9959, 0.32), (21.0, 0.31918)])
def test_a_setting_right_to_the_display_is_believed_where_dampness_is_not_stated(set_to, o2):
    assert correct(32.0, Calibration(AIR, set_to, ATM), ATM) == pytest.approx(o2, abs=1e-5)


def test_a_small_excess_counts_as_pure():
    assert correct(100.4, Calibration(OXYGEN, 100.0, ATM), ATM) == 1.0


@pytest.mark.parametrize("reading", [-0.1, 100.6, 250.0, math.inf, math.nan])
def test_impossible_readings_are_refused(reading):
    with pytest.raises(InputError):
        correct(reading, unstated_calibration(ATM), ATM)


class TestUncertainty:
    """JCGM 100 with rectangular components; their widths are named in the module."""

    STATED = Calibration(AIR, 20.9, ATM, DAMP)

    def u(self, reading: float, calibration: Calibration) -> float:
        return expanded(uncertainty_components(reading, calibration, ATM))

    def test_by_hand(self):
        # A meter set on oxygen to 100 and reading 100: half-widths in points of 0.05 display,
        # 0.5 instrument, 0 linearity, 0.05 set display, 0.5 gas, 0.5 flow, 0.25 ambient.
        by_hand = 2 * math.sqrt((2 * 0.05**2 + 3 * 0.5**2 + 0.25**2) / 3)
        got = self.u(100.0, Calibration(OXYGEN, 100.0, ATM)) * 100
        assert got == pytest.approx(by_hand, rel=1e-9)

    def test_grows_with_what_is_not_stated(self):
        dry_assumed = Calibration(AIR, 20.9, ATM)
        by_knowledge = [self.STATED, dry_assumed, unstated_calibration(ATM)]
        values = [self.u(32.4, calibration) for calibration in by_knowledge]
        assert values == sorted(values)
        assert values[0] < 0.01 < values[2]

    def test_grows_away_from_the_calibrated_point(self):
        near, far = (uncertainty_components(r, self.STATED, ATM)["linearity"] for r in (21.0, 98.0))
        assert near < far

    def test_the_airs_temperature_counts_at_the_hottest_that_can_be_typed(self):
        def width(celsius: float) -> float:
            hot = Calibration(AIR, 20.9, ATM, AirState(celsius, 0.5))
            return uncertainty_components(32.0, hot, ATM)["calibration-temperature"]

        # Water's vapour pressure rises, ever steeper: 58 degC is nearer to 60 than 60 to 62.
        assert 0.0 < width(60.0) < width(58.0)

    def test_a_second_point_at_oxygen_helps_near_oxygen(self):
        assert self.u(98.0, Calibration(OXYGEN, 100.0, ATM)) < self.u(98.0, self.STATED)

    def test_against_random_draws(self):
        """JCGM 101: draw the same causes through the model itself, with `correct`'s formula."""
        rng, n = np.random.default_rng(20260315), 200_000

        def flat(half_width: float) -> np.ndarray:
            return rng.uniform(-half_width, half_width, n)

        shown = 32.4
        saturated = np.interp(20.0 + flat(2.0), [15.0, 20.0, 25.0], [12.788, 17.535, 23.756])
        water = (0.5 + flat(0.10)) * saturated / 760.0
        true_then = AIR.o2 * (1.0 - water)
        reading = shown + flat(0.05) + flat(0.5 * 20.9 / 20.704) + flat(0.01 * (shown - 20.9))
        o2 = reading / (20.9 + flat(0.05)) * true_then * (1 + flat(0.0025)) * (1 + flat(0.005))
        drawn = 2.0 * float(np.std(o2 / 100.0)) * 100.0
        assert self.u(shown, self.STATED) == pytest.approx(drawn, rel=0.02)
