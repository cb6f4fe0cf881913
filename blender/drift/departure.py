"""One analysed fill: how far it came out from its plan, and what could have moved it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

# Median distance of two normal values in standard deviations: sqrt(2) * 0.67449.
_MEDIAN_RANGE = 0.95387
_FEW = 20


@dataclass(frozen=True, slots=True)
class Departure:
    """One analysed fill against its plan.

    Parameters
    ----------
    place : int
        Its place in the record; places rise.
    points : float
        Analysed less predicted oxygen [percentage points].
    sigma : float
        Standard uncertainty of that difference as budgeted [percentage points].
    effects : mapping of str to float
        For each cause that had a hand in it, how far one unit of the cause moves `points`,
        not 0 (an oxygen gauge: points a bar; an analyser: 1).

    Examples
    --------
    >>> one = Departure(7, 0.6, 0.3, {"analyser A1": 1.0, "gauge G1": 0.4})
    >>> one.standardised
    2.0
    """

    place: int
    points: float
    sigma: float
    effects: Mapping[str, float]

    @property
    def standardised(self) -> float:
        """The departure in standard uncertainties."""
        return self.points / self.sigma


def scatter(standardised: Sequence[float]) -> float:
    """Return how much a row of departures scatters, as a multiple of what was budgeted.

    Parameters
    ----------
    standardised : sequence of float
        Departures in standard uncertainties, in their order [1].

    Returns
    -------
    float
        The multiple; 1 for fewer than 20 departures [1].

    Notes
    -----
    From the median distance of neighbours, which a shift or a single outlier hardly moves.  A
    budget is made of what may be off for good (the class of a gauge) and of what differs from
    fill to fill; only the latter scatters.  A factor 1 + 1/sqrt(n) keeps an estimate from few
    fills on the careful side.

    Examples
    --------
    >>> scatter([0.1, -0.1] * 5)
    1.0
    """
    count = len(standardised)
    if count < _FEW:
        return 1.0
    middle = float(np.median(np.abs(np.diff(np.asarray(standardised)))))
    return max(middle / _MEDIAN_RANGE, 0.05) * (1.0 + 1.0 / math.sqrt(count))
