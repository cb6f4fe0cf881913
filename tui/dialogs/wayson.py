"""The ways on of a fill, the best first: one is chosen by its number."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Static

from blender.station.wayson import WayOn
from tui.plain import plain

_BLEED = (
    "A bleed takes the gas as it lies at the valve: hold the fill, let it mix, analyse it, and "
    "only then drain, slowly, outdoors or to a vent line."
)


class WaysOn(ModalScreen[WayOn | None]):
    """Waits for a number; Esc leaves the fill as it is.

    Parameters
    ----------
    head : str
        Whose ways they are.
    found : list of WayOn
        The ways.
    """

    DEFAULT_CSS = """
    WaysOn { align: center middle; }
    WaysOn VerticalScroll { width: 100%; max-width: 92; height: auto; max-height: 100%;
        padding: 0 2; background: $surface; border: solid $primary; }
    WaysOn Static { width: 100%; height: auto; margin: 0 0 1 0; }
    """

    def __init__(self, head: str, found: list[WayOn]) -> None:
        super().__init__()
        self._head, self._found = head, found

    def compose(self) -> ComposeResult:
        """Every way by its number."""
        with VerticalScroll():
            yield Static(plain(self._head, "bold"))
            for number, way in enumerate(self._found, start=1):
                yield Static(plain(f"{number}  {way.text}"))
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
