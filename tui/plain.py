"""What people typed is never markup: the only ways user text reaches the screen."""

from __future__ import annotations

from rich.cells import cell_len, set_cell_size
from rich.text import Text
from textual.content import Content

CUT = "…"
# Also the blanks that papers do not break a line at.
_SPACES = {ord(space): " " for space in "\t\n\r\x0b\x0c\xa0\u202f"}


def tidy(text: str) -> str:
    """Return text without anything a terminal could take for a command."""
    flat = str(text).translate(_SPACES)
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in flat)


def plain(text: str, style: str = "") -> Content:
    """Return text for Textual's own widgets, shown letter by letter."""
    return Content.styled(tidy(text), style) if style else Content(tidy(text))


def cell(text: str, style: str = "") -> Text:
    """Return text for a table's cell or a line drawn by hand, shown letter by letter."""
    return Text(tidy(text), style=style, no_wrap=True)


def fit(text: object, width: int, align: str = "left") -> str:
    """Return text in exactly so many terminal cells; what was cut away is marked.

    Parameters
    ----------
    text : object
        What is shown.
    width : int
        How wide it is to be [terminal cells].
    align : str
        ``left``; ``right`` for numbers; ``tail`` where the end of a text tells more.

    Examples
    --------
    >>> fit("C-1001", 8), fit("C-1001", 4), fit("C-1001", 4, "tail"), fit("7", 3, "right")
    ('C-1001  ', 'C-1…', '…001', '  7')
    """
    words = str(text)
    words = words[: 8 * width] if align != "tail" else words[-8 * width :]
    if words.isascii() and words.isprintable():  # nearly all: nothing to tidy or to measure
        size = len(words)
    else:
        words = tidy(words)
        size = cell_len(words)
    if size <= width:
        gap = " " * (width - size)
        return gap + words if align == "right" else words + gap
    if align == "tail":
        while cell_len(words) >= width and words:
            words = words[1:]
        return set_cell_size(CUT + words, width)
    return set_cell_size(words, max(width - 1, 0)) + CUT[:width]
