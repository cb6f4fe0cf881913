"""The account of a day: sections, paragraphs with the time in the margin, eighty columns."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass, field

WIDTH = 80
_MARGIN = 7
_UNIT = re.compile(r"(?<=\d) (?=(?:%|bar|degC|L|m)\b|%)")
_TIED = "\u00a0"


@dataclass
class Section:
    """One thread of the day, usually one fill; its title may become known later."""

    title: str
    fill: int = 0
    paragraphs: list[tuple[str, list[str]]] = field(default_factory=list)
    tables: list[str] = field(default_factory=list)

    def paragraph(self, time: str) -> None:
        """Begin a new paragraph at a time of day; one without a sentence never shows."""
        self.paragraphs.append((time, []))

    def say(self, *sentences: str) -> None:
        """Add sentences to the paragraph."""
        self.paragraphs[-1][1].extend(sentence for sentence in sentences if sentence)

    def lines(self) -> list[str]:
        """The section as lines of the page."""
        title = f"FILL {self.fill}: {self.title}" if self.fill else self.title
        heading = textwrap.wrap(title, WIDTH)
        found = ["", *heading, "-" * max(map(len, heading))]
        for time, sentences in self.paragraphs:
            if sentences:
                found += _wrapped(time, " ".join(sentences))
        return [*found, *self.tables]


def _wrapped(time: str, text: str) -> list[str]:
    """Wrap a paragraph beside its time, never between a number and its unit."""
    lines = textwrap.wrap(
        _UNIT.sub(_TIED, text),
        WIDTH,
        initial_indent=f"{time:<{_MARGIN}}",
        subsequent_indent=" " * _MARGIN,
        break_on_hyphens=False,
    )
    return [line.replace(_TIED, " ") for line in lines]


@dataclass
class Account:
    """The whole day, section by section in the order in which they began."""

    sections: list[Section] = field(default_factory=list)

    def section(self, title: str) -> Section:
        """Begin a section."""
        self.sections.append(Section(title))
        return self.sections[-1]

    def lines(self) -> list[str]:
        """The account as lines of the page."""
        return [line for section in self.sections for line in section.lines()][1:]
