"""A table of stops to hang on the wall: residual down the side, mixes along the top."""

from __future__ import annotations

import math
from dataclasses import dataclass

from blender.planning.supplies import plain_name
from blender.planning.wall_table import WallTable
from blender.station.views import Stamp
from blender.units import bar_to_psi
from reports.page import About, Page, note
from reports.sheet import upright
from reports.wording import DOT, FIXED, given, program, temperature, time_text

_LEFT, _RIGHT = 12.0, 198.0
_TOP, _END = 62.0, 262.0  # of the rows
_FIRST = 24.0  # width of the column of residuals
_ROW = 8.0
_COLUMNS = 7
_WIDE = (_RIGHT - _LEFT - _FIRST) / _COLUMNS
_CAUTION = (
    "For qualified blenders. A stop holds for the gas at the temperature above and for this "
    "residual alone, analysed; a gas warmer at the stop needs a higher one. Oxygen only into what "
    "is clean for oxygen, slowly. Local codes and the cylinder's own markings come first. Analyse "
    "every cylinder after it has mixed."
)


@dataclass(frozen=True, slots=True)
class WallPaper:
    """A table to be printed.

    Parameters
    ----------
    table : WallTable
        The stops.
    station_name : str
        Whose wall it is for, empty if nobody's.
    printed_at : Stamp
        When.
    imperial : bool
        Whether stops are in psi instead of bar.
    """

    table: WallTable
    station_name: str
    printed_at: Stamp
    imperial: bool = False

    @property
    def unit(self) -> str:
        """The unit of every pressure on the paper."""
        return "psi" if self.imperial else "bar"


def wall_table_pdf(wall: WallPaper, paper: str = "a4") -> bytes:
    """Return a wall table as a PDF, as many pages as it needs.

    Parameters
    ----------
    wall : WallPaper
        The table and how it is printed.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.
    """
    page = upright(_about(wall), paper)
    parts = _parts(wall.table)
    for number, (rows, columns) in enumerate(parts, start=1):
        if number > 1:
            page.next()
        page.marks = set()
        _head(page, wall, f"page {number} of {len(parts)}")
        _heads(page, wall, columns)
        for at, row in enumerate(rows):
            _row(page, wall, row, columns, _TOP + _ROW * at)
        _foot(page, wall)
    return page.finish()


def _about(paper: WallPaper) -> About:
    return About(
        title=f"Stops for {_number(paper, paper.table.request.want_bar)} {paper.unit}",
        subject="Gauge stops by residual pressure and wanted mix",
        author=paper.station_name,
        keywords="",
        dated=paper.printed_at,
    )


def _parts(table: WallTable) -> list[tuple[range, range]]:
    """Return the rows and columns of each page."""
    rows, columns = table.final_bar.shape
    most = int((_END - _TOP) / _ROW)
    return [
        (range(top, min(top + most, rows)), range(left, min(left + _COLUMNS, columns)))
        for left in range(0, columns, _COLUMNS)
        for top in range(0, rows, most)
    ]


def _head(page: Page, paper: WallPaper, which: str) -> None:
    request, width = paper.table.request, _RIGHT - _LEFT
    want = f"{_number(paper, request.want_bar)}{FIXED}{paper.unit}"
    at_c, settled_c = request.temperature_c, request.settle_at_c
    page.line(_LEFT, 17.0, f"STOPS FOR {want}", 17, bold=True)
    page.line(_RIGHT, 17.0, f"printed {time_text(paper.printed_at)}   {which}", 7.5, align="right")
    page.line(_LEFT, 24.0, f"onto {plain_name(request.residual)}", 14, bold=True, width=width)
    has_helium = any(gas.he > 0.0 for gas in request.wanted)
    helium = f"{plain_name(request.helium)}, then " if has_helium else ""
    gases = f"with {helium}{plain_name(request.oxygen)}, topped with {plain_name(request.top)}"
    warm = temperature(at_c, paper.imperial)
    settles = temperature(settled_c, paper.imperial)
    model = f"gas at {warm} at every gauge{DOT}settles at {settles}{DOT}GERG-2008, {request.pairs}"
    page.line(_LEFT, 30.0, gases, 9, width=width, least=6)
    page.line(_LEFT, 34.5, model, 9, width=width, least=6)
    page.block(_LEFT, 37.0, _CAUTION, 7.5, width=width, most=3, bold=True)


def _heads(page: Page, paper: WallPaper, columns: range) -> None:
    page.line(_LEFT, _TOP - 2.5, f"left, {paper.unit}", 9, bold=True)
    for place, column in enumerate(columns):
        name = plain_name(paper.table.request.wanted[column])
        page.line(_x(place), _TOP - 2.5, name, 12, bold=True, align="right", width=24, least=7)
    page.rule(_LEFT, _TOP, _RIGHT, _TOP, 0.5)


def _row(page: Page, paper: WallPaper, row: int, columns: range, y: float) -> None:
    left = paper.table.request.residual_bar[row]
    page.line(_LEFT + 12.0, y + 7.0, _number(paper, left), 12, bold=True, align="right")
    for place, column in enumerate(columns):
        small, large = cell(paper, row, column)
        page.line(_x(place), y + 2.9, small, 6.5, align="right", width=_WIDE - 1.5, least=4)
        page.line(_x(place), y + 7.0, large, 12 if large[:1].isdigit() else 9, align="right")
    page.rule(_LEFT, y + _ROW, _RIGHT, y + _ROW, 0.15)


def cell(paper: WallPaper, row: int, column: int) -> tuple[str, str]:
    """Return what stands small above and large below in a cell.

    Large is the oxygen stop; small is what comes before it, a drain or the helium stop.  The
    last stop is the wanted pressure itself and is not repeated.

    Parameters
    ----------
    paper : WallPaper
        The table.
    row, column : int
        Which cell.
    """
    table = paper.table
    if math.isnan(table.final_bar[row, column]):
        return "", "—"
    drain, helium, oxygen = (
        float(bar[row, column]) for bar in (table.drain_bar, table.helium_bar, table.oxygen_bar)
    )
    before = []
    if not math.isnan(drain):
        before.append(f"drain to {_stop(paper, drain, down=True)}")
    if not math.isnan(helium):
        before.append(f"He {_stop(paper, helium)}")
    return ", ".join(before), "top only" if math.isnan(oxygen) else _stop(paper, oxygen)


def _number(paper: WallPaper, bar: float) -> str:
    """Return a pressure given from outside in the paper's unit, with no more digits than it has."""
    value = round(bar_to_psi(bar), 1) if paper.imperial else bar
    return f"{value:.6g}"


def _stop(paper: WallPaper, bar: float, *, down: bool = False) -> str:
    """Return a stop in the paper's unit; a drain is rounded down, so that it suffices."""
    steps = bar_to_psi(bar) if paper.imperial else bar * 10.0
    whole = math.floor(steps + 1e-6) if down else round(steps)
    return f"{whole}" if paper.imperial else f"{whole / 10.0:.1f}"


def _x(place: int) -> float:
    """Right edge of a column."""
    return _LEFT + _FIRST + (place + 1) * _WIDE


def _foot(page: Page, paper: WallPaper) -> None:
    page.rule(_LEFT, 279.0, _RIGHT, 279.0, 0.3)
    legend = "large: the oxygen stop; top only: no oxygen is needed; — : cannot be made so"
    page.line(_LEFT, 275.0, legend, 8)
    page.line(_LEFT, 282.5, f"{given(paper.station_name)}{DOT}{program()}", 6.5)
    page.line(_LEFT, 286.0, note(page.marks), 6, width=_RIGHT - _LEFT)
