"""The sheet of a batch: what no diver has analysed yet, with room to read, name and sign."""

from __future__ import annotations

from blender.station.views import BatchLine, BatchView
from reports.fonts import MM_PER_PT
from reports.page import About, Page
from reports.serial import draw_serial
from reports.sheet import draw_foot, upright
from reports.typeset import LEADING
from reports.wording import DOT, given, time_text

_LEFT, _RIGHT = 12.0, 198.0
_TOP, _END = 58.0, 274.0  # of the table
_QR = 24.0
_ROW = 17.5
_HOLDS, _READ, _NAME, _SIGN = 48.0, 96.0, 126.0, 161.0  # left edges of the columns
_PAD = 1.2
_HEADS = (
    (_LEFT, "Cylinder, wanted"),
    (_HOLDS, "What it holds now"),
    (_READ, "Own reading"),
    (_NAME, "Diver's name"),
    (_SIGN, "Signature"),
)
_CAUTION = (
    "Each diver analyses their own cylinder, writes down what they read and signs for that "
    "cylinder before it leaves. Nobody breathes from a cylinder on this sheet before that. What "
    "is written here is entered in the record; the label is made from it."
)


def batch_sheet_pdf(view: BatchView, paper: str = "a4") -> bytes:
    """Return the sheet "Not yet analysed by diver" of a batch as a PDF.

    Parameters
    ----------
    view : BatchView
        The batch, with a line for every cylinder that is not signed for.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.
    """
    page = upright(_about(view), paper)
    sheets = _paginate(view.lines)
    for number, lines in enumerate(sheets, start=1):
        if number > 1:
            page.next()
        page.marks = set()
        _head(page, view, f"page {number} of {len(sheets)}")
        _table_head(page)
        for at, line in enumerate(lines):
            _row(page, line, _TOP + _ROW * at)
        if not lines:
            page.line(_LEFT, _TOP + 8.0, "None: every cylinder was analysed and signed for.", 10)
        draw_foot(page, view.proof, _LEFT, _RIGHT)
    return page.finish()


def _about(view: BatchView) -> About:
    return About(
        title=f"Batch {view.batch}: not yet analysed by diver",
        subject="Cylinders of a batch that no diver has analysed and signed for",
        author=view.station_name,
        keywords=view.proof.anchor,
        dated=view.printed_at,
    )


def _paginate(lines: tuple[BatchLine, ...]) -> list[tuple[BatchLine, ...]]:
    most = int((_END - _TOP) / _ROW)
    return [lines[at : at + most] for at in range(0, len(lines), most)] or [()]


def _head(page: Page, view: BatchView, which: str) -> None:
    width = _RIGHT - _LEFT - _QR - 6.0
    page.line(_LEFT, 17.0, "NOT YET ANALYSED BY DIVER", 15, bold=True, width=width)
    batch = f"Batch {view.batch}{DOT}{given(view.wanted)}"
    page.line(_LEFT, 24.0, batch, 13, bold=True, width=width, least=7)
    page.line(_LEFT, 30.0, given(view.station_name), 11, width=width, least=6)
    count = f"{len(view.lines)} of {view.cylinders} cylinders to be signed for"
    said = f"{count}{DOT}printed {time_text(view.printed_at)}{DOT}{which}"
    page.line(_LEFT, 35.0, said, 8, width=width)
    page.block(_LEFT, 37.5, _CAUTION, 8, width=width, bold=True)
    page.qr(_RIGHT - _QR, 13.0, _QR, view.proof.anchor)


def _table_head(page: Page) -> None:
    page.rule(_LEFT, _TOP - 6.0, _RIGHT, _TOP - 6.0, 0.5)
    for x, text in _HEADS:
        page.line(x if x == _LEFT else x + _PAD, _TOP - 2.0, text, 7.5, bold=True)
    page.rule(_LEFT, _TOP, _RIGHT, _TOP, 0.3)


def _row(page: Page, line: BatchLine, y: float) -> None:
    width = _HOLDS - _LEFT - _PAD
    draw_serial(page, _LEFT, y + 6.0, given(line.serial), width=width, small=8, large=13)
    page.line(_LEFT, y + 10.4, given(line.wanted), 8.5, bold=True, width=width, least=5)
    page.line(_LEFT, y + 14.6, f"fill {line.fill}, {given(line.customer)}", 7, width=width, least=5)
    _holding(page, line, y)
    for x in (_HOLDS, _READ, _NAME, _SIGN):
        page.rule(x, y, x, y + _ROW, 0.15)
    for height, gas in ((7.0, "O₂"), (14.0, "He")):
        page.line(_READ + _PAD, y + height, gas, 8)
        page.rule(_READ + 7.0, y + height + 0.4, _NAME - 6.0, y + height + 0.4, 0.1)
        page.line(_NAME - _PAD, y + height, "%", 8, align="right")
    page.rule(_LEFT, y + _ROW, _RIGHT, y + _ROW, 0.3)


def _holding(page: Page, line: BatchLine, y: float) -> None:
    """Draw what is in it; where nobody may breathe that, white on black above it."""
    x, width = _HOLDS + _PAD, _READ - _HOLDS - 2 * _PAD
    page.line(x, y + 3.6, given(line.state), 7, width=width, least=5)
    top = y + 4.6
    if line.unsafe:
        page.box(x, top, width, 5.0, weight=0)
        middle = x + width / 2
        page.line(middle, top + 3.8, "DO NOT BREATHE", 10, bold=True, align="centre", white=True)
        top += 5.4
    most = int((y + _ROW - top) / (7.5 * LEADING * MM_PER_PT))
    page.block(x, top, given(line.holds), 7.5, width=width, most=most, least=5)
