"""Water vapour in air: how much oxygen damp air has, and what a meter in it reads."""

from __future__ import annotations

import math
from dataclasses import dataclass

from blender.errors import InputError
from blender.gas import AIR_O2
from blender.units import (
    PA_PER_MMHG,
    STANDARD_AMBIENT_PA,
    ZERO_C_K,
    parse_percent,
    parse_temperature,
)

# Saturation pressure over liquid water [mmHg].  20, 25, 30 and 37 degC as a gas-analyser
# handbook prints them (20.945 % O2 in dry air beside them); the others are the classic
# table of physics handbooks, after Osborne and Meyers 1934, from memory; -20 degC from the
# meteorological tables, from memory.  Below 0 degC the water is supercooled, because
# relative humidity is counted against liquid water there too.
_SATURATION_MMHG = {
    -20.0: 0.941,
    -15.0: 1.436,
    -10.0: 2.149,
    -5.0: 3.163,
    0.0: 4.579,
    5.0: 6.543,
    10.0: 9.209,
    15.0: 12.788,
    20.0: 17.535,
    25.0: 23.756,
    30.0: 31.824,
    35.0: 42.175,
    37.0: 47.067,
    40.0: 55.324,
    45.0: 71.88,
    50.0: 92.51,
    55.0: 118.04,
    60.0: 149.38,
}
_POINTS = sorted(_SATURATION_MMHG)


def saturation_pressure_pa(temperature_c: float) -> float:
    """Saturation pressure of water vapour.

    Between the printed points ln p is straight in 1/T (Clausius and Clapeyron); with
    points 5 K apart this errs by less than 0.03 %.

    Parameters
    ----------
    temperature_c : float
        Temperature [degC], -20 to 60.

    Returns
    -------
    float
        Pressure [Pa], over liquid water.

    Raises
    ------
    InputError
        If the temperature is outside the table.

    Notes
    -----
    Sources of the points: see the table in this module.

    Examples
    --------
    >>> round(saturation_pressure_pa(25.0) / PA_PER_MMHG, 3)
    23.756
    """
    if not _POINTS[0] <= temperature_c <= _POINTS[-1]:
        raise InputError("air temperature", f"{temperature_c:g} degC", "allowed is -20 to 60 degC")
    above = next(t for t in _POINTS[1:] if t >= temperature_c)
    below = _POINTS[_POINTS.index(above) - 1]
    share = _inverse(below, temperature_c) / _inverse(below, above)
    low, high = math.log(_SATURATION_MMHG[below]), math.log(_SATURATION_MMHG[above])
    return math.exp(low + share * (high - low)) * PA_PER_MMHG


def _inverse(from_c: float, to_c: float) -> float:
    """Distance of two temperatures in 1/T."""
    return 1.0 / (from_c + ZERO_C_K) - 1.0 / (to_c + ZERO_C_K)


def water_fraction(temperature_c: float, humidity: float, ambient_pa: float) -> float:
    """Mole fraction of water vapour in damp air, RH Pws / P.

    Parameters
    ----------
    temperature_c : float
        Temperature of the air [degC], -20 to 60.
    humidity : float
        Relative humidity as a fraction [1], 0 to 1.
    ambient_pa : float
        Absolute pressure of the air [Pa].

    Returns
    -------
    float
        Mole fraction of water [1].

    Raises
    ------
    InputError
        If temperature, humidity or pressure is out of range.

    Notes
    -----
    Ideal gas; vapour in real air saturates about 0.4 % higher, less than 0.01 % O2.

    Examples
    --------
    >>> round(water_fraction(20.0, 0.5, 101325.0), 5)
    0.01154
    """
    if not 0.0 <= humidity <= 1.0:
        raise InputError("humidity", f"{humidity:g}", "relative humidity is 0 to 100 %")
    if not 2e4 <= ambient_pa <= 2e5:
        raise InputError("ambient", f"{ambient_pa:g} Pa", "allowed is 20000 to 200000 Pa")
    return humidity * saturation_pressure_pa(temperature_c) / ambient_pa


@dataclass(frozen=True, slots=True)
class AirState:
    """Temperature and humidity of the air at a place.

    Parameters
    ----------
    temperature_c : float
        Temperature [degC].
    humidity : float
        Relative humidity as a fraction [1].

    Examples
    --------
    >>> round(AirState(20.0, 0.5).water(), 5)
    0.01154
    """

    temperature_c: float
    humidity: float

    def water(self, ambient_pa: float = STANDARD_AMBIENT_PA) -> float:
        """Mole fraction of water [1] at an ambient pressure [Pa]."""
        return water_fraction(self.temperature_c, self.humidity, ambient_pa)


def damp_o2(dry_o2: float, water: float) -> float:
    """Oxygen in a damp gas, x (1 - w): what a true meter reads in the damp stream.

    Parameters
    ----------
    dry_o2 : float
        Mole fraction of oxygen in the dry gas [1].
    water : float
        Mole fraction of water in the damp gas [1].

    Returns
    -------
    float
        Mole fraction of oxygen in the damp gas [1].

    Examples
    --------
    >>> round(damp_o2(0.20945, water_fraction(30.0, 1.0, 101325.0)), 5)
    0.20068
    """
    return dry_o2 * (1.0 - water)


def damp_air(temperature_c: float, humidity: float, ambient_pa: float) -> float:
    """Oxygen in damp air.

    Parameters
    ----------
    temperature_c : float
        Temperature of the air [degC], -20 to 60.
    humidity : float
        Relative humidity as a fraction [1], 0 to 1.
    ambient_pa : float
        Absolute pressure of the air [Pa].

    Returns
    -------
    float
        Mole fraction of oxygen [1], of dry air's 0.20946.

    Raises
    ------
    InputError
        If temperature, humidity or pressure is out of range.

    Examples
    --------
    >>> round(damp_air(20.0, 0.5, 101325.0), 4)
    0.207
    """
    return damp_o2(AIR_O2, water_fraction(temperature_c, humidity, ambient_pa))


def parse_air_state(text: str, field: str = "air") -> AirState:
    """Read temperature and relative humidity of air as typed: ``25C/60%``.

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        The field's name, for the error message.

    Returns
    -------
    AirState
        What was understood.

    Raises
    ------
    InputError
        If it cannot be read, or is outside -20 to 60 degC or 0 to 100 %.

    Examples
    --------
    >>> parse_air_state("77F/60%")
    AirState(temperature_c=25.0, humidity=0.6)
    """
    temperature, slash, humidity = text.partition("/")
    if not slash or not humidity.strip():
        raise InputError(
            field, repr(text), "give temperature and relative humidity, such as 25C/60%"
        )
    celsius = parse_temperature(temperature, field)
    return AirState(celsius, round(parse_percent(humidity, field) / 100.0, 12))
