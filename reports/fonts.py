r"""The letters of the papers: which embedded font has a character, and how wide it is.

No text is drawn with a glyph missing in silence.  A character no font has is printed as
`MISSING_SIGN`; a control, format or direction character, which would act instead of
showing, is printed as an escape such as ``\u{202E}``.  Both are declared by a `Mark`,
which the paper turns into a note.  Right-to-left text is printed in stored order, and
says so.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from importlib.resources import files
from io import BytesIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

MM_PER_PT = 25.4 / 72.0
SANS, BOLD, WIDE = "FillSans", "FillSansBold", "FillWide"
_FILES = {
    SANS: "DejaVuSans.ttf",
    BOLD: "DejaVuSans-Bold.ttf",
    WIDE: "DroidSansFallback.ttf",  # Chinese, Japanese, Korean; read only when a text needs it
}
MISSING_SIGN = "▯"
_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Co", "Zl", "Zp"})
# Letters that have a width but no ink, so that two texts would look alike.
_BLANK = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2800\u3164\uffa0")


class Mark(StrEnum):
    """Something a paper must declare because a text is not printed exactly as stored."""

    MISSING = f"{MISSING_SIGN} = some letters are not in this paper's fonts"
    HIDDEN = "\\u{...} = control character"
    RTL = "right-to-left text is in stored order"
    CUT = "… = shortened"


@dataclass(frozen=True, slots=True)
class Shown:
    """A text as it will be printed, and what has to be declared about it."""

    text: str
    marks: frozenset[Mark]


def shown(text: str) -> Shown:
    """Return `text` with every character printable, and the marks of what was replaced."""
    if text.isascii() and text.isprintable():
        return Shown(text, frozenset())
    return _shown(text)


@lru_cache(maxsize=4096)
def _shown(text: str) -> Shown:
    pieces: list[str] = []
    marks: set[Mark] = set()
    for char in text:
        if unicodedata.category(char) in _UNSHOWN or char in _BLANK:
            pieces.append(f"\\u{{{ord(char):04X}}}")
            marks.add(Mark.HIDDEN)
            continue
        covered = _font_of(char, False) is not None
        pieces.append(char if covered else MISSING_SIGN)
        if not covered:
            marks.add(Mark.MISSING)
        if unicodedata.bidirectional(char) in ("R", "AL"):
            marks.add(Mark.RTL)
    return Shown("".join(pieces), frozenset(marks))


@lru_cache(maxsize=4096)
def runs(text: str, bold: bool) -> tuple[tuple[str, str], ...]:
    """Split a text from `shown` into (font name, piece) by which font has the letters."""
    found: list[tuple[str, str]] = []
    for char in text:
        name = _font_of(char, bold) or SANS
        if found and found[-1][0] == name:
            found[-1] = (name, found[-1][1] + char)
        else:
            found.append((name, char))
    return tuple(found)


def width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Width [mm] of a text from `shown`, set at `size_pt`."""
    return _ems(text, bold) * size_pt * MM_PER_PT


@lru_cache(maxsize=4096)
def _ems(text: str, bold: bool) -> float:
    return sum(_em(char, bold) for char in text)


@lru_cache(maxsize=8192)
def _em(char: str, bold: bool) -> float:
    widths = _font(_font_of(char, bold) or SANS).face.charWidths
    return float(widths.get(ord(char), 0)) / 1000.0


@lru_cache(maxsize=8192)
def _font_of(char: str, bold: bool) -> str | None:
    # The PDF's text layer can name characters of the basic plane only.
    if ord(char) > 0xFFFF:
        return None
    for name in (BOLD, SANS, WIDE) if bold else (SANS, WIDE):
        if ord(char) in _font(name).face.charToGlyph:
            return name
    return None


@lru_cache(maxsize=8)
def _font(name: str) -> TTFont:
    data = (files("reports") / "fonts" / _FILES[name]).read_bytes()
    font = TTFont(name, BytesIO(data), asciiReadable=0)
    pdfmetrics.registerFont(font)
    return font
