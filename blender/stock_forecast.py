"""When a gas runs out, from what was drawn on each of the last days: a middle and a range.

Days differ, and few days say little of how much is used; the range has both.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from blender.errors import InputError

COVER = 0.9  # how often a range is meant to hold what comes; own choice
FEWEST_DAYS = 7


@dataclass(frozen=True, slots=True)
class RunsOut:
    """When a gas runs out.

    Parameters
    ----------
    a_day : float
        What is drawn on an average day, in the unit of the content.
    days : float
        Until it runs out at that pace [days].
    low_days, high_days : float
        Range that holds it nine times in ten [days]; the upper end may be infinite.
    """

    a_day: float
    days: float
    low_days: float
    high_days: float


def runs_out(content: float, drawn: Sequence[float]) -> RunsOut | None:
    """Return when a content runs out, from what was drawn on each of some days.

    Parameters
    ----------
    content : float
        What is left, 0 or more, in any unit [-].
    drawn : sequence of float
        What was drawn on each day, days without any included, in that unit [-].

    Returns
    -------
    RunsOut or None
        None if nothing was drawn.

    Raises
    ------
    InputError
        For fewer than seven days, or a content below 0.

    Notes
    -----
    Draws add up like a random walk with a drift: the time until they reach C has mean C / m and
    variance C s^2 / m^3, with m and s^2 the mean and variance of a day (first passage of
    Brownian motion with drift, the inverse Gaussian law; any textbook of renewal theory).  To
    this comes how well n days know m, C^2 s^2 / (n m^4).

    Examples
    --------
    >>> found = runs_out(700.0, [0.0, 100.0] * 14)
    >>> found.a_day, found.days, round(found.low_days, 1), round(found.high_days, 1)
    (50.0, 14.0, 6.3, 21.7)
    """
    if len(drawn) < FEWEST_DAYS:
        raise InputError("days", f"{len(drawn)}", f"at least {FEWEST_DAYS}, to tell days apart")
    if content < 0.0:
        raise InputError("content", f"{content:g}", "0 or more")
    mean = statistics.fmean(drawn)
    if mean <= 0.0:
        return None
    variance, days = statistics.variance(drawn), content / mean
    spread = math.sqrt(content * variance / mean**3 + days**2 * variance / mean**2 / len(drawn))
    half = NormalDist().inv_cdf(0.5 + COVER / 2.0) * spread
    return RunsOut(mean, days, max(days - half, 0.0), days + half)
