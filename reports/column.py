"""A column of facts: a caption and a text each, wrapped, over as many pages as they need."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from reports.fonts import MM_PER_PT, Mark, shown
from reports.page import Page
from reports.typeset import LEADING, wrap

# Caption, text, and whether it is to be seen from afar.
Fact = tuple[str, str, bool]


@dataclass(frozen=True, slots=True)
class Line:
    """A line as it stands on the paper; only the first of a text has its caption."""

    caption: str
    text: str
    bold: bool
    marks: frozenset[Mark]


@dataclass(frozen=True, slots=True)
class Column:
    """Where the lines lie [mm]; above `beside_end` they leave `beside` free at the right."""

    left: float
    right: float
    top: float
    end: float
    indent: float
    size_pt: float = 8.0
    beside: float = 0.0
    beside_end: float = 0.0

    @property
    def pitch(self) -> float:
        """From one line to the next [mm]."""
        return self.size_pt * LEADING * MM_PER_PT

    def lines(self, facts: Iterable[Fact]) -> Iterator[Line]:
        """Give every line, wrapped by measured width."""
        at = 0
        for caption, text, bold in facts:
            said = shown(text)
            is_beside = self.top + self.pitch * at < self.beside_end
            width = self.right - self.left - self.indent - (self.beside if is_beside else 0.0)
            for number, part in enumerate(wrap(said.text, width, self.size_pt, bold) or ("",)):
                yield Line(caption if number == 0 else "", part, bold, frozenset(said.marks))
                at += 1

    def pages(self, facts: Iterable[Fact]) -> list[list[Line]]:
        """Return the lines of each page, one page at least."""
        lines = list(self.lines(facts))
        most = int((self.end - self.top) / self.pitch)
        return [lines[at : at + most] for at in range(0, len(lines), most)] or [[]]

    def draw(self, page: Page, lines: Iterable[Line]) -> None:
        """Draw the lines of one page."""
        for at, line in enumerate(lines):
            y = self.top + self.pitch * (at + 0.8)
            page.marks |= line.marks
            width = self.indent - 2.0
            page.line(self.left, y, line.caption, self.size_pt, width=width, least=5, bold=True)
            page.line(self.left + self.indent, y, line.text, self.size_pt, bold=line.bold)


def listed(caption: str, texts: Iterable[str], bold: bool = False) -> Iterator[Fact]:
    """Give a list of texts as facts under one caption, or that there are none."""
    for number, text in enumerate([*texts] or ["none"]):
        yield (caption if number == 0 else ""), text, bold
