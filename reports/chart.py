"""A control chart on paper: single values as dots, their weighted mean as a line, its limits.

Black and white, so each thing has its own form: limits are dashed, the target a thin line, and
a mean beyond its limits a black square with the number of its fill.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reports.page import Align, Page
from reports.wording import given

_HEAD, _FOOT, _GUTTER = 7.0, 5.0, 14.0


@dataclass(frozen=True, slots=True)
class Plotted:
    """One fill on a chart; `mean` within `half` of 0 is in control."""

    fill: int
    day: str
    value: float
    mean: float
    half: float
    beyond: bool


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart of one cause, in its unit."""

    title: str
    unit: str
    points: tuple[Plotted, ...]
    remark: str = ""


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where the values lie on the page [mm]."""

    left: float
    top: float
    width: float
    height: float
    most: float
    count: int

    def x(self, place: int) -> float:
        return self.left + self.width * (place + 0.5) / max(self.count, 1)

    def y(self, value: float) -> float:
        kept = max(-self.most, min(self.most, value))
        return self.top + self.height * (0.5 - 0.5 * kept / self.most)


def draw_chart(page: Page, chart: Chart, x: float, y: float, width: float, height: float) -> None:
    """Draw a chart with its caption in an area [mm].

    Parameters
    ----------
    page : Page
        The page.
    chart : Chart
        What is drawn; without points it says so.
    x, y, width, height : float
        The area, from its upper left corner.
    """
    page.line(x, y + 4.0, given(chart.title), 9, bold=True, width=width * 0.55, least=6)
    page.line(x + width, y + 4.0, chart.remark, 7, align="right", width=width * 0.42, least=5)
    inner = height - _HEAD - _FOOT
    page.box(x + _GUTTER, y + _HEAD, width - _GUTTER, inner)
    if not chart.points:
        page.line(x + _GUTTER + 3.0, y + _HEAD + inner / 2, "no fill is on this chart", 8)
        return
    most = _scale(chart.points)
    frame = _Frame(x + _GUTTER, y + _HEAD, width - _GUTTER, inner, most, len(chart.points))
    _axis(page, chart, frame, x)
    _limits(page, chart.points, frame)
    _values(page, chart.points, frame)
    _days(page, chart.points, frame)


def _scale(points: Sequence[Plotted]) -> float:
    """Return the half-height of a chart: a round number that holds all means and most values."""
    values = sorted(abs(one.value) for one in points)
    usual = values[min(len(values) - 1, int(0.95 * len(values)))]
    needed = max(usual, *(max(abs(one.mean), one.half) for one in points), 1e-9) * 1.1
    power = 10.0 ** math.floor(math.log10(needed))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= needed)


def _axis(page: Page, chart: Chart, frame: _Frame, x: float) -> None:
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        value = share * frame.most
        at = frame.y(value)
        text = f"{value:+.4g}" if share else f"0 {chart.unit}"
        inside = {-1.0: -0.4, 1.0: 2.2}.get(share, 0.9)
        page.line(x + _GUTTER - 1.0, at + inside, text, 6, align="right", width=_GUTTER - 1.0)
    page.rule(frame.left, frame.y(0.0), frame.left + frame.width, frame.y(0.0), 0.12)


def _limits(page: Page, points: Sequence[Plotted], frame: _Frame) -> None:
    """Draw the limits as dashes, one over every other fill."""
    reach = frame.width / max(frame.count, 1) * 0.5
    for place, one in enumerate(points):
        if place % 2 and frame.count > 2:
            continue
        for value in (one.half, -one.half):
            at = frame.x(place)
            page.rule(at - reach, frame.y(value), at + reach, frame.y(value), 0.3)


def _values(page: Page, points: Sequence[Plotted], frame: _Frame) -> None:
    before: tuple[float, float] | None = None
    numbered = -99.0
    for place, one in enumerate(points):
        x, y = frame.x(place), frame.y(one.value)
        page.box(x - 0.25, y - 0.25, 0.5, 0.5, weight=0)
        here = (x, frame.y(one.mean))
        if before:
            page.rule(*before, *here, 0.35)
        before = here
        if one.beyond:
            page.box(here[0] - 0.8, here[1] - 0.8, 1.6, 1.6, weight=0)
            if x - numbered > 9.0:
                side = -1.6 if one.mean > 0.0 else 3.4
                page.line(x, here[1] + side, f"{one.fill}", 5.5, align="centre")
                numbered = x


def _days(page: Page, points: Sequence[Plotted], frame: _Frame) -> None:
    """Write the days of the first, middle and last fill below."""
    last = len(points) - 1
    under = frame.top + frame.height + 3.2
    ends: list[tuple[int, Align, float]] = [(0, "left", frame.left)]
    ends.append((last, "right", frame.left + frame.width))
    if last > 8:
        ends.insert(1, (last // 2, "centre", frame.x(last // 2)))
    for place, align, x in ends if last else ends[:1]:
        text = f"{points[place].day}, fill {points[place].fill}"
        page.line(x, under, text, 6, align=align)
