"""What people typed is never markup: the only two ways user text reaches the screen."""

from __future__ import annotations

from rich.text import Text
from textual.content import Content

_SPACES = {ord(space): " " for space in "\t\n\r\x0b\x0c"}


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
