"""Solve one or two smooth equations: Broyden's method, from a Jacobian by differences."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from blender.errors import ModelRangeError
from blender.realgas.limits import MAX_TEMPERATURE_K, MIN_TEMPERATURE_K

Array = NDArray[np.float64]
_MOST_STEPS = 40
_NUDGE = 1e-5
# Of the unknowns, which are of order one: 3e-7 K, and as small an amount.
_SMALL = 1e-9
_LEAVES = (
    f"the gas would leave the range of the equation of state, {MIN_TEMPERATURE_K:g} to "
    f"{MAX_TEMPERATURE_K:g} K and at most 500 bar: fill slower, to a lower pressure, or say how "
    "the wall takes heat"
)


def solve(
    function: Callable[[Array], Array], guess: tuple[float, ...], low: float, high: float
) -> list[float]:
    """Return where a function of a few unknowns is zero.

    Source: C. G. Broyden, Math. Comp. 19 (1965) 577-593, his first method.

    Parameters
    ----------
    function : callable
        Takes and returns an array, shape (n,); smooth.
    guess : tuple of float
        Where to begin [1]; the unknowns are scaled to be of order one.
    low, high : float
        Allowed ends of the first unknown [1].

    Returns
    -------
    list of float
        The unknowns [1].

    Raises
    ------
    ModelRangeError
        If it is not found between the ends, or the function left its own range.

    Examples
    --------
    >>> round(solve(lambda x: x * x - 2.0, (1.0,), 0.0, 2.0)[0], 9)
    1.414213562
    """
    try:
        found = _found(function, np.array(guess), low, high)
    except (ModelRangeError, np.linalg.LinAlgError):  # out of range, or held at an end of it
        found = None
    if found is None:
        raise ModelRangeError("heat of filling", "such a fill", _LEAVES)
    return found


def _found(
    function: Callable[[Array], Array], here: Array, low: float, high: float
) -> list[float] | None:
    value = function(here)
    slopes = _slopes(function, here, value)
    for _ in range(_MOST_STEPS):
        there = here - np.linalg.solve(slopes, value)
        there[0] = min(max(there[0], low), high)
        step = there - here
        if np.abs(step).max() < _SMALL and low < there[0] < high:
            return [float(x) for x in there]
        if not step.any():
            return None
        after = function(there)
        slopes += np.outer(after - value - slopes @ step, step) / (step @ step)
        here, value = there, after
    return None


def _slopes(function: Callable[[Array], Array], at: Array, value: Array) -> Array:
    columns = [(function(at + row) - value) / _NUDGE for row in _NUDGE * np.eye(at.size)]
    return np.array(columns).T
