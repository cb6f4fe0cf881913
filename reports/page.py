"""A page to draw on: millimetres from the upper left corner, embedded fonts, same bytes.

User text reaches the page through `line` and `block` alone, which draw plain strings:
nothing in it is ever markup.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Literal

import segno
from reportlab.pdfgen.canvas import Canvas

from blender.station.views import Stamp
from reports.fonts import MM_PER_PT, SANS, Mark, runs, shown, width_mm
from reports.typeset import LEADING, Set, fit_line, fit_lines
from reports.wording import moment, program

Align = Literal["left", "right", "centre"]
PT_PER_MM = 1.0 / MM_PER_PT
_RECORD_HOLDS = "the record holds the text whole"


@dataclass(frozen=True, slots=True)
class About:
    """What the file says of itself; `dated` is a time from the record, never the clock."""

    title: str
    subject: str
    author: str
    keywords: str
    dated: Stamp


class Page:
    """A document being drawn, one page after another.

    `origin` moves everything drawn after it, and `scale` sizes it: a label is drawn the
    same on a roll and on each place of a sheet.  `marks` collects what the texts drawn so
    far have to declare.
    """

    def __init__(self, width: float, height: float, about: About) -> None:
        self._height = height
        self._file = BytesIO()
        self._canvas = Canvas(
            self._file,
            pagesize=(width * PT_PER_MM, height * PT_PER_MM),
            pageCompression=1,
            invariant=1,
            initialFontName=_ready_font(),
            lang="en",
        )
        _describe(self._canvas, about)
        self.origin = (0.0, 0.0)
        self.scale = 1.0
        self.marks: set[Mark] = set()
        self._font = ("", 0.0)  # none is set at the beginning of a page

    def line(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        width: float = 1e6,
        least: float = 0.0,
        bold: bool = False,
        align: Align = "left",
        white: bool = False,
    ) -> float:
        """Draw one line with its baseline at `y` and return its width [mm].

        It shrinks to `width`, and is shortened only if a `least` size [pt] is given and too
        wide.  `x` is its left edge, right edge or middle, as `align` says.
        """
        fitted = fit_line(text, width, size, least, bold)
        self.marks |= fitted.marks
        (said,), wide = fitted.lines, width_mm(fitted.lines[0], fitted.size_pt, bold)
        x -= {"left": 0.0, "right": wide, "centre": wide / 2.0}[align]
        if white:
            self._canvas.setFillGray(1.0)
        self._string(x, y, said, fitted.size_pt, bold)
        if white:
            self._canvas.setFillGray(0.0)
        return wide

    def block(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        width: float,
        most: int = 1000,
        least: float = 0.0,
        bold: bool = False,
    ) -> float:
        """Draw wrapped text below `y` and return where it ends."""
        fitted = fit_lines(text, width, most, size, least or size, bold)
        return self.put(x, y, fitted, bold=bold)

    def put(self, x: float, y: float, fitted: Set, *, bold: bool = False) -> float:
        """Draw lines that were set before, below `y`, and return where they end."""
        self.marks |= fitted.marks
        size, pitch = fitted.size_pt, fitted.size_pt * LEADING * MM_PER_PT
        fonts = {font for text in fitted.lines for font, _ in runs(text, bold)}
        if len(fonts) == 1:  # almost always: then the lines are one piece of text
            self._set(fonts.pop(), size)
            piece = self._canvas.beginText(*self._at(x, y + pitch * 0.8))
            for text in fitted.lines:
                piece.textLine(text)
            self._canvas.drawText(piece)
        else:
            for number, text in enumerate(fitted.lines):
                self._string(x, y + pitch * (number + 0.8), text, size, bold)
        return y + pitch * len(fitted.lines)

    def rule(self, x: float, y: float, x2: float, y2: float, weight: float = 0.25) -> None:
        """Draw a straight line `weight` mm thick."""
        self._canvas.setLineWidth(weight * self.scale * PT_PER_MM)
        self._canvas.line(*self._at(x, y), *self._at(x2, y2))

    def box(self, x: float, y: float, width: float, height: float, *, weight: float = 0.25) -> None:
        """Draw a frame; with `weight` 0 a black area."""
        left, bottom = self._at(x, y + height)
        self._canvas.setLineWidth(max(weight, 0.01) * self.scale * PT_PER_MM)
        size = (width * self.scale * PT_PER_MM, height * self.scale * PT_PER_MM)
        self._canvas.rect(left, bottom, *size, stroke=int(weight > 0), fill=int(weight == 0))

    def strokes(self, x: float, y: float, width: float, height: float, strokes: _Strokes) -> None:
        """Draw pen strokes (y downwards, as on a screen) as large as the area allows."""
        placed = scaled_strokes(strokes, width, height)
        self._canvas.setLineWidth(0.22 * self.scale * PT_PER_MM)
        self._canvas.setLineCap(1)
        self._canvas.setLineJoin(1)
        path = self._canvas.beginPath()
        for stroke in placed:
            points = [self._at(x + dx, y + dy) for dx, dy in stroke]
            path.moveTo(*points[0])
            for point in points[1:] or points:
                path.lineTo(*point)
        self._canvas.drawPath(path, stroke=1, fill=0)
        self._canvas.setLineCap(0)
        self._canvas.setLineJoin(0)

    def qr(self, x: float, y: float, side: float, text: str) -> None:
        """Draw a QR code with dark modules over `side` mm; keep 4 modules blank around."""
        rows = [bytes(row) for row in segno.make(text, error="m", micro=False).matrix]
        module = side / len(rows)
        path = self._canvas.beginPath()
        for number, row in enumerate(rows):
            for start, length in _dark_stretches(row):
                left, bottom = self._at(x + start * module, y + (number + 1) * module)
                step = module * self.scale * PT_PER_MM
                path.rect(left, bottom, length * step, step)
        self._canvas.drawPath(path, stroke=0, fill=1)

    def next(self) -> None:
        """End this page and begin another."""
        self._canvas.showPage()
        self._font = ("", 0.0)

    def finish(self) -> bytes:
        """End the document and return it."""
        self._canvas.showPage()
        self._canvas.save()
        return self._file.getvalue()

    def _at(self, x: float, y: float) -> tuple[float, float]:
        left, top = self.origin
        return (
            (left + x * self.scale) * PT_PER_MM,
            (self._height - top - y * self.scale) * PT_PER_MM,
        )

    def _string(self, x: float, y: float, text: str, size: float, bold: bool) -> None:
        for font, piece in runs(text, bold):
            self._set(font, size)
            self._canvas.drawString(*self._at(x, y), piece)
            x += width_mm(piece, size, bold)

    def _set(self, font: str, size: float) -> None:
        """Go on in a font; only a change is written into the file."""
        if self._font != (font, size * self.scale):
            self._font = (font, size * self.scale)
            self._canvas.setFont(*self._font, leading=size * self.scale * LEADING)


_Strokes = Sequence[Sequence[tuple[float, float]]]


def note(marks: Iterable[Mark]) -> str:
    """Return the sentence that declares `marks`, empty if there are none."""
    said = [mark.value for mark in Mark if mark in set(marks)]
    return "; ".join([*said, _RECORD_HOLDS]) if said else ""


def scaled_strokes(
    strokes: _Strokes, width: float, height: float
) -> list[list[tuple[float, float]]]:
    """Scale pen strokes into an area, in its middle, keeping their proportion.

    Points that are no numbers are left out.
    """
    finite = [[point for point in stroke if all(map(math.isfinite, point))] for stroke in strokes]
    drawn = [stroke for stroke in finite if stroke]
    if not drawn:
        return []
    xs = [point[0] for stroke in drawn for point in stroke]
    ys = [point[1] for stroke in drawn for point in stroke]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    factor = min(width / wide if wide else 1e9, height / high if high else 1e9)
    factor = 0.0 if factor == 1e9 else factor
    left = (width - wide * factor) / 2.0 - min(xs) * factor
    top = (height - high * factor) / 2.0 - min(ys) * factor
    return [[(left + x * factor, top + y * factor) for x, y in stroke] for stroke in drawn]


def _ready_font() -> str:
    runs(" ", False)
    return SANS


def _describe(canvas: Canvas, about: About) -> None:
    canvas.setTitle(shown(about.title).text)
    canvas.setSubject(shown(about.subject).text)
    canvas.setAuthor(shown(about.author).text)
    canvas.setKeywords(shown(about.keywords).text)
    canvas.setCreator(program())
    canvas.setProducer(program())
    # Printers must not shrink a label to their idea of a margin.
    canvas.setViewerPreference("PrintScaling", "None")
    dated = moment(about.dated)
    zone = dated.strftime("%z")
    stated = f"D:{dated:%Y%m%d%H%M%S}{zone[:3]}'{zone[3:5]}'"
    canvas.setDateFormatter(lambda *_: stated)
    # The file's identity starts from the environment's SOURCE_DATE_EPOCH; ours never does.
    document = canvas._doc  # noqa: SLF001 - the toolkit has no door to it
    document.signature = hashlib.md5(stated.encode(), usedforsecurity=False)


def _dark_stretches(row: bytes) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for at, dark in enumerate(row):
        if not dark:
            continue
        if found and sum(found[-1]) == at:
            found[-1] = (found[-1][0], found[-1][1] + 1)
        else:
            found.append((at, 1))
    return found
