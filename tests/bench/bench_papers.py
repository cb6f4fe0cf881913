"""A fill log of 10 000 rows, beside a bare canvas that draws the same strings at the same places.

Run it by hand: ``python -m tests.bench.bench_papers``.  The limit is 1.3 times the bare canvas.
Both take turns in one process, so that a slower machine slows both.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO
from statistics import median
from unittest import mock

from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject

from reports.fill_log import fill_log_pdf
from tests.reports.samples import log

ROWS = 10_000
LIMIT = 1.3
ROUNDS = 5
# What was drawn: font and size, a string and where it stands, or the end of a page.
Drawn = list[tuple[str, float, float, float, str] | None]


@contextmanager
def _watched(drawn: Drawn) -> Iterator[None]:
    """Take down every string and page end while a paper is made."""
    write, end = PDFTextObject.textLine, Canvas.showPage

    def line(piece: PDFTextObject, text: str = "") -> None:
        x, y = piece.getCursor()
        drawn.append((piece._fontname, piece._fontsize, x, y, text))
        write(piece, text)

    def page(canvas: Canvas) -> None:
        drawn.append(None)
        end(canvas)

    with (
        mock.patch.object(PDFTextObject, "textLine", line),
        mock.patch.object(Canvas, "showPage", page),
    ):
        yield


def bare(drawn: Drawn) -> bytes:
    """Draw the strings and nothing else."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=(842.0, 595.0), pageCompression=1, invariant=1)
    before = None
    for one in drawn:
        if one is None:
            canvas.showPage()
            before = None
            continue
        font, size, x, y, text = one
        if before != (font, size):
            before = (font, size)
            canvas.setFont(font, size)
        canvas.drawString(x, y, text)
    canvas.save()
    return out.getvalue()


def _taken_s(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def main() -> int:
    """Print both times and their ratio; 1 if the log is over the limit."""
    view = log(ROWS)
    drawn: Drawn = []
    with _watched(drawn):
        fill_log_pdf(view)
    pairs = [
        (_taken_s(lambda: fill_log_pdf(view)), _taken_s(lambda: bare(drawn))) for _ in range(ROUNDS)
    ]
    ours, theirs = (min(times) for times in zip(*pairs, strict=True))
    ratio = median(one / other for one, other in pairs)
    strings = sum(one is not None for one in drawn)
    print(f"fill log of {ROWS} rows, {strings} strings: {ours:.2f} s")
    print(f"bare canvas: {theirs:.2f} s; ratio {ratio:.2f} (limit {LIMIT})")
    return int(ratio > LIMIT)


if __name__ == "__main__":
    sys.exit(main())
