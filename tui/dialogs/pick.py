"""A list over a place, one line of it chosen; the marked line stands in full below."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from tui.dialogs.dialog import Dialog
from tui.plain import plain
from tui.widgets.fitted import Fitted
from tui.widgets.roll import Roll, RollRow

ENTER = "enter"
_MOVES = {"up": -1, "down": 1, "pageup": -12, "pagedown": 12, "home": -1_000_000, "end": 1_000_000}
# A line of the list, and what it says in full.
Told = Sequence[tuple[RollRow, str]]


class Pick(Dialog[tuple[str, str] | None]):
    """Waits for a key on a line; its answer is that key and the line's own, None if it was left.

    Parameters
    ----------
    title : str
        What the lines are.
    told : sequence of (RollRow, str)
        The lines; those without a key are headings.
    chosen : str
        What Enter does; nothing where it is empty.
    offers : mapping
        What else can be done: key and words, such as ``{"n": "add one"}``.
    at : str
        The key of the line that is marked to begin with; else the first.
    """

    DEFAULT_CSS = """
    Pick { align: center middle; }
    Pick #list-of-it { width: 100%; max-width: 110; height: 100%; padding: 0 1;
        background: $surface; border: solid $primary; }
    Pick #all-of-it { height: auto; min-height: 1; max-height: 6; background: $panel; }
    Pick #offers { height: auto; background: $panel; }
    """
    KEYS: ClassVar[tuple[tuple[str, str], ...]] = (
        ("up, down", "Another line"),
        ("enter", "What stands below"),
        ("esc", "Leave it"),
    )
    HELP_TEXT = "Up and down choose a line, which stands in full below the list."

    def __init__(
        self,
        title: str,
        told: Told,
        chosen: str,
        offers: Mapping[str, str] | None = None,
        at: str = "",
    ) -> None:
        super().__init__()
        self._title, self._told, self._at = title, list(told), at
        self._offers = {**({ENTER: chosen} if chosen else {}), **(offers or {})}
        self.KEYS = (Pick.KEYS[0], *self._offers.items(), Pick.KEYS[-1])  # type: ignore[misc]  # of this list

    def compose(self) -> ComposeResult:
        """Title, lines, the marked one in full, what can be done."""
        with Vertical(id="list-of-it"):
            yield Static(plain(self._title, "bold"))
            yield Roll("lines-of-it")
            yield Fitted("all-of-it")
            named = [
                f"{'Enter' if k == ENTER else k}: {words}" for k, words in self._offers.items()
            ]
            yield Static(plain("   ".join([*named, "Esc: leave"])), id="offers")

    def on_mount(self) -> None:
        """Show the lines."""
        self._roll.show([row for row, _ in self._told] or [RollRow("", "Nothing is here yet.")])
        keys = [row.key for row, _ in self._told]
        if self._at in keys:
            self._roll.put_at(keys.index(self._at))
        self.on_roll_moved()

    @property
    def _roll(self) -> Roll:
        return self.query_one(Roll)

    def on_roll_moved(self) -> None:
        """Show the marked line in full."""
        here = self._roll.current
        whole = next((text for row, text in self._told if row is here), "")
        lines = [plain(line) for line in whole.split("\n")]
        self.query_one("#all-of-it", Fitted).update(Content("\n").join(lines))

    def explain(self) -> str:
        """Return what F1 says: the marked line whole."""
        here = self._roll.current
        whole = next((text for row, text in self._told if row is here), "")
        return f"{whole}\n\n{self.HELP_TEXT}" if whole else self.HELP_TEXT

    def on_key(self, event: Key) -> None:
        """Move the mark, or do with the marked line what the key offers."""
        if event.key in _MOVES:
            self._roll.move(_MOVES[event.key])
        elif event.key == "escape":
            self.dismiss(None)
        elif event.key in self._offers:
            row = self._roll.current
            if row is not None or event.key != ENTER:
                self.dismiss((event.key, row.key if row else ""))
        else:
            return
        event.stop()
