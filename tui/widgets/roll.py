"""A plain list with one line marked: short or thousands of lines, each drawn only when seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.segment import Segment
from rich.style import Style
from textual.events import Click
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from tui.plain import fit, tidy


@dataclass(frozen=True, slots=True)
class RollRow:
    """One line.

    Parameters
    ----------
    key : str
        What it is about; lines of headings have none.
    words : str
        What it says.
    minds : bool
        Whether it is marked with a ``!``.
    """

    key: str
    words: str
    minds: bool = False


class Roll(ScrollView, can_focus=False):
    """Lines under headings; the place that has it moves the mark."""

    DEFAULT_CSS = """
    Roll { height: 1fr; overflow-x: hidden; scrollbar-size-vertical: 1; }
    """

    class Moved(Message):
        """Another line is marked."""

    def __init__(self, ident: str = "roll") -> None:
        super().__init__(id=ident)
        self.rows: list[RollRow] = []
        self.at = 0

    @property
    def current(self) -> RollRow | None:
        """The marked line."""
        if self.at < len(self.rows) and self.rows[self.at].key:
            return self.rows[self.at]
        return None

    def show(self, rows: Sequence[RollRow]) -> None:
        """Show lines; the mark stays on what it was on."""
        key = self.current.key if self.current else ""
        self.rows = list(rows)
        keys = [row.key for row in self.rows]
        first = next((i for i, one in enumerate(keys) if one), 0)
        self.at = keys.index(key) if key and key in keys else first
        self._lay_out()

    def on_resize(self) -> None:
        """Lines are as wide as the list."""
        self._lay_out()

    def _lay_out(self) -> None:
        self.virtual_size = Size(self.scrollable_content_region.width, len(self.rows))
        self._bring_into_view()
        self.refresh()

    def move(self, by: int) -> None:
        """Move the mark by so many lines, over headings too; at an end it stays."""
        step, at, left = (1 if by > 0 else -1), self.at, abs(by)
        place = at
        while left and 0 <= place + step < len(self.rows):
            place += step
            if self.rows[place].key:
                at, left = place, left - 1
        self.put_at(at)

    def put_at(self, at: int) -> None:
        """Mark a line and bring it into view."""
        if 0 <= at < len(self.rows) and self.rows[at].key:
            self.at = at
            self._bring_into_view()
            self.refresh()
            self.post_message(self.Moved())

    def _bring_into_view(self) -> None:
        """Scroll no further than needed; what stands over the first line is seen with it."""
        top, height = self.scroll_offset.y, max(self.size.height, 1)
        above = self.at
        while above and not self.rows[above - 1].key:
            above -= 1
        if above < top:
            self.scroll_to(y=above, animate=False, immediate=True)
        elif self.at >= top + height:
            self.scroll_to(y=self.at - height + 1, animate=False, immediate=True)

    def on_click(self, event: Click) -> None:
        """Mark the line that was pointed at."""
        self.put_at(event.y + self.scroll_offset.y)

    def render_line(self, y: int) -> Strip:
        """Draw one line."""
        at, width = y + self.scroll_offset.y, self.scrollable_content_region.width
        base = self.rich_style
        if at >= len(self.rows):
            return Strip([Segment(" " * width, base)])
        row = self.rows[at]
        if not row.key:
            return Strip([Segment(fit(f" {tidy(row.words)}", width), base + _BOLD)])
        is_here = at == self.at
        sign = f"{'▌' if is_here else ' '}{'!' if row.minds else ' '}"
        words = fit(f"{sign} {tidy(row.words)}", width)
        return Strip([Segment(words, base + _HERE if is_here else base)])


_BOLD, _HERE = Style(bold=True), Style(reverse=True, bold=True)
