"""One fill's whole story on one screen: what was planned, read, refused, analysed and signed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Static

from blender.record import read
from blender.record.journal import Record
from blender.station import book
from tui.keys import COMMANDS
from tui.places.book_papers import Papers
from tui.places.story_text import told

_KEYS = (
    "book.previous",
    "book.next",
    "book.label",
    "book.papers",
    "book.history",
    "book.amend",
    "book.void",
)
_UNSEEN = ("book.void", "book.history", "book.papers")  # by their keys, in help and palette alone


def _bindings() -> list[Binding]:
    own = {one.ident: one for one in COMMANDS if one.ident in _KEYS}
    return [
        Binding(own[ident].key, own[ident].action, own[ident].label, id=ident,
                show=ident not in _UNSEEN, tooltip=own[ident].text)
        for ident in _KEYS
    ]  # fmt: skip


class Story(Papers):
    """The story of one fill, over the Book.

    Parameters
    ----------
    numbers : sequence of int
        The fills of the list it was opened from.
    at : int
        Which of them.
    turned : callable
        Told which of them is shown, so that the list follows.
    """

    NAME = "book"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "Back"),
        *_bindings(),
        Binding("left", "step(-1)", show=False),
        Binding("right", "step(1)", show=False),
    ]
    DEFAULT_CSS = """
    Story VerticalScroll { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    """
    HELP_TEXT = (
        "Everything the record has of this fill. Left and right go through the fills of the list; "
        "alt+e prints its papers, alt+i shows its cylinder's history; alt+m amends what was "
        "entered wrongly and alt+z voids the fill (a manager signs, with a reason; the old "
        "stays); alt+y copies the line that proves it, to be held against the record by Verify."
    )

    def __init__(self, numbers: Sequence[int], at: int, turned: Callable[[int], None]) -> None:
        super().__init__()
        self._numbers, self._at, self._turned = numbers, at, turned
        self._anchor = ""
        self.story: dict[str, Any] | None = None

    def middle(self) -> ComposeResult:
        """One text to scroll through."""
        with VerticalScroll(id="whole", can_focus=True):
            yield Static("", id="told")

    def take_keys(self) -> None:
        """Scroll by the keyboard."""
        self.query_one("#whole").focus()

    @property
    def number(self) -> int:
        """The fill that is shown."""
        return self._numbers[self._at]

    def fill_shown(self) -> int:
        """Return the fill whose story it is."""
        return self.number

    def renew(self) -> None:
        """Read the story again and show it."""
        self._renew()

    @work(exclusive=True, group="renew")
    async def _renew(self) -> None:
        found = await self.look(_story, self.number)
        if found is not None and found[0]["fill"] == self.number:
            self.story, self._anchor = found
            self.query_one("#told", Static).update(told(self.story, self.terminal.units))

    def action_step(self, by: int) -> None:
        """Go to another fill of the list."""
        to = self._at + by
        if not 0 <= to < len(self._numbers):
            self.say("note", "There is no further fill in this list.")
            return
        self._at, self._anchor, self.story = to, "", None
        self._turned(to)
        self.query_one("#whole").scroll_home(animate=False)
        self.renew()

    @work
    async def action_label(self) -> None:
        """Print the label of this fill again."""
        from tui.papers import print_label

        if path := await self.look(print_label, self.terminal.house, self.number):
            self.say("done", f"Label: {path}")

    def action_leave(self) -> None:
        """Go back to the list."""
        self.app.pop_screen()

    def value_to_copy(self) -> str:
        """Return the line that proves it."""
        return self._anchor


def _story(record: Record, number: int) -> tuple[dict[str, Any], str]:
    """Return a fill's story, and the anchor of its label, else of its last entry."""
    found = book.story(record, number)
    with record.read() as conn:
        entries = read.entries_of_fill(conn, record.station, number)
    signed = [entry for entry in entries if entry.seal is not None]
    last = (signed or entries)[-1:]
    return found, last[0].anchor.text if last else ""
