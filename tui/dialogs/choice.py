"""A few things that can be done, one chosen by its number."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.events import Key
from textual.widgets import Static

from tui.dialogs.dialog import Dialog
from tui.plain import plain


class Choice(Dialog[int | None]):
    """Waits for a number; Esc does nothing.

    Parameters
    ----------
    title : str
        About whom or what.
    offers : sequence of str
        What can be done, at most nine.
    """

    DEFAULT_CSS = """
    Choice { align: center middle; }
    Choice VerticalScroll { width: 72; height: auto; max-height: 100%; padding: 0 2;
        background: $surface; border: solid $primary; }
    Choice Static { height: auto; }
    """
    HELP_TEXT = "Nothing is done before what the number leads to is entered."
    KEYS = (("1 to 9", "Do that"), ("esc", "Do nothing"))

    def __init__(self, title: str, offers: Sequence[str]) -> None:
        super().__init__()
        self._title, self._offers = title, offers

    def compose(self) -> ComposeResult:
        """What can be done, by its number."""
        with VerticalScroll(can_focus=False):
            yield Static(plain(self._title, "bold"))
            for number, words in enumerate(self._offers, start=1):
                yield Static(plain(f"{number}  {words}"))
            yield Static(plain("A number does that. Esc: nothing"))

    def on_key(self, event: Key) -> None:
        """Take the number."""
        if event.key == "escape":
            event.stop()
            self.dismiss(None)
        elif event.key.isdigit() and 0 < int(event.key) <= len(self._offers):
            event.stop()
            self.dismiss(int(event.key) - 1)
