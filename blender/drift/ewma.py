"""The exponentially weighted mean: slow shifts that no single value shows.

Each new mean is `weight` of the new value and the rest of the old mean.  Its limits are wide
enough that a row without any shift crosses them once in a chosen mean number of values.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

WEIGHT = 0.2
_STATES = 101  # of the chain of means between the limits; more change nothing in four figures


@dataclass(frozen=True, slots=True)
class Ewma:
    """A chart of exponentially weighted means, in the unit of its values.

    Parameters
    ----------
    means : tuple of float
        The mean after each value.
    lower, upper : tuple of float
        The limits at each value.
    beyond : tuple of int
        Places where the mean is outside.
    """

    means: tuple[float, ...]
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    beyond: tuple[int, ...]


def ewma(
    values: Sequence[float],
    target: float,
    sigma: float,
    weight: float = WEIGHT,
    limit: float = 3.0,
    settled: bool = False,
) -> Ewma:
    """Return the chart of exponentially weighted means of a row.

    Parameters
    ----------
    values : sequence of float
        Values in their order, any one unit [-].
    target : float
        What they are meant to be, in that unit [-].
    sigma : float
        Scatter of one value, in that unit [-].
    weight : float
        Share of the newest value, above 0 up to 1 [1].
    limit : float
        Width of the limits in standard deviations of the mean [1].
    settled : bool
        Whether the limits are those of a long row from the start on, as handbooks draw them;
        else they are narrower at first, as the mean is surer of its target.

    Returns
    -------
    Ewma
        Means, limits and what lies outside.

    Notes
    -----
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.

    Examples
    --------
    >>> chart = ewma([52.0, 47.0, 53.0], 50.0, 2.0539, weight=0.3, settled=True)
    >>> [round(mean, 2) for mean in chart.means], round(chart.upper[0], 3)
    ([50.6, 49.52, 50.56], 52.588)
    """
    means, lower, upper, mean = [], [], [], target
    for count, value in enumerate(values, start=1):
        mean += weight * (value - mean)
        share = 1.0 if settled else 1.0 - (1.0 - weight) ** (2 * count)
        half = limit * sigma * math.sqrt(weight / (2.0 - weight) * share)
        means.append(mean)
        lower.append(target - half)
        upper.append(target + half)
    beyond = [
        place
        for place, (low, mean, high) in enumerate(zip(lower, means, upper, strict=True))
        if not low <= mean <= high
    ]
    return Ewma(tuple(means), tuple(lower), tuple(upper), tuple(beyond))


def mean_run(limit: float, shift: float = 0.0, weight: float = WEIGHT) -> float:
    """Return the mean number of values until the mean crosses its settled limits.

    Parameters
    ----------
    limit : float
        Width of the limits in standard deviations of the mean [1].
    shift : float
        How far the values are off, in their standard deviations [1].
    weight : float
        Share of the newest value, above 0 up to 1 [1].

    Returns
    -------
    float
        Mean run length, from a mean on target [values].

    Notes
    -----
    Source: J. M. Lucas, M. S. Saccucci, Technometrics 32 (1990) 1: the mean between the
    limits as a Markov chain of cells, after Brook and Evans.

    Examples
    --------
    >>> round(mean_run(2.962)), round(mean_run(2.962, 1.0), 1)
    (499, 10.5)
    """
    half = limit * math.sqrt(weight / (2.0 - weight))
    edges = np.linspace(-half, half, _STATES + 1)
    middles = (edges[1:] + edges[:-1]) / 2.0
    needed = (edges[None, :] - (1.0 - weight) * middles[:, None]) / weight - shift
    below = 0.5 * (1.0 + np.vectorize(math.erf)(needed / math.sqrt(2.0)))
    moves = np.diff(below, axis=1)
    runs = np.linalg.solve(np.eye(_STATES) - moves, np.ones(_STATES))
    return float(runs[_STATES // 2])


def limit_for(run: float, weight: float = WEIGHT) -> float:
    """Return the limits that a row without shift crosses once in a mean number of values.

    Parameters
    ----------
    run : float
        Mean run length without shift, 10 to 10 000 000 [values].
    weight : float
        Share of the newest value, above 0 up to 1 [1].

    Returns
    -------
    float
        Width of the limits in standard deviations of the mean [1].

    Examples
    --------
    >>> round(limit_for(500.0), 2)
    2.96
    """
    low, high = 0.5, 7.0
    while high - low > 1e-4:
        middle = (low + high) / 2.0
        low, high = (middle, high) if mean_run(middle, weight=weight) < run else (low, middle)
    return (low + high) / 2.0
