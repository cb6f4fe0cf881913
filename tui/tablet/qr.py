"""A QR code in half blocks, for a terminal: a tablet's camera reads it off the screen."""

from __future__ import annotations

import segno

_BORDER = 4  # modules, as ISO/IEC 18004 asks
_BLOCKS = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}


def code(text: str) -> list[str]:
    """Return lines of a QR code, two rows of it a line; to be shown dark on light.

    Parameters
    ----------
    text : str
        What it says.
    """
    made = segno.make(text, error="l", micro=False)
    rows = [[int(dark) for dark in row] for row in made.matrix_iter(border=_BORDER)]
    rows += [[0] * len(rows[0])] * (len(rows) % 2)
    return [
        "".join(_BLOCKS[above, below] for above, below in zip(*pair, strict=True))
        for pair in zip(rows[::2], rows[1::2], strict=True)
    ]
