"""The checks at the door of the batch path: the limits of the model, for arrays.

The checks take one block of states and the number of its first, for the message.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from blender.errors import ModelRangeError
from blender.realgas import limits
from blender.realgas.kernel import Array


def as_floats(values: ArrayLike) -> Array:
    """Return numbers as an array of floats."""
    return np.asarray(values, dtype=np.float64)


def as_mixtures(fractions: ArrayLike) -> Array:
    """Return fractions as floats of shape (..., 4), or raise ModelRangeError."""
    values = as_floats(fractions)
    if values.ndim == 0 or values.shape[-1] != 4:
        shape = f"an array of shape {values.shape}"
        raise ModelRangeError("mole fractions", shape, limits.FRACTIONS_ALLOWED)
    return values


def check_mixtures(columns: Array, first: int = 0) -> None:
    """Raise ModelRangeError unless the fractions, shape (4, n), are of mixtures.

    What rounding left below zero is set to zero.
    """
    is_right = np.abs(columns.sum(axis=0) - 1.0) <= limits.FRACTION_SUM_TOLERANCE
    is_right &= columns.min(axis=0) >= -limits.FRACTION_DUST
    if not is_right.all():
        where = int(np.argmin(is_right))
        given = f"{columns[:, where].tolist()} (state {first + where})"
        raise ModelRangeError("mole fractions", given, limits.FRACTIONS_ALLOWED)
    np.maximum(columns, 0.0, out=columns)


def check_temperatures(temperature_k: Array, first: int = 0) -> None:
    """Raise ModelRangeError unless all temperatures [K] are in range."""
    low, high = limits.MIN_TEMPERATURE_K, limits.MAX_TEMPERATURE_K
    if where := _outside(temperature_k, low, high, first):
        raise ModelRangeError(
            "temperature", f"{where[0]} K ({where[1]})", limits.TEMPERATURE_ALLOWED
        )


def check_pressures(pressure_pa: Array, first: int = 0) -> None:
    """Raise ModelRangeError unless all pressures [Pa] are in range."""
    if where := _outside(pressure_pa, 0.0, limits.MAX_PRESSURE_PA, first):
        raise ModelRangeError("pressure", f"{where[0]} Pa ({where[1]})", limits.PRESSURE_ALLOWED)


def check_densities(density_mol_m3: Array, first: int = 0) -> None:
    """Raise ModelRangeError unless all densities [mol/m3] are in range."""
    if where := _outside(density_mol_m3, 0.0, limits.MAX_DENSITY_MOL_M3, first):
        raise ModelRangeError("density", f"{where[0]} mol/m3 ({where[1]})", limits.DENSITY_ALLOWED)


def check_reached(pressure_pa: Array, density_mol_m3: Array) -> None:
    """Raise ModelRangeError if a density makes more than the greatest pressure."""
    too_dense = ~(pressure_pa <= limits.MAX_PRESSURE_PA * limits.LIMIT_SLACK)
    if too_dense.any():
        given = f"{density_mol_m3[int(np.argmax(too_dense))]} mol/m3"
        raise ModelRangeError("density", given, limits.DENSITY_ALLOWED)


def _outside(values: Array, low: float, high: float, first: int) -> tuple[float, str] | None:
    """Return the first value outside its limits and which state it is, if there is one."""
    if values.size == 0 or (values.min() >= low and values.max() <= high):  # no, if one is NaN
        return None
    where = int(np.argmin((values >= low) & (values <= high)))
    return float(values[where]), f"state {first + where}"
