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
    limit, scatter : float
        Of a single value: how far from its plan it could come out by chance, and the standard
        deviation that this is a multiple of [percentage points].
    """

    rule: str
    place: int
    until: int
    standing: bool
    charts: tuple[str, ...]
    suspects: tuple[Suspect, ...]
    limit: float
    scatter: float


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
    _alarms: list[Alarm] = field(default_factory=list)
    _unblamed: tuple[int, float] | None = None
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
        charts = tuple(cause for cause in one.effects if self._is_off(cause))
        rule = SHIFT if charts else SINGLE if points != one.points else ""
        self._judge(Alarm(rule, one.place, one.place, True, charts, (), single * sigma, sigma))
        if charts:
            self._unblamed = len(self._tamed), scale

    @property
    def alarms(self) -> list[Alarm]:
        """Every alarm so far, the latest last."""
        self._blame()
        return self._alarms

    def _judge(self, now: Alarm) -> None:
        """Raise an alarm, go on with the one that stands, or end it."""
        if self._alarms and self._alarms[-1].standing:
            last = self._alarms[-1]
            if last.rule == now.rule:
                self._alarms[-1] = replace(last, until=now.until, charts=now.charts)
                return
            self._blame()
            self._alarms[-1] = replace(self._alarms[-1], standing=False)
        if now.rule:
            self._alarms.append(now)

    def _blame(self) -> None:
        """Work out what the last alarm is likely from: only once, of the last fill it stood at."""
        if self._unblamed:
            count, scale = self._unblamed
            looked_at = self._tamed[max(0, count - _LOOKS_BACK) : count]
            blamed = likely(suspects(looked_at, scale))
            self._alarms[-1] = replace(self._alarms[-1], suspects=blamed)
            self._unblamed = None

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
