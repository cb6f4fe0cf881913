"""Reads a finished paper back: its text, fonts and QR code, where each glyph lies, if it shows."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable

import pypdf
import pypdfium2 as pdfium
import zxingcpp
from PIL import Image

MM = 72.0 / 25.4
Glyph = tuple[str, float, float, float, float]  # left, bottom, right and top of its ink [mm]
_CONTRAST = 100  # of 255: a thin stroke between two pixels greys, and is read all the same


def texts(pdf: bytes) -> list[str]:
    """Text of each page, blanks made plain and single."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return [" ".join(page.extract_text().split()) for page in pages]


def sizes_mm(pdf: bytes) -> set[tuple[float, float]]:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    boxes = {(float(page.mediabox.width), float(page.mediabox.height)) for page in pages}
    return {(round(width / MM, 2), round(height / MM, 2)) for width, height in boxes}


def unembedded_fonts(pdf: bytes) -> list[str]:
    found = []
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for name, font in page["/Resources"]["/Font"].items():
            descriptor = font.get_object().get("/FontDescriptor", {})
            if "/FontFile2" not in descriptor:
                found.append(name)
    return found


def rasters(pdf: bytes, scale: float = 3.0) -> list[Image.Image]:
    document = pdfium.PdfDocument(pdf)
    try:
        return [page.render(scale=scale).to_pil() for page in document]
    finally:
        document.close()


def qr_texts(image: Image.Image) -> list[str]:
    return [code.text for code in zxingcpp.read_barcodes(image)]


def ink(pdf: bytes) -> list[list[Glyph]]:
    """For each page: every visible glyph and its ink's left, bottom, right and top [mm]."""
    document = pdfium.PdfDocument(pdf)
    try:
        return [_page_ink(page) for page in document]
    finally:
        document.close()


def _page_ink(page) -> list[Glyph]:
    text = page.get_textpage()
    found = []
    for index in range(text.count_chars()):
        char = text.get_text_range(index, 1)
        box = [edge / MM for edge in text.get_charbox(index)]
        if char.strip() and box[2] - box[0] > 1e-3 and box[3] - box[1] > 1e-3:
            found.append((char, *box))
    return found


def collisions(glyphs: list[Glyph]) -> list[str]:
    """Pairs of glyphs whose ink boxes share more than a sixth of the smaller one."""
    found = []
    ordered = sorted(glyphs, key=lambda glyph: glyph[1])
    for index, one in enumerate(ordered):
        for other in ordered[index + 1 :]:
            if other[1] >= one[3]:
                break
            shared = (min(one[3], other[3]) - max(one[1], other[1])) * max(
                0.0, min(one[4], other[4]) - max(one[2], other[2])
            )
            smaller = min((g[3] - g[1]) * (g[4] - g[2]) for g in (one, other))
            if shared > smaller / 6.0:
                found.append(f"{one[0]!r} at {one[1:3]} and {other[0]!r} at {other[1:3]}")
    return found


def outside(glyphs, width: float, height: float, margin: float) -> list[str]:
    return [
        f"{char!r} at {left:.1f}, {bottom:.1f}"
        for char, left, bottom, right, top in glyphs
        if min(left, bottom, width - right, height - top) < margin
    ]


def unseen(page: Image.Image, glyphs: Iterable[Glyph], scale: float) -> list[str]:
    """Glyphs that nobody can read: no light beside dark in a rendered page, around their ink."""
    grey = page.convert("L")
    found = []
    for char, *edges in glyphs:
        left, bottom, right, top = (edge * MM * scale for edge in edges)
        around = (left - 2, grey.height - top - 2, right + 2, grey.height - bottom + 2)
        darkest, lightest = grey.crop([*map(round, around)]).getextrema()
        if lightest - darkest < _CONTRAST:
            found.append(f"{char!r} at {edges[0]:.1f}, {edges[1]:.1f} cannot be seen")
    return found


def flaws(pdf: bytes, margin: float, scale: float = 3.0) -> list[str]:
    """What is wrong with any page: ink beyond the margin [mm], on other ink, or not to be seen."""
    found = []
    for glyphs, image in zip(ink(pdf), rasters(pdf, scale), strict=True):
        width, height = (pixels / scale / MM for pixels in image.size)
        found += outside(glyphs, width, height, margin)
        found += collisions(glyphs)
        found += unseen(image, glyphs, scale)
    return found


def dark_pixels_around_qr(image: Image.Image, modules: int) -> int:
    """Dark pixels in the blank border a QR code must have: here 3.5 modules on each side."""
    grey = image.convert("L")
    count = 0
    for code in zxingcpp.read_barcodes(image):
        corners = (
            code.position.top_left,
            code.position.top_right,
            code.position.bottom_left,
            code.position.bottom_right,
        )
        left, right = min(c.x for c in corners), max(c.x for c in corners)
        top, bottom = min(c.y for c in corners), max(c.y for c in corners)
        border = math.floor(3.5 * (right - left) / modules)
        clear = 2  # corners are found to about a pixel
        outer = grey.crop((left - border, top - border, right + border, bottom + border))
        inner = grey.crop((left - clear, top - clear, right + clear, bottom + clear))
        count += _dark(outer) - _dark(inner)
    return count


def _dark(image: Image.Image) -> int:
    return sum(image.histogram()[:200])
