"""From an analyser's reading to a fraction with its uncertainty.

A galvanic cell answers to the partial pressure of oxygen, so a reading is worth what the
calibration was worth: its gas, how damp that was, and the ambient pressure then and now.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from blender.errors import InputError
from blender.gas import AIR, AIR_O2, Mix
from blender.humidity import AirState, damp_o2, water_fraction
from blender.propagation import COVERAGE_FACTOR
from blender.units import STANDARD_AMBIENT_PA, TYPED_MAX_C, TYPED_MIN_C

AMBIENT_TOLERANCE = 0.005  # how far ambient may move before a calibration is void
EXCESS_PERCENT = 0.5  # how far above 100 % a good meter may drift

# Half-widths of rectangular distributions (JCGM 100, 4.3.7).
DISPLAY_POINTS = 0.05  # a display of 0.1 %
STATED_CLASS_POINTS = 0.5  # US Navy Diving Manual rev. 4, p. 14-2: instrument to +-0.5 % O2
UNSTATED_CLASS_POINTS = 1.0  # 29 CFR 1910 subpart T app. C, accurate to 1 % O2; from memory
LINEARITY = 0.01  # of the distance from the calibrated point; common practice, no source
FLOW_TEMPERATURE = 0.005  # of the reading; common practice, no source
BAROMETER = 0.0025  # of the reading, half of AMBIENT_TOLERANCE; common practice, no source
GAS_CERTIFICATE = 0.005  # of a calibration gas's oxygen; common practice, no source
AIR_STATE_K, AIR_STATE_HUMIDITY = 2.0, 0.10  # of a stated temperature and humidity; as above
UNSTATED_AIR = AirState(20.0, 1.0)  # air of unknown dampness lies between dry and this


@dataclass(frozen=True, slots=True)
class Calibration:
    """What the meter was set to, on which gas, where.

    Parameters
    ----------
    gas : Mix
        The dry gas it was set on; `AIR` is the air of the room.
    shown_percent : float
        What it was made to show [%].
    ambient_pa : float
        Ambient pressure then [Pa].
    air : AirState or None
        State of the room's air; None if not stated, or if the gas came from a cylinder.
    stated : bool
        False if nothing is known of the calibration: readings are then taken as they are.

    Examples
    --------
    >>> round(Calibration(AIR, 20.9, 101325.0, AirState(20.0, 0.5)).o2, 4)
    0.207
    """

    gas: Mix
    shown_percent: float
    ambient_pa: float
    air: AirState | None = None
    stated: bool = True

    @property
    def o2(self) -> float:
        """True mole fraction of oxygen at the cell while it was set [1].

        On air whose dampness nobody stated, a setting that is dry air's oxygen to the
        display's last digit is believed: 20.9 is then no error of 0.046 but a display that
        shows tenths.
        """
        if self.air is not None:
            return damp_o2(self.gas.o2, self.air.water(self.ambient_pa))
        shown = self.shown_percent / 100.0
        near = abs(self.gas.o2 - shown) * 100.0 <= DISPLAY_POINTS + 1e-9
        return shown if near and self.gas == AIR else self.gas.o2


def unstated_calibration(ambient_pa: float = STANDARD_AMBIENT_PA) -> Calibration:
    """Return the stand-in for a calibration nobody stated: it leaves a reading as it is.

    Parameters
    ----------
    ambient_pa : float
        Ambient pressure it counts at [Pa].

    Returns
    -------
    Calibration
        Set on dry air to dry air's own figure, marked as not stated.

    Examples
    --------
    >>> unstated_calibration().stated
    False
    """
    return Calibration(AIR, AIR_O2 * 100.0, ambient_pa, stated=False)


def check_ambient(calibration_pa: float, now_pa: float, field: str = "ambient") -> None:
    """Refuse a reading taken at another ambient pressure than the calibration.

    Parameters
    ----------
    calibration_pa, now_pa : float
        Ambient pressure at calibration and at reading [Pa].
    field : str
        The field's name, for the error message.

    Raises
    ------
    InputError
        If they are more than 0.5 % apart.

    Examples
    --------
    >>> check_ambient(101325.0, 101000.0)
    """
    if abs(now_pa - calibration_pa) <= AMBIENT_TOLERANCE * (1.0 + 1e-9) * calibration_pa:
        return
    given = f"{now_pa / 100:.1f} mbar"
    raise InputError(
        field,
        given,
        f"the meter was calibrated at {calibration_pa / 100:.1f} mbar, more than 0.5 % away, "
        "and a cell reads partial pressure: calibrate here first, then read again",
        code="calibrate-first",
    )


def correct(
    reading_percent: float, calibration: Calibration, ambient_pa: float, field: str = "reading"
) -> float:
    """Oxygen in a dry gas from what the meter shows.

    x = reading / shown at calibration * true oxygen then * ambient then / ambient now.

    Parameters
    ----------
    reading_percent : float
        What the meter shows on the gas, which is dry as it comes from a cylinder [%].
    calibration : Calibration
        What the meter was set to.
    ambient_pa : float
        Ambient pressure now [Pa].
    field : str
        The field's name, for the error message.

    Returns
    -------
    float
        Mole fraction of oxygen [1]; a drift of up to half a point above 1 counts as 1.

    Raises
    ------
    InputError
        If the reading is negative, or means more than 100.5 % oxygen.

    Notes
    -----
    A galvanic cell is linear in ppO2: gas-analyser handbook.

    Examples
    --------
    >>> set_on_damp_air = Calibration(AIR, 20.9, 101325.0, AirState(20.0, 0.5))
    >>> round(correct(32.4, set_on_damp_air, 101325.0), 4)
    0.321
    """
    o2 = reading_percent / calibration.shown_percent * calibration.o2
    o2 *= calibration.ambient_pa / ambient_pa
    if not 0.0 <= o2 * 100.0 <= 100.0 + EXCESS_PERCENT + 1e-9:
        given = f"{reading_percent:g} %"
        raise InputError(field, given, "allowed is 0 to 100 % oxygen; is the meter calibrated?")
    return min(o2, 1.0)


def uncertainty_components(
    reading_percent: float, calibration: Calibration, ambient_pa: float
) -> dict[str, float]:
    """Standard uncertainties of a corrected reading, each by the name of its cause.

    Parameters
    ----------
    reading_percent : float
        What the meter shows [%].
    calibration : Calibration
        What the meter was set to.
    ambient_pa : float
        Ambient pressure now [Pa].

    Returns
    -------
    dict
        Standard uncertainties in the mole fraction of oxygen [1]; independent.

    Notes
    -----
    JCGM 100: rectangular distributions, half-width over root 3.  The half-widths and their
    sources stand at the top of this module.

    Examples
    --------
    >>> round(uncertainty_components(32.0, unstated_calibration(), 101325.0)["instrument"], 5)
    0.00577
    """
    o2 = correct(reading_percent, calibration, ambient_pa)
    shown = calibration.shown_percent
    points = STATED_CLASS_POINTS if calibration.stated else UNSTATED_CLASS_POINTS
    half_widths = {
        "display": DISPLAY_POINTS / 100.0,
        "instrument": points / 100.0,
        "linearity": LINEARITY * abs(reading_percent - shown) / 100.0,
        "calibration-display": o2 * DISPLAY_POINTS / shown,
        "calibration-gas": o2 * (0.0 if calibration.gas == AIR else GAS_CERTIFICATE),
        "flow-and-temperature": o2 * FLOW_TEMPERATURE,
        "ambient": o2 * BAROMETER,
    }
    half_widths |= {name: o2 * w for name, w in _dampness(calibration).items()}
    return {name: width / math.sqrt(3.0) for name, width in half_widths.items()}


def _dampness(calibration: Calibration) -> dict[str, float]:
    """Half-widths of the water in the calibration air [1], relative."""
    if calibration.gas != AIR:
        return {"calibration-humidity": 0.0}
    pressure = calibration.ambient_pa
    if calibration.air is None:
        # The air is somewhere between dry and saturated, and is counted as dry: the root
        # mean square of such an error is its width over root 3 (JCGM 100, F.2.4.5).
        return {"calibration-humidity": UNSTATED_AIR.water(pressure)}
    state, here = calibration.air, calibration.air.water(pressure)
    warmer = min(state.temperature_c + AIR_STATE_K, TYPED_MAX_C)
    colder = max(state.temperature_c - AIR_STATE_K, TYPED_MIN_C)
    by_temperature = max(
        abs(water_fraction(t, state.humidity, pressure) - here) for t in (warmer, colder)
    )
    by_humidity = AIR_STATE_HUMIDITY * water_fraction(state.temperature_c, 1.0, pressure)
    return {"calibration-humidity": by_humidity, "calibration-temperature": by_temperature}


def expanded(components: dict[str, float]) -> float:
    """Expanded uncertainty, k = 2, of independent components.

    Parameters
    ----------
    components : dict
        Standard uncertainties [1] by name.

    Returns
    -------
    float
        Twice the root of the sum of squares [1].

    Notes
    -----
    JCGM 100, 5.1.2 and 6.2.1.

    Examples
    --------
    >>> expanded({"a": 0.003, "b": 0.004})
    0.01
    """
    return COVERAGE_FACTOR * math.hypot(*components.values())
