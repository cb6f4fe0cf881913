"""The chart of individual values: each point against limits from how neighbours differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blender.errors import InputError

# Mean range of two normal values in standard deviations, 2 / sqrt(pi).
D2 = 1.128
SIGMAS = 3.0


@dataclass(frozen=True, slots=True)
class Individuals:
    """Centre and limits of a row of single values, in the unit of the values.

    Parameters
    ----------
    centre : float
        Mean of the values.
    sigma : float
        Their scatter, from the mean moving range of neighbours.
    lower, upper : float
        Control limits, `SIGMAS` to each side.
    beyond : tuple of int
        Places of the values outside the limits.
    """

    centre: float
    sigma: float
    lower: float
    upper: float
    beyond: tuple[int, ...]


def individuals(values: Sequence[float]) -> Individuals:
    """Return the chart of individual values of a row.

    Parameters
    ----------
    values : sequence of float
        At least two values in the order they were made, any one unit [-].

    Returns
    -------
    Individuals
        Centre, limits and what lies outside.

    Raises
    ------
    InputError
        For fewer than two values.

    Notes
    -----
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: centre +- 3 mean moving
    ranges / 1.128.

    Examples
    --------
    >>> chart = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.lower, 3), round(chart.centre, 2), round(chart.upper, 3)
    (45.816, 50.81, 55.804)
    """
    if len(values) < 2:
        raise InputError("chart", f"{len(values)} value(s)", "at least two, to make a range")
    row = np.asarray(values, dtype=float)
    centre, sigma = float(row.mean()), float(np.abs(np.diff(row)).mean()) / D2
    lower, upper = centre - SIGMAS * sigma, centre + SIGMAS * sigma
    beyond = np.flatnonzero((row < lower) | (row > upper))
    return Individuals(centre, sigma, lower, upper, tuple(int(place) for place in beyond))
