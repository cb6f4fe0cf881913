"""Text measured before it is drawn: shrunk to a width, wrapped into lines, or shortened."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from reports.fonts import MM_PER_PT, Mark, shown, width_mm

ELLIPSIS = "…"
LEADING = 1.18  # line pitch as a multiple of the size


@dataclass(frozen=True, slots=True)
class Set:
    """Lines of text at one size that fit where they are meant to go."""

    lines: tuple[str, ...]
    size_pt: float
    marks: frozenset[Mark]


def fit_line(text: str, width: float, size: float, least: float, bold: bool = False) -> Set:
    """Set `text` on one line of `width` [mm], at `size` or smaller down to `least` [pt]."""
    said = shown(text)
    natural = width_mm(said.text, size, bold)
    if natural <= width:
        return Set((said.text,), size, said.marks)
    if (shrunk := size * width / natural * 0.999) >= least:
        return Set((said.text,), shrunk, said.marks)
    return Set((_shorten(said.text, width, least, bold),), least, said.marks | {Mark.CUT})


def fit_lines(
    text: str, width: float, most: int, size: float, least: float, bold: bool = False
) -> Set:
    """Wrap `text` into at most `most` lines, shrinking in half points, then shortening."""
    said = shown(text)
    while len(wrap(said.text, width, size, bold)) > most and size - 0.5 >= least:
        size -= 0.5
    lines = wrap(said.text, width, size, bold)
    if len(lines) <= most:
        return Set(lines, size, said.marks)
    start = [*_starts(said.text, width, size, bold)][most - 1]
    last = _shorten(said.text[start:], width, size, bold)
    return Set((*lines[: most - 1], last), size, said.marks | {Mark.CUT})


def fit_area(
    text: str, width: float, height: float, size: float, least: float, bold: bool = False
) -> Set:
    """Wrap `text` into an area [mm], shrinking in half points, then shortening."""
    while size - 0.5 >= least and len(wrap(shown(text).text, width, size, bold)) > _rows(
        height, size
    ):
        size -= 0.5
    return fit_lines(text, width, max(1, _rows(height, size)), size, size, bold)


def _rows(height: float, size: float) -> int:
    return int(height / (size * LEADING * MM_PER_PT) + 1e-6)


@lru_cache(maxsize=4096)
def wrap(text: str, width: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """Break a text from `shown` into lines no wider than `width` [mm].

    Lines break at blanks; a word wider than the line is broken between letters.
    """
    starts = [*_starts(text, width, size, bold), len(text)]
    return tuple(text[start:end].strip(" ") for start, end in pairwise(starts))


def _starts(text: str, width: float, size: float, bold: bool) -> Iterator[int]:
    """Where each line begins."""
    at = len(text) - len(text.lstrip(" "))
    last = len(text.rstrip(" "))
    while at < last:
        yield at
        end = at + _most_letters(text[at:last], width, size, bold)
        if end < last and text[end] != " " and (blank := text.rfind(" ", at + 1, end)) > 0:
            end = blank
        while end < last and text[end] == " ":
            end += 1
        at = end


def _most_letters(text: str, width: float, size: float, bold: bool) -> int:
    """How many leading characters fit; at least one, and never a letter without its accent."""
    used, end = 0.0, 0
    for char in text:
        used += width_mm(char, size, bold)
        if used > width and end:
            break
        end += 1
    while 1 < end < len(text) and unicodedata.combining(text[end]):
        end -= 1
    return end


def _shorten(text: str, width: float, size: float, bold: bool) -> str:
    room = width - width_mm(ELLIPSIS, size, bold)
    return text[: _most_letters(text, room, size, bold)].rstrip(" ") + ELLIPSIS
