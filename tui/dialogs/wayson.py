"""The ways on of a fill, the best first: one is chosen by its number."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.events import Key
from textual.widgets import Static

from blender.station.wayson import WayOn
from tui.dialogs.dialog import Dialog
from tui.plain import plain
from tui.saying import said
from tui.shown import Units

_BLEED = (
    "A bleed takes the gas as it lies at the valve: hold the fill, let it mix, analyse it, and "
    "only then drain, slowly, outdoors or to a vent line."
)


class WaysOn(Dialog[WayOn | None]):
    """Waits for a number; Esc leaves the fill as it is.

    Parameters
    ----------
    head : str
        Whose ways they are.
    found : list of WayOn
        The ways.
    units : Units
        What pressures are shown in.
    """

    DEFAULT_CSS = """
    WaysOn { align: center middle; }
    WaysOn VerticalScroll { width: 100%; max-width: 92; height: auto; max-height: 100%;
        padding: 0 2; background: $surface; border: solid $primary; }
    WaysOn Static { width: 100%; height: auto; margin: 0 0 1 0; }
    """

    HELP_TEXT = (
        "Each way leads to a gas that may be breathed, or nearer to the one wanted; the best is "
        "first. It is planned and shown before anything is let in or out."
    )
    KEYS = (
        ("1 to 9", "Plan that way"),
        ("up, down", "Read on"),
        ("esc", "Leave the fill as it is"),
    )

    def __init__(self, head: str, found: list[WayOn], units: Units) -> None:
        super().__init__()
        self._head, self._found, self._units = head, found, units

    def compose(self) -> ComposeResult:
        """Every way by its number."""
        with VerticalScroll():
            yield Static(plain(self._head, "bold"))
            for number, way in enumerate(self._found, start=1):
                yield Static(plain(f"{number}  {said(way.text, self._units, way)}"))
            if any(way.drains for way in self._found):
                yield Static(plain(_BLEED))
            yield Static(plain("A number plans that way. Esc: leave it for now"))

    def on_key(self, event: Key) -> None:
        """Take the number."""
        if event.key == "escape":
            event.stop()
            self.dismiss(None)
        elif event.key.isdigit() and 0 < int(event.key) <= len(self._found):
            event.stop()
            self.dismiss(self._found[int(event.key) - 1])
