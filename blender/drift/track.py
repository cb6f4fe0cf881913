"""The chart of one cause: what bias of it the latest fills speak for."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from blender.drift.ewma import WEIGHT


@dataclass(frozen=True, slots=True)
class Point:
    """One fill on the chart of a cause, in the unit of the cause.

    Parameters
    ----------
    place : int
        The fill's place in the record.
    value : float
        The bias that would explain this fill alone.
    mean : float
        The bias that the latest fills speak for.
    half : float
        How far the mean may be off zero by chance, at the limit in force.
    """

    place: int
    value: float
    mean: float
    half: float

    @property
    def beyond(self) -> bool:
        """Is the mean outside its limits?"""
        return abs(self.mean) > self.half


@dataclass(slots=True)
class Track:
    """An exponentially weighted estimate of one bias from departures it moved unequally.

    With equal effects and scatters this is the chart of `blender.drift.ewma`, limits that widen
    at first included; with unequal ones each fill counts by what it can tell of the cause.

    Examples
    --------
    >>> track = Track()
    >>> track.add(1, points=0.4, effect=0.4, sigma=0.2, limit=3.0)
    >>> round(track.points[0].mean, 6), round(track.points[0].half, 6)
    (1.0, 1.5)
    """

    points: list[Point] = field(default_factory=list)
    _top: float = 0.0
    _bottom: float = 0.0
    _variance: float = 0.0

    def add(self, place: int, points: float, effect: float, sigma: float, limit: float) -> None:
        """Add one fill.

        Parameters
        ----------
        place : int
            Its place in the record.
        points : float
            Analysed less predicted oxygen [percentage points].
        effect : float
            What one unit of the cause does to `points`, not 0 [points a unit].
        sigma : float
            Scatter of `points` [percentage points].
        limit : float
            Width of the limits in standard deviations [1].
        """
        told = effect / sigma
        old = 1.0 - WEIGHT
        self._top = old * self._top + WEIGHT * told * points / sigma
        self._bottom = old * self._bottom + WEIGHT * told * told
        self._variance = old * old * self._variance + (WEIGHT * told) ** 2
        half = limit * math.sqrt(self._variance) / self._bottom
        self.points.append(Point(place, points / effect, self._top / self._bottom, half))

    @property
    def beyond(self) -> bool:
        """Is the latest mean outside its limits?"""
        return bool(self.points) and self.points[-1].beyond
