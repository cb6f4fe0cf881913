"""The ledger: any number of fills as lines, of which only those in sight are read.

It holds the numbers of the fills that are shown, and pages of their lines around where one
looks; a million of them is eight megabytes and one page.
"""

from __future__ import annotations

from array import array
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Sequence
from typing import Any, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import work
from textual.binding import Binding
from textual.events import Click, Key
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from tui.plain import fit
from tui.shown import Units
from tui.widgets.ledger_columns import Column, Line, columns

PAGE = 200  # lines read at once
KEPT = 20  # pages kept
Fetch = Callable[[list[int]], Awaitable[Sequence[Line] | None]]


class Ledger(ScrollView, can_focus=True):
    """Lines of fills, newest first, with one of them marked.

    Parameters
    ----------
    fetch : callable
        Reads the lines of some fills, off the screen's thread; None where it could not.
    typed : callable
        Takes a character typed here: that belongs to the search.  Called, not told by a
        message, so that a scanner's characters stay in order.
    """

    DEFAULT_CSS = """
    Ledger { height: 1fr; scrollbar-size-vertical: 1; overflow-x: hidden; overflow-y: scroll; }
    Ledger > .ledger--head { text-style: bold underline; background: $panel; }
    Ledger > .ledger--cursor { text-style: reverse; }
    Ledger:focus > .ledger--cursor { text-style: bold reverse; }
    Ledger > .ledger--unsafe { text-style: bold; color: $warning; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {"ledger--head", "ledger--cursor", "ledger--unsafe"}
    BINDINGS: ClassVar[list[Binding]] = [  # type: ignore[assignment]  # narrower than the toolkit's
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home", "end(0)", show=False),
        Binding("end", "end(1)", show=False),
        Binding("enter", "choose", show=False),
    ]

    class Moved(Message):
        """Another line is marked, or the marked line was read."""

    class Chosen(Message):
        """Somebody wants the marked fill's story."""

    def __init__(self, fetch: Fetch, typed: Callable[[str], None]) -> None:
        super().__init__(id="ledger")
        self.numbers: array[int] = array("q")
        self.cursor = 0
        self.units = Units()
        self._fetch, self._typed = fetch, typed
        self._round = 0  # a line read for an earlier list, or before a change, is stale
        self._pages: OrderedDict[int, tuple[int, dict[int, Line]]] = OrderedDict()
        self._wanted: list[int] = []
        self._reading = False
        self._columns: tuple[tuple[int, int], list[Column]] = ((0, 0), [])

    # -- what is shown ---------------------------------------------------------------------

    def show(self, numbers: array[int], cursor: int = 0) -> None:
        """Show other fills, with one of them marked."""
        self.numbers, self.cursor = numbers, max(min(cursor, len(numbers) - 1), 0)
        self._pages.clear()
        self._round += 1
        self._fit()
        self._follow()

    def reread(self) -> None:
        """Read the lines in sight again: something was entered meanwhile."""
        self._round += 1
        self._want()
        self.refresh()

    @property
    def number(self) -> int:
        """The marked fill, 0 if there is none."""
        return self.numbers[self.cursor] if self.numbers else 0

    @property
    def line(self) -> Line | None:
        """The marked fill's line; None while it is being read."""
        return self._line(self.cursor) if self.numbers else None

    def on_resize(self) -> None:
        """Fit the columns to the width."""
        self._fit()
        self._follow()

    def _fit(self) -> None:
        self.virtual_size = Size(1, len(self.numbers) + 1)

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        """Read what comes into sight."""
        super().watch_scroll_y(old_value, new_value)
        self._want()

    # -- moving ----------------------------------------------------------------------------

    def turn(self, to: int) -> None:
        """Mark a line and bring it into sight."""
        self.cursor = max(min(to, len(self.numbers) - 1), 0)
        self._follow()

    def action_move(self, by: int) -> None:
        """Mark the line above or below."""
        self.turn(self.cursor + by)

    def action_page(self, by: int) -> None:
        """Go a screen up or down."""
        self.turn(self.cursor + by * max(self._rows - 1, 1))

    def action_end(self, last: int) -> None:
        """Go to the newest or the oldest."""
        self.turn((len(self.numbers) - 1) * last)

    def action_choose(self) -> None:
        """Ask for the marked fill's story."""
        if self.numbers:
            self.post_message(self.Chosen())

    def on_click(self, event: Click) -> None:
        """Mark the line pointed at; pointed at again, open it."""
        to = self.scroll_offset.y + event.y - 1
        if event.y < 1 or to >= len(self.numbers):
            return
        if to == self.cursor:
            self.action_choose()
        else:
            self.turn(to)

    def on_key(self, event: Key) -> None:
        """Hand what is typed to the search."""
        if event.is_printable and event.character:
            event.stop()
            self._typed(event.character)

    @property
    def _rows(self) -> int:
        return max(self.size.height - 1, 1)

    def _follow(self) -> None:
        """Scroll as little as shows the marked line."""
        top = self.scroll_offset.y
        if self.cursor < top:
            top = self.cursor
        elif self.cursor >= top + self._rows:
            top = self.cursor - self._rows + 1
        if top != self.scroll_offset.y:
            self.scroll_to(y=top, animate=False, immediate=True, force=True)
        self._want()
        self.refresh()
        self.post_message(self.Moved())

    # -- reading pages ---------------------------------------------------------------------

    def _line(self, at: int) -> Line | None:
        page = self._pages.get(at // PAGE)
        return page[1].get(self.numbers[at]) if page else None

    def _want(self) -> None:
        """Have the pages in sight read, and those a screen away."""
        if not self.numbers:
            return
        top, rows = self.scroll_offset.y, self._rows
        last = len(self.numbers) - 1
        sight = [max(top - rows, 0), min(top + 2 * rows, last), min(top + rows, last),
                 min(self.cursor, last), min(top, last)]  # fmt: skip
        pages = dict.fromkeys(at // PAGE for at in sight)
        self._wanted = [page for page in pages if not self._is_fresh(page)]
        if self._wanted and not self._reading and self.is_mounted:
            self._reading = True
            self._read()

    def _is_fresh(self, page: int) -> bool:
        return page in self._pages and self._pages[page][0] == self._round

    @work(group="pages")
    async def _read(self) -> None:
        """Read what is wanted, what is in sight first; what is not wanted any more, never."""
        try:
            while self._wanted:
                page, this_round = self._wanted.pop(), self._round
                numbers = list(self.numbers[page * PAGE : (page + 1) * PAGE])
                lines = await self._fetch(numbers)
                if lines is None:
                    self._wanted.clear()
                elif this_round == self._round:
                    self._keep(page, lines)
                else:
                    self._want_again(page)
        finally:
            self._reading = False

    def _want_again(self, page: int) -> None:
        if page * PAGE < len(self.numbers) and page not in self._wanted:
            self._want()

    def _keep(self, page: int, lines: Sequence[Line]) -> None:
        self._pages[page] = (self._round, {line["fill"]: line for line in lines})
        self._pages.move_to_end(page)
        while len(self._pages) > KEPT:
            self._pages.popitem(last=False)
        self.refresh()
        if page == self.cursor // PAGE:
            self.post_message(self.Moved())

    # -- drawing ---------------------------------------------------------------------------

    def render_line(self, y: int) -> Strip:
        """Draw one line of what is in sight; the first is the heading."""
        room = (self.size.width, len(str(self.numbers[0])) if self.numbers else 1)
        if self._columns[0] != room:
            self._columns = (room, columns(*room))
        at = self.scroll_offset.y + y - 1
        if y == 0:
            heads = (fit(one.heading, one.width, one.align) for one in self._columns[1])
            text, style = " " + " ".join(heads), self.get_component_rich_style("ledger--head")
            return self._strip([Segment(text, style)], style)
        if at >= len(self.numbers):
            return self._strip([], self.rich_style)
        return self._fill(at)

    def _fill(self, at: int) -> Strip:
        is_marked = at == self.cursor
        base = self.rich_style
        if is_marked:
            base += self.get_component_rich_style("ledger--cursor", partial=True)
        segments = [Segment("▌" if is_marked else " ", base)]
        line = self._line(at)
        for place, one in enumerate(self._columns[1]):
            if line is None:
                said = str(self.numbers[at]) if place == 0 else "…" if place == 1 else ""
            else:
                said = one.says(line, self.units)
            style = base
            if one.is_sign and said:
                style = base + self.get_component_rich_style("ledger--unsafe", partial=True)
            gap = " " if place else ""
            segments += [Segment(gap, base), Segment(fit(said, one.width, one.align), style)]
        return self._strip(segments, base)

    def _strip(self, segments: list[Segment], style: Style) -> Strip:
        return Strip(segments).adjust_cell_length(self.size.width, style)


def place_of(numbers: Sequence[Any], number: int) -> int:
    """Return where a fill is in numbers from the newest down, or the next older one's place."""
    low, high = 0, len(numbers)
    while low < high:
        middle = (low + high) // 2
        if numbers[middle] > number:
            low = middle + 1
        else:
            high = middle
    return low
