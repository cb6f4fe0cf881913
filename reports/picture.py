"""A paper as a picture, for a label printer or a screen that takes no PDF."""

from __future__ import annotations

from io import BytesIO

import pypdfium2

DOTS_PER_INCH = 300.0
_POINTS_PER_INCH = 72.0


def pngs(pdf: bytes, dots_per_inch: float = DOTS_PER_INCH) -> list[bytes]:
    """Return each page of a paper as a PNG, in shades of grey.

    Parameters
    ----------
    pdf : bytes
        The paper.
    dots_per_inch : float
        How fine [1/in]; 203 and 300 are the usual label printers (common practice, no source).
    """
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [_png(page, dots_per_inch) for page in document]
    finally:
        document.close()


def _png(page: pypdfium2.PdfPage, dots_per_inch: float) -> bytes:
    drawn = page.render(scale=dots_per_inch / _POINTS_PER_INCH, grayscale=True)
    out = BytesIO()
    drawn.to_pil().save(out, "PNG", dpi=(dots_per_inch, dots_per_inch))
    return out.getvalue()
