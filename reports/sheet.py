"""Sheets a paper is drawn on: laid out for A4, drawn smaller on Letter so that nothing is lost."""

from __future__ import annotations

from blender.station.views import Proof
from reports.fonts import width_mm
from reports.page import About, Page, note
from reports.stock import PAPERS, paper_size
from reports.wording import program

_WIDTH, _HEIGHT = PAPERS["a4"]


def upright(about: About, paper: str = "a4") -> Page:
    """Return a page to be drawn on as A4 upright, on a sheet of `paper`.

    Raises
    ------
    InputError
        If the paper is not known.
    """
    width, height = paper_size(paper)
    return _laid_on(Page(width, height, about), (_WIDTH, _HEIGHT), (width, height))


def across(about: About, paper: str = "a4") -> Page:
    """Return a page to be drawn on as A4 turned on its side, on a sheet of `paper`."""
    height, width = paper_size(paper)
    return _laid_on(Page(width, height, about), (_HEIGHT, _WIDTH), (width, height))


def _laid_on(page: Page, layout: tuple[float, float], sheet: tuple[float, float]) -> Page:
    page.scale = min(1.0, sheet[0] / layout[0], sheet[1] / layout[1])
    spare = [there - page.scale * needed for there, needed in zip(sheet, layout, strict=True)]
    page.origin = (spare[0] / 2.0, spare[1] / 2.0)
    return page


def draw_foot(page: Page, proof: Proof, left: float, right: float, legend: str = "") -> None:
    """Draw, at the foot of an upright sheet, where the record stood and what was declared."""
    width = right - left
    page.rule(left, 279.0, right, 279.0, 0.3)
    where = f"{program()} · {proof.station} · incarnation {proof.incarnation} · entry {proof.seq}"
    said = [text for text in (where, proof.anchor, legend) if text]
    for at, text in enumerate(said):
        page.line(left, 282.0 + 3.0 * at, text, 6.5, width=width)
    page.line(left, 282.0 + 3.0 * len(said), note(page.marks), 6, width=width)


def badge(page: Page, right: float, baseline: float, text: str) -> float:
    """Draw white words on black up to `right`; return the width taken, 0 without words."""
    if not text:
        return 0.0
    width = width_mm(text, 9.0, bold=True) + 4.0
    page.box(right - width, baseline - 4.0, width, 5.4, weight=0)
    page.line(right - width / 2, baseline, text, 9, bold=True, align="centre", white=True)
    return width + 3.0
