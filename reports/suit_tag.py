"""The tag of a suit bottle: argon is no breathing gas, and a cylinder of it must say so."""

from __future__ import annotations

from blender.station.suit_bottle import SuitTag
from reports.page import About, Page, note
from reports.serial import draw_serial
from reports.stock import TAG_MM
from reports.wording import given, pressure, program, time_text

_LEFT, _RIGHT = 4.0, 96.0
_WIDTH = _RIGHT - _LEFT
_FEW_BREATHS = "A breath or two of it takes consciousness without any warning."
_RULES = (
    "For the suit alone. Its regulator has no mouthpiece, and none is ever fitted.",
    "Kept apart from cylinders of breathing gas, filled apart from them and never connected to "
    "a panel they are filled at.",
    "Before it takes breathing gas again it is emptied, purged and analysed, and this tag and "
    "every mark of argon are taken off.",
)
_FIRST = "The cylinder's own marking and local codes come first; argon is filled by those trained "\
    "to."  # fmt: skip


def suit_tag_pdf(tag: SuitTag) -> bytes:
    """Return the tag as a PDF.

    Raises
    ------
    InputError
        If the pressure is not finite.
    """
    about = About("Suit gas, not breathable", "Argon", tag.station_name, "", tag.printed_at)
    page = Page(*TAG_MM, about)
    middle = (_LEFT + _RIGHT) / 2
    page.box(_LEFT, 4.0, _WIDTH, 44.0, weight=0)
    for y, text, size in ((19.0, "NOT", 40), (35.0, "BREATHABLE", 40), (44.5, _FEW_BREATHS, 9)):
        width = _WIDTH - 6
        page.line(middle, y, text, size, bold=True, align="centre", white=True, width=width)
    page.line(middle, 66.0, "ARGON", 44, bold=True, align="centre", width=_WIDTH)
    page.line(middle, 73.0, "for inflating a drysuit", 13, bold=True, align="centre")
    page.rule(_LEFT, 77.0, _RIGHT, 77.0, 0.5)
    page.line(_LEFT, 82.0, "Cylinder", 8, bold=True)
    draw_serial(page, 24.0, 85.0, given(tag.serial), width=_RIGHT - 24.0, small=11, large=20)
    page.line(_LEFT, 93.0, "Filled to", 8, bold=True)
    _filled(page, tag)
    y = 99.0
    for text in (*_RULES, _FIRST):
        page.box(_LEFT, y + 0.9, 1.6, 1.6, weight=0)
        y = page.block(_LEFT + 4.0, y, text, 8.5, width=_WIDTH - 4.0, bold=True) + 1.6
    _bottom(page, tag)
    return page.finish()


def _filled(page: Page, tag: SuitTag) -> None:
    if tag.filled_bar is None:
        page.rule(24.0, 93.4, 60.0, 93.4, 0.3)
    else:
        page.line(24.0, 93.0, pressure(tag.filled_bar, tag.imperial), 12, bold=True)


def _bottom(page: Page, tag: SuitTag) -> None:
    page.rule(_LEFT, 140.0, _RIGHT, 140.0, 0.3)
    said = f"{given(tag.station_name)}, printed {time_text(tag.printed_at)}, {program()}"
    page.line(_LEFT, 143.4, said, 6, width=_WIDTH, least=4)
    page.line(_LEFT, 146.4, note(page.marks), 5, width=_WIDTH, least=3.5)
