"""All the charts of a station together, and the alarms they raise.

Every chart has its own share of false alarms, so their limits are set by how many charts a fill
is on: the family as a whole raises one in `MEAN_RUN` fills or fewer while nothing is off.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from statistics import NormalDist

from blender.drift.departure import Departure, scatter
from blender.drift.ewma import limit_for
from blender.drift.suspects import Suspect, likely, suspects
from blender.drift.track import Track

MEAN_RUN = 300.0
SINGLE, SHIFT = "single value beyond its limit", "weighted mean beyond its limit"
_LOOKS_BACK = 200
_SCATTERS_OVER = 300


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm of the family.

    Parameters
    ----------
    rule : str
        The rule that raised it, `SINGLE` or `SHIFT`.
    place : int
        The fill at which it was raised.
    until : int
        The last fill seen while it stood.
    standing : bool
        Does it still stand?
    charts : tuple of str
        The causes whose charts were beyond; none for a single value.
    suspects : tuple of Suspect
        The likeliest cause and those it can't be told apart from, as of `until`.
    """

    rule: str
    place: int
    until: int
    standing: bool
    charts: tuple[str, ...]
    suspects: tuple[Suspect, ...]


def any_size(cause: str) -> float:
    """Return 0: whatever is beyond its limits is worth an alarm."""
    del cause
    return 0.0


@lru_cache(maxsize=64)
def limits(charts: int) -> tuple[float, float]:
    """Return the limits of a single value and of a weighted mean among many charts.

    Parameters
    ----------
    charts : int
        How many charts a fill is on, at least 1 [1].

    Returns
    -------
    tuple of float
        In standard deviations of the value and of the mean [1].

    Examples
    --------
    >>> [round(limit, 2) for limit in limits(1)]
    [2.94, 2.79]
    """
    each = MEAN_RUN * charts
    return NormalDist().inv_cdf(1.0 - 0.5 / each), limit_for(each)


@dataclass(slots=True)
class Family:
    """The charts of a station: one for single values, one for each cause.

    Parameters
    ----------
    least : callable
        How far a cause must be off to be worth an alarm, in its unit: the charts of many fills
        see far less than anybody could mend.

    Examples
    --------
    >>> family = Family()
    >>> for place in range(12):
    ...     family.add(Departure(place, 0.5, 0.25, {"analyser A1": 1.0}))
    >>> alarm = family.alarms[0]
    >>> alarm.rule, alarm.place, round(alarm.suspects[0].bias, 2)
    ('weighted mean beyond its limit', 2, 0.5)
    """

    least: Callable[[str], float] = any_size
    departures: list[Departure] = field(default_factory=list)
    tracks: dict[str, Track] = field(default_factory=dict)
    alarms: list[Alarm] = field(default_factory=list)
    _standardised: list[float] = field(default_factory=list)
    _tamed: list[Departure] = field(default_factory=list)
    _on_charts: int = 0

    def add(self, one: Departure) -> None:
        """Add the next fill to every chart it belongs to, and raise or end an alarm.

        Parameters
        ----------
        one : Departure
            The fill, later than those before it.
        """
        scale = scatter(self._standardised[-_SCATTERS_OVER:])
        self.departures.append(one)
        self._on_charts += 1 + len(one.effects)
        single, shift = limits(math.ceil(self._on_charts / len(self.departures)))
        sigma = scale * one.sigma
        # One wild fill is an alarm of its own: it must carry no mean beyond its limit, and is no
        # measure of how far anything is off.
        points = max(-single * sigma, min(single * sigma, one.points))
        for cause, effect in one.effects.items():
            self.tracks.setdefault(cause, Track()).add(one.place, points, effect, sigma, shift)
        self._standardised.append(one.standardised)
        self._tamed.append(replace(one, points=points))
        self._judge(one, points != one.points, scale)

    def _judge(self, one: Departure, is_single: bool, scale: float) -> None:
        charts = tuple(cause for cause in one.effects if self._is_off(cause))
        last = self.alarms.pop() if self.alarms else None
        rule = SHIFT if charts else SINGLE if is_single else ""
        goes_on = last is not None and last.standing and last.rule == rule
        if last is not None and not goes_on:
            self.alarms.append(replace(last, standing=False))
        if rule:
            first = last.place if last is not None and goes_on else one.place
            blamed = likely(suspects(self._tamed[-_LOOKS_BACK:], scale)) if charts else ()
            self.alarms.append(Alarm(rule, first, one.place, True, charts, blamed))

    def _is_off(self, cause: str) -> bool:
        track = self.tracks[cause]
        return track.beyond and abs(track.points[-1].mean) >= self.least(cause)


def watched(departures: Iterable[Departure], least: Callable[[str], float] = any_size) -> Family:
    """Return the charts and alarms of a whole row of fills.

    Parameters
    ----------
    departures : iterable of Departure
        Fills in their order.
    least : callable
        See `Family`.

    Returns
    -------
    Family
        With every fill added.
    """
    family = Family(least)
    for one in departures:
        family.add(one)
    return family
