"""A plain A4 page of captions and sentences, with where the record stood at its foot."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from blender.station.views import Proof, Stamp
from reports.fonts import MM_PER_PT, Mark, shown
from reports.page import About, Page, note
from reports.stock import DAY_STOCK
from reports.typeset import LEADING, wrap
from reports.wording import given, program, time_text

_LEFT, _RIGHT = 12.0, 198.0
_TOP, _END = 32.0, 277.0  # of the lines
_QR = 24.0
_BESIDE_QR = 62.0  # below this the QR code is no longer beside the lines
_SIZE = 9.0
_PITCH = _SIZE * LEADING * MM_PER_PT
_INDENT = 34.0

Said = tuple[str, str, bool]  # caption, text, whether it is to be seen from afar


@dataclass(frozen=True, slots=True)
class _Line:
    caption: str
    text: str
    bold: bool
    marks: frozenset[Mark]


def letter_pdf(
    title: str, station_name: str, said: Iterable[Said], printed_at: Stamp, proof: Proof
) -> bytes:
    """Return captions and texts as a PDF on A4, wrapped, with the anchor and its QR code.

    Parameters
    ----------
    title : str
        At its head, in capitals.
    station_name : str
        Beside it.
    said : iterable
        Caption, text and whether it is bold; each as long as need be.
    printed_at : Stamp
        When.
    proof : Proof
        Where the record stood.
    """
    about = About(title, title, station_name, proof.anchor, printed_at)
    page = Page(DAY_STOCK.page_width, DAY_STOCK.page_height, about)
    most = int((_END - _TOP) / _PITCH)
    lines = list(_lines(said))
    sheets = [lines[at : at + most] for at in range(0, len(lines), most)] or [[]]
    for number, sheet in enumerate(sheets, start=1):
        if number > 1:
            page.next()
        page.marks = set()
        page.line(_LEFT, 17.0, title.upper(), 15, bold=True, width=110, least=8)
        which = f"printed {time_text(printed_at)}   page {number} of {len(sheets)}"
        page.line(_RIGHT, 17.0, which, 7.5, align="right")
        page.line(_LEFT, 24.0, given(station_name), 11, width=_RIGHT - _LEFT, least=6)
        page.rule(_LEFT, 27.5, _RIGHT, 27.5, 0.5)
        if number == 1:
            page.qr(_RIGHT - _QR, _TOP + 2.0, _QR, proof.anchor)
        for at, line in enumerate(sheet):
            y = _TOP + _PITCH * (at + 0.8)
            page.marks |= line.marks
            page.line(_LEFT, y, line.caption, _SIZE, width=_INDENT - 2.0, least=5, bold=True)
            page.line(_LEFT + _INDENT, y, line.text, _SIZE, bold=line.bold)
        _foot(page, proof)
    return page.finish()


def _lines(said: Iterable[Said]) -> Iterator[_Line]:
    """Give every line, wrapped by measured width; only the first of a text has its caption."""
    at = 0
    for caption, text, bold in said:
        words = shown(text)
        beside = _TOP + _PITCH * at < _BESIDE_QR
        width = _RIGHT - _LEFT - _INDENT - (_QR + 6.0 if beside else 0.0)
        for number, part in enumerate(wrap(words.text, width, _SIZE, bold) or ("",)):
            yield _Line(caption if number == 0 else "", part, bold, frozenset(words.marks))
            at += 1


def _foot(page: Page, proof: Proof) -> None:
    page.rule(_LEFT, 279.0, _RIGHT, 279.0, 0.3)
    where = f"{program()} · {proof.station} · incarnation {proof.incarnation} · entry {proof.seq}"
    page.line(_LEFT, 282.0, where, 6.5, width=_RIGHT - _LEFT)
    page.line(_LEFT, 285.0, proof.anchor, 6.5, width=_RIGHT - _LEFT)
    page.line(_LEFT, 288.0, note(page.marks), 6, width=_RIGHT - _LEFT)
