"""Another place by its letter, where the terminal sends no Alt."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.events import Key
from textual.widgets import Static

from tui.dialogs.dialog import Dialog
from tui.keys import PLACES


class Go(Dialog[str]):
    """Waits for one letter."""

    DEFAULT_CSS = """
    Go { align: center middle; }
    Go Static { width: auto; height: auto; padding: 1 3; background: $panel;
        border: solid $primary; }
    """

    HELP_TEXT = "For a terminal that sends no Alt: the first letter of a place goes there."
    KEYS = (("c p s b o", "Go to that place"), ("esc", "Stay"))

    def compose(self) -> ComposeResult:
        """The letters."""
        lines = [f"{place[0]}  {place.capitalize()}" for place in PLACES]
        yield Static("Go to\n\n" + "\n".join(lines) + "\n\nEsc  stay", markup=False)

    def on_key(self, event: Key) -> None:
        """Go, or stay."""
        if event.key == "f1":
            return
        event.stop()
        found = [place for place in PLACES if place[0] == event.key]
        if found or event.key == "escape":
            self.dismiss(found[0] if found else "")
