"""Floats as people and physics use them, to and from the integers the journal keeps."""

from __future__ import annotations

from blender.units import ZERO_C_K


def mbar(bar: float) -> int:
    """Return a gauge pressure [bar] in whole [mbar]."""
    return round(bar * 1000.0)


def bar(value_mbar: int) -> float:
    """Return a gauge pressure of whole [mbar] in [bar]."""
    return value_mbar / 1000.0


def millikelvin(celsius: float) -> int:
    """Return a temperature [degC] in whole [mK]."""
    return round((celsius + ZERO_C_K) * 1000.0)


def celsius(value_mk: int) -> float:
    """Return a temperature of whole [mK] in [degC]."""
    return round(value_mk / 1000.0 - ZERO_C_K, 6)


def ppm(fraction: float) -> int:
    """Return a mole fraction [1] in whole [ppm]."""
    return round(fraction * 1e6)


def fraction(value_ppm: int) -> float:
    """Return a mole fraction of whole [ppm] as [1]."""
    return value_ppm / 1e6


def micromol(mol: float) -> int:
    """Return an amount [mol] in whole [umol]."""
    return round(mol * 1e6)


def mol(value_umol: int) -> float:
    """Return an amount of whole [umol] in [mol]."""
    return value_umol / 1e6
