"""A plain page of captions and sentences, with where the record stood at its foot.

The day sheet, the page of a recall, of a person and the audit report are such letters.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from blender.station.views import Proof, Stamp
from reports.column import Column, Fact
from reports.page import About, Page
from reports.sheet import badge, draw_foot, upright
from reports.wording import given, time_text

LEFT, RIGHT = 12.0, 198.0
TOP, END = 32.0, 277.0  # of the lines
_QR = 24.0
_COLUMN = Column(LEFT, RIGHT, TOP, END, 34.0, size_pt=9.0, beside=_QR + 6.0, beside_end=62.0)

# Draws what fills a page of its own between `TOP` and `END`, such as charts.
Drawing = Callable[[Page], None]


@dataclass(frozen=True, slots=True)
class Letter:
    """What stands around the facts of a letter.

    Parameters
    ----------
    title : str
        At its head, in capitals.
    station_name : str
        Below it.
    printed_at : Stamp
        When.
    proof : Proof
        Where the record stood.
    aside : str
        Large beside the title, such as a day.
    subject : str
        What the file says of itself; the title if empty.
    legend : str
        A remark at its foot.
    copy : str
        Which copy it is, white on black; empty for the first print.
    """

    title: str
    station_name: str
    printed_at: Stamp
    proof: Proof
    aside: str = ""
    subject: str = ""
    legend: str = ""
    copy: str = ""


def letter_pdf(
    letter: Letter, facts: Iterable[Fact], paper: str = "a4", drawings: Sequence[Drawing] = ()
) -> bytes:
    """Return captions and texts as a PDF, wrapped, with the anchor and its QR code.

    Parameters
    ----------
    letter : Letter
        What stands around them.
    facts : iterable
        Caption, text and whether it is bold; each as long as need be.
    paper : str
        What it is printed on, one of `reports.stock.PAPERS`.
    drawings : sequence of callables
        Each draws a further page.
    """
    title = f"{letter.title} {letter.aside}".strip()
    about = About(
        title,
        letter.subject or title,
        letter.station_name,
        letter.proof.anchor,
        letter.printed_at,
    )
    page = upright(about, paper)
    sheets = _COLUMN.pages(facts)
    total = len(sheets) + len(drawings)
    for number in range(1, total + 1):
        if number > 1:
            page.next()
        page.marks = set()
        _head(page, letter, f"page {number} of {total}")
        if number == 1:
            page.qr(RIGHT - _QR, TOP + 2.0, _QR, letter.proof.anchor)
        if number <= len(sheets):
            _COLUMN.draw(page, sheets[number - 1])
        else:
            drawings[number - len(sheets) - 1](page)
        draw_foot(page, letter.proof, LEFT, RIGHT, letter.legend)
    return page.finish()


def _head(page: Page, letter: Letter, which: str) -> None:
    used = page.line(LEFT, 17.0, letter.title.upper(), 15, bold=True, width=110, least=8)
    if letter.aside:
        room = 112.0 - used
        page.line(LEFT + used + 4.0, 17.0, given(letter.aside), 13, bold=True, width=room, least=7)
    printed = f"printed {time_text(letter.printed_at)}   {which}"
    page.line(RIGHT, 17.0, printed, 7.5, align="right")
    width = RIGHT - LEFT - badge(page, RIGHT, 24.0, letter.copy)
    page.line(LEFT, 24.0, given(letter.station_name), 11, width=width, least=6)
    page.rule(LEFT, 27.5, RIGHT, 27.5, 0.5)
