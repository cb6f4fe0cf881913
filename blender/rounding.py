"""Rounding to the side that keeps a diver safe, without losing a limit that is exact.

A maximum is rounded down (shallower), a floor or an equivalent depth up (deeper).  Binary
floats spoil the naive way: 1.4/0.28 is a hair under 5, so the floor of the MOD would be
39 m instead of 40.  A value within a billionth of a whole step is therefore taken to be
on it: the few roundings of a formula err by about 1e-15, a billionth of a metre is no depth.
"""

from __future__ import annotations

import math

from blender.errors import InputError

RELATIVE_TOLERANCE = 1e-9


def round_down(value: float, step: float = 1.0) -> float:
    """Round down to a multiple of `step`, leaving a value that is on one where it is.

    Parameters
    ----------
    value : float
        The value, in any unit [any].
    step : float
        The size of a step, in the same unit, above 0 [any].

    Returns
    -------
    float
        The multiple of `step` at or below `value`.

    Raises
    ------
    InputError
        If `value` is not finite.

    Examples
    --------
    >>> round_down((1.4 / 0.28 - 1) * 10), round_down(33.75), round_down(5.19, 0.1)
    (40.0, 33.0, 5.1)
    """
    return _to_step(math.floor(_steps(value, step) + _slack(value, step)), step)


def round_up(value: float, step: float = 1.0) -> float:
    """Round up to a multiple of `step`, leaving a value that is on one where it is.

    Parameters
    ----------
    value : float
        The value, in any unit [any].
    step : float
        The size of a step, in the same unit, above 0 [any].

    Returns
    -------
    float
        The multiple of `step` at or above `value`.

    Raises
    ------
    InputError
        If `value` is not finite.

    Examples
    --------
    >>> round_up((0.18 / 0.10 - 1) * 10), round_up(26.958), round_up(1.281, 0.01)
    (8.0, 27.0, 1.29)
    """
    return _to_step(math.ceil(_steps(value, step) - _slack(value, step)), step)


def half_up(value: float, step: float = 1.0) -> float:
    """Round to the nearest multiple of `step`, a half up: what screens and papers show alike.

    Parameters
    ----------
    value : float
        The value, in any unit [any].
    step : float
        The size of a step, in the same unit, above 0 [any].

    Returns
    -------
    float
        The nearest multiple of `step`; of two as near, the higher.

    Raises
    ------
    InputError
        If `value` is not finite.

    Examples
    --------
    >>> half_up(82.5), half_up(83.5), half_up(0.25, 0.1), half_up(-0.4)
    (83.0, 84.0, 0.3, 0.0)
    """
    return _to_step(math.floor(_steps(value, step) + 0.5 + _slack(value, step)), step)


def shallower(depth: float) -> int:
    """Round a maximum depth to the whole unit at or above it in the water.

    Parameters
    ----------
    depth : float
        The depth [m] or [ft].

    Returns
    -------
    int
        The whole depth, never deeper than `depth`, in the same unit.

    Raises
    ------
    InputError
        If `depth` is not finite.

    Examples
    --------
    >>> shallower(33.75), shallower((1.6 / 0.32 - 1) * 33)
    (33, 132)
    """
    return int(round_down(depth))


def deeper(depth: float) -> int:
    """Round a floor or an equivalent depth to the whole unit at or below it in the water.

    Parameters
    ----------
    depth : float
        The depth [m] or [ft].

    Returns
    -------
    int
        The whole depth, never shallower than `depth`, in the same unit.

    Raises
    ------
    InputError
        If `depth` is not finite.

    Examples
    --------
    >>> deeper(26.958), deeper((0.68 / 0.79) * (33 + 10) - 10)
    (27, 28)
    """
    return int(round_up(depth))


def _steps(value: float, step: float) -> float:
    if not math.isfinite(value):
        raise InputError("value to round", value, "give a finite number")
    return value / step


def _slack(value: float, step: float) -> float:
    """How many steps a value may lie beside a whole one and still count as on it."""
    return RELATIVE_TOLERANCE * max(1.0, abs(value / step))


def _to_step(count: int, step: float) -> float:
    # 12 digits take off the tail of products such as 128 x 0.01 = 1.28 + 2e-16.
    return round(count * step, 12)
