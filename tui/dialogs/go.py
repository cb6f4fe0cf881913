"""Another place by its letter, where the terminal sends no Alt."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Static

from tui.keys import PLACES


class Go(ModalScreen[str]):
    """Waits for one letter."""

    DEFAULT_CSS = """
    Go { align: center middle; }
    Go Static { width: auto; height: auto; padding: 1 3; background: $panel;
        border: solid $primary; }
    """

    def compose(self) -> ComposeResult:
        """The letters."""
        lines = [f"{place[0]}  {place.capitalize()}" for place in PLACES]
        yield Static("Go to\n\n" + "\n".join(lines) + "\n\nEsc  stay", markup=False)

    def on_key(self, event: Key) -> None:
        """Go, or stay."""
        event.stop()
        found = [place for place in PLACES if place[0] == event.key]
        if found or event.key == "escape":
            self.dismiss(found[0] if found else "")
