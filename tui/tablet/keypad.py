"""Figures to be tapped: a soft keyboard hides half of a tablet and has letters first."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Grid
from textual.message import Message
from textual.widgets import Button

from tui.plain import plain

_KEYS = ("7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫")
BACK = "⌫"


class Keypad(Grid):
    """Twelve keys."""

    DEFAULT_CSS = """
    Keypad { grid-size: 3 4; grid-gutter: 0 1; width: 42; height: 12; }
    Keypad Button { width: 1fr; height: 3; min-width: 5; }
    """

    class Tapped(Message):
        """A key was tapped."""

        def __init__(self, key: str) -> None:
            super().__init__()
            self.key = key

    def compose(self) -> ComposeResult:
        """The keys, as on a calculator."""
        for key in _KEYS:
            button = Button(plain(key), name=key)
            button.active_effect_duration = 0.0  # else the second of two same figures is not taken
            yield button

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Say which."""
        event.stop()
        self.post_message(self.Tapped(event.button.name or ""))
