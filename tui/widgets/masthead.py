"""The top line: where one stands, who is signed in, and what nobody may breathe."""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static

from tui.keys import PLACES
from tui.plain import plain


class Masthead(Static):
    """One line over every place.

    Parameters
    ----------
    place : str
        The place it stands over.
    """

    DEFAULT_CSS = """
    Masthead { height: 1; background: $panel; color: $foreground; }
    """

    def __init__(self, place: str) -> None:
        super().__init__(id="masthead")
        self._place = place
        self._facts = ("", "", "", 0)

    def tell(self, actor: str, units: str, time: str, unsafe: int) -> None:
        """Show who, in which units, what time it is, and how many must not be breathed."""
        self._facts = (actor, units, time, unsafe)
        self._draw()

    def on_resize(self) -> None:
        """Fit the line to the width."""
        self._draw()

    def _draw(self) -> None:
        actor, units, time, unsafe = self._facts
        left = Content.assemble(*(self._tab(place) for place in PLACES))
        warn = f" ! {unsafe} DO NOT BREATHE " if unsafe else ""
        right, room = [time], self.size.width - len(left) - len(warn) - len(time) - 2
        for more in (actor, units):  # what must not be breathed comes before both
            if more and len(more) + 2 <= room:
                right.insert(0, more)
                room -= len(more) + 2
        words, gap = "  ".join(right), " " * max(room, 1)
        self.update(Content.assemble(left, (warn, "bold reverse $warning"), gap, plain(words), " "))

    def _tab(self, place: str) -> Content:
        style = "bold reverse" if place == self._place else ""
        name = place.capitalize()
        return Content.assemble((" ", style), (name[0], f"underline {style}"),
                                (f"{name[1:]} ", style))  # fmt: skip
