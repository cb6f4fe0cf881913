"""The fill log over a range of days: every fill, what it took, who answers for it, and sums."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import zip_longest

from blender.station.views import LogLine, LogView
from reports.fonts import MM_PER_PT, Mark, shown
from reports.log_columns import COLUMNS
from reports.page import About, Page, note
from reports.sheet import across
from reports.totals import Totals, amount_text, totals, volumes
from reports.typeset import LEADING, Set, wrap
from reports.wording import given, program, time_text

_LEFT, _RIGHT = 10.0, 287.0
_TOP, _END = 24.4, 192.0  # of the table's rows
_SIZE = 5.6
_PITCH = _SIZE * LEADING * MM_PER_PT
_PAD = 0.8
_QR = 22.0
Told = Callable[[int], None]
_SUMMARY = 46.0  # height kept for the sums and the QR code


@dataclass(frozen=True, slots=True)
class _Row:
    """A fill as lines of text for each column, no taller than a page."""

    cells: tuple[tuple[str, ...], ...]
    marks: frozenset[Mark]

    @property
    def height(self) -> float:
        return max(len(cell) for cell in self.cells) * _PITCH + 2 * _PAD


def fill_log_pdf(view: LogView, paper: str = "a4", told: Told = lambda _: None) -> bytes:
    """Return the fill log as a PDF, its pages on their side.

    Parameters
    ----------
    view : LogView
        The range of days and its fills; may be empty, which the paper then says.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.
    told : callable
        Told how many rows are drawn; what it raises stops the drawing.

    Raises
    ------
    InputError
        If a number is not finite.
    """
    page = across(_about(view), paper)
    sheets = _paginate(view)
    drawn = 0
    for number, rows in enumerate(sheets, start=1):
        if number > 1:
            page.next()
        page.marks = set()
        _head(page, view, f"page {number} of {len(sheets)}")
        y = _TOP
        for row in rows:
            y = _draw_row(page, row, y)
        drawn += len(rows)
        told(drawn)
        if number == len(sheets):
            _summary(page, view, y)
        _foot(page, view)
    return page.finish()


def _about(view: LogView) -> About:
    return About(
        title=f"Fill log {view.first_day} to {view.last_day}",
        subject="Fills with readings, gas used and exceptions",
        author=view.station_name,
        keywords=view.proof.anchor,
        dated=view.printed_at,
    )


def _paginate(view: LogView) -> list[list[_Row]]:
    """Fill pages with rows and leave room for the sums on the last."""
    sheets: list[list[_Row]] = [[]]
    room = _END - _TOP
    for line in view.lines:
        for row in _rows(line, imperial=view.imperial):
            if row.height > room:
                sheets.append([])
                room = _END - _TOP
            sheets[-1].append(row)
            room -= row.height
    if room < _SUMMARY:
        sheets.append([])
    return sheets


def _rows(line: LogLine, *, imperial: bool) -> list[_Row]:
    """Wrap a fill's cells by measured width; a fill taller than a page becomes several rows."""
    said = [column.says(line, imperial) for column in COLUMNS]
    marks = frozenset[Mark]().union(*(shown(text).marks for cell in said for text in cell))
    cells = [
        tuple(part for text in cell for part in wrap(shown(text).text, column.width - 1.6, _SIZE))
        for column, cell in zip(COLUMNS, said, strict=True)
    ]
    most = int((_END - _TOP - 2 * _PAD) / _PITCH)
    pieces = [[cell[at : at + most] for at in range(0, len(cell), most)] for cell in cells]
    rows = [list(row) for row in zip_longest(*pieces, fillvalue=())]
    for row in rows[1:]:
        row[0] = (f"{line.fill}", "continued")
    return [_Row(tuple(row), marks) for row in rows]


def _head(page: Page, view: LogView, which: str) -> None:
    page.line(_LEFT, 14.0, "FILL LOG", 15, bold=True)
    days = f"{given(view.first_day)} to {given(view.last_day)}"
    page.line(_LEFT + 32, 14.0, days, 11, bold=True, width=66, least=7)
    page.line(_LEFT + 100, 14.0, given(view.station_name), 11, width=88, least=6)
    if view.selection:
        told = f"NOT EVERY FILL of these days: {given(view.selection)}"
        page.line(_LEFT, 8.6, told, 7, bold=True, width=_RIGHT - _LEFT, least=4)
    page.line(_RIGHT, 14.0, f"printed {time_text(view.printed_at)}   {which}", 7.5, align="right")
    page.rule(_LEFT, 16.5, _RIGHT, 16.5, 0.5)
    x = _LEFT
    for column in COLUMNS:
        page.block(x + 0.4, 17.6, column.heading, 6, width=column.width - 1.2, bold=True)
        x += column.width
    page.rule(_LEFT, _TOP - 0.6, _RIGHT, _TOP - 0.6, 0.3)


def _draw_row(page: Page, row: _Row, y: float) -> float:
    x = _LEFT
    for number, (column, cell) in enumerate(zip(COLUMNS, row.cells, strict=True)):
        first = 1 if number == 0 else 0  # the fill's number is seen from afar
        for bold, part, top in ((True, cell[:first], y), (False, cell[first:], y + first * _PITCH)):
            page.put(x + 0.4, top + _PAD, Set(part, _SIZE, row.marks), bold=bold)
        x += column.width
    end = y + row.height
    page.rule(_LEFT, end, _RIGHT, end, 0.1)
    return end


def _summary(page: Page, view: LogView, y: float) -> None:
    if not view.lines:
        text = f"No fill was requested from {given(view.first_day)} to {given(view.last_day)}."
        page.line(_LEFT, y + 10.0, text, 12, bold=True, width=_RIGHT - _LEFT, least=8)
        y += 12.0
    page.qr(_RIGHT - _QR, y + 4.0, _QR, view.proof.anchor)
    y += 7.0
    for caption, text in _sums(totals(view.lines), imperial=view.imperial):
        page.line(_LEFT, y, caption, 8, bold=True)
        page.line(_LEFT + 34, y, text, 8, width=_RIGHT - _LEFT - 60, least=5)
        y += 4.6
    page.line(_LEFT, y, f"{volumes(view.imperial)}. Sums are of unrounded amounts.", 6)


def _sums(sums: Totals, *, imperial: bool) -> list[tuple[str, str]]:
    states = ", ".join(f"{count} {state}" for state, count in sums.by_state)
    return [
        ("Fills", f"{sums.fills}" + (f": {states}" if states else "")),
        ("With exceptions", f"{sums.exceptions}"),
        ("Oxygen let in", amount_text(sums.oxygen_mol, "O2", imperial=imperial)),
        ("Helium let in", amount_text(sums.helium_mol, "He", imperial=imperial)),
        ("Top gas let in", amount_text(sums.top_mol, "", imperial=imperial)),
    ]


def _foot(page: Page, view: LogView) -> None:
    proof = view.proof
    page.rule(_LEFT, 194.0, _RIGHT, 194.0, 0.3)
    where = f"{program()} · {proof.station} · incarnation {proof.incarnation} · entry {proof.seq}"
    page.line(_LEFT, 197.0, f"{where} · {proof.anchor}", 6.5, width=_RIGHT - _LEFT)
    legend = "— = not given, not reached or not measured. Pressures are gauge pressures."
    page.line(_LEFT, 200.0, legend, 6)
    page.line(_LEFT, 203.0, note(page.marks), 6, width=_RIGHT - _LEFT)
