"""Where the model is trusted, and the checks at its door.

GERG-2008 itself is stated for 90-450 K up to 350 bar (normal range) and 60-700 K up to
700 bar (extended range).  We use 230-500 K up to 500 bar, where every mixture of the four gases
is supercritical: one density answers to each pressure.
"""

from __future__ import annotations

from collections.abc import Sequence

from blender.errors import ModelRangeError

MIN_TEMPERATURE_K, MAX_TEMPERATURE_K = 230.0, 500.0
MAX_PRESSURE_PA = 500e5
# Denser than any mixture in range (oxygen, 230 K, 500 bar: 23.1 kmol/m3); up to here pressure
# rises with density for every mixture, so a density beyond the pressure limit is caught.
MAX_DENSITY_MOL_M3 = 25_000.0
# A density solved for at the pressure limit must be accepted back.
LIMIT_SLACK = 1.0 + 1e-9
FRACTION_SUM_TOLERANCE = 1e-9
# What a subtraction of fractions may leave below zero; taken for zero.
FRACTION_DUST = 1e-12

TEMPERATURE_ALLOWED = f"allowed is {MIN_TEMPERATURE_K:g} to {MAX_TEMPERATURE_K:g} K"
PRESSURE_ALLOWED = f"allowed is 0 to {MAX_PRESSURE_PA / 1e5:g} bar absolute"
DENSITY_ALLOWED = f"allowed is 0 to {MAX_DENSITY_MOL_M3:g} mol/m3, and at most the pressure limit"
FRACTIONS_ALLOWED = "give four mole fractions O2, He, N2, Ar, none negative, that sum to 1"


def checked_fractions(fractions: Sequence[float]) -> tuple[float, float, float, float]:
    """Return the mole fractions as floats, or raise.

    Parameters
    ----------
    fractions : sequence of float, shape (4,)
        Mole fractions of O2, He, N2, Ar [1].

    Raises
    ------
    ModelRangeError
        If there are not four, one is negative or not a number, or they do not sum to 1.

    Examples
    --------
    >>> checked_fractions([0.2, 0.8, 0, 0])
    (0.2, 0.8, 0.0, 0.0)
    """
    if len(fractions) == 4:
        o2, he, n2, ar = map(float, fractions)
        is_sum_one = abs(o2 + he + n2 + ar - 1.0) <= FRACTION_SUM_TOLERANCE  # false for NaN
        if is_sum_one and min(o2, he, n2, ar) >= -FRACTION_DUST:
            return max(o2, 0.0), max(he, 0.0), max(n2, 0.0), max(ar, 0.0)
    given = ", ".join(f"{x}" for x in fractions)
    raise ModelRangeError("mole fractions", given, FRACTIONS_ALLOWED)


def check_temperature(temperature_k: float) -> None:
    """Raise unless the temperature is in range.

    Parameters
    ----------
    temperature_k : float
        Temperature [K], 230 to 500.

    Raises
    ------
    ModelRangeError
        If it is outside the range or not a number.

    Examples
    --------
    >>> check_temperature(293.15)
    """
    if not MIN_TEMPERATURE_K <= temperature_k <= MAX_TEMPERATURE_K:
        raise ModelRangeError("temperature", f"{temperature_k} K", TEMPERATURE_ALLOWED)


def check_pressure(pressure_pa: float) -> None:
    """Raise unless the pressure is in range.

    Parameters
    ----------
    pressure_pa : float
        Absolute pressure [Pa], 0 to 5e7.

    Raises
    ------
    ModelRangeError
        If it is outside the range or not a number.

    Examples
    --------
    >>> check_pressure(232e5)
    """
    if not 0.0 <= pressure_pa <= MAX_PRESSURE_PA:
        raise ModelRangeError("pressure", f"{pressure_pa} Pa", PRESSURE_ALLOWED)


def check_density(density_mol_m3: float) -> None:
    """Raise unless the density is one the model can be asked about.

    Parameters
    ----------
    density_mol_m3 : float
        Molar density [mol/m3], 0 to 25 000.

    Raises
    ------
    ModelRangeError
        If it is outside the range or not a number.

    Examples
    --------
    >>> check_density(8000.0)
    """
    if not 0.0 <= density_mol_m3 <= MAX_DENSITY_MOL_M3:
        raise ModelRangeError("density", f"{density_mol_m3} mol/m3", DENSITY_ALLOWED)
