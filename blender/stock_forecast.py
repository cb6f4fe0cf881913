"""When a gas runs out, from what was drawn on each of the last days: a middle and a range.

Days differ, and few days say little of how much is used; the range has both.  Where the days of
the week differ from each other by more than chance, each is reckoned with its own use.
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
WEEK = 7
_FEWEST_WEEKS = 3  # before it is asked whether days of the week differ; own choice
_FURTHEST_DAYS = 3650  # beyond that a weekday makes no difference


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
    by_weekday : bool
        Whether each day of the week was reckoned with its own use.
    """

    a_day: float
    days: float
    low_days: float
    high_days: float
    by_weekday: bool = False


def runs_out(content: float, drawn: Sequence[float]) -> RunsOut | None:
    """Return when a content runs out, from what was drawn on each of some days.

    Parameters
    ----------
    content : float
        What is left, 0 or more, in any unit [-].
    drawn : sequence of float
        What was drawn on each day, days without any included, in that unit [-]; one after
        another, the last of them just over.

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
    if content > 0.0 and content / mean <= _FURTHEST_DAYS and _differs_by_weekday(drawn):
        return _by_weekday(content, drawn)
    variance, days = statistics.variance(drawn), content / mean
    spread = math.sqrt(content * variance / mean**3 + days**2 * variance / mean**2 / len(drawn))
    half = NormalDist().inv_cdf(0.5 + COVER / 2.0) * spread
    return RunsOut(mean, days, max(days - half, 0.0), days + half)


def _weekdays(drawn: Sequence[float]) -> list[Sequence[float]]:
    """Return what was drawn on each day of the week, the day that comes next first."""
    return [drawn[(len(drawn) + at) % WEEK :: WEEK] for at in range(WEEK)]


def _residuals(drawn: Sequence[float]) -> float:
    """Sum of squares about the mean of each day of the week."""
    means = [(each, statistics.fmean(each)) for each in _weekdays(drawn)]
    return sum((one - mean) ** 2 for each, mean in means for one in each)


def _differs_by_weekday(drawn: Sequence[float]) -> bool:
    """Tell whether the days of the week differ by more than chance."""
    count = len(drawn)
    if count < _FEWEST_WEEKS * WEEK:
        return False
    mean = statistics.fmean(drawn)
    together, apart = sum((one - mean) ** 2 for one in drawn), _residuals(drawn)
    if together <= 1e-12 * count * mean**2:
        return False  # every day is alike
    better = count * math.log(together / max(apart, 1e-12 * together))
    return better > (WEEK - 1) * math.log(count)


def _by_weekday(content: float, drawn: Sequence[float]) -> RunsOut:
    """Return when a content runs out, day by day with each weekday's own use."""
    each = _weekdays(drawn)
    means = [statistics.fmean(one) for one in each]
    freedom = sum((len(one) - 1) * mean for one, mean in zip(each, means, strict=True))
    scatter = _residuals(drawn) / freedom if freedom > 0.0 else 0.0  # variance over mean
    half = NormalDist().inv_cdf(0.5 + COVER / 2.0)
    found: dict[float, float] = {}
    seen, total = [0] * WEEK, 0.0
    before = -math.inf
    for day in range(_FURTHEST_DAYS * 2):
        at = day % WEEK
        seen[at] += 1
        total += means[at]
        known = zip(seen, means, each, strict=True)
        variance = scatter * sum(n * mean * (1.0 + n / len(one)) for n, mean, one in known)
        over = (total - content) / math.sqrt(variance) if variance > 0.0 else _sign(total - content)
        for level in (-half, 0.0, half):
            if level not in found and over >= level:
                found[level] = day + _share(before, over, level)
        if half in found:
            break
        before = over
    middle = found.get(0.0, math.inf)
    low, high = found.get(-half, middle), found.get(half, math.inf)
    return RunsOut(statistics.fmean(drawn), middle, low, high, by_weekday=True)


def _sign(value: float) -> float:
    return math.inf if value >= 0.0 else -math.inf


def _share(before: float, after: float, level: float) -> float:
    """Return how far between two days a level is passed [1]; the whole day where that is unsure."""
    if not math.isfinite(before) or not math.isfinite(after) or after <= before:
        return 1.0
    return (level - before) / (after - before)
