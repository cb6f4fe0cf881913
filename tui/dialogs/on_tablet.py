"""What was handed to the tablet: its code to be read off the screen, and how far it has come."""

from __future__ import annotations

import asyncio
from typing import Any, ClassVar

from textual import work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from blender.station import tablet
from tui.dialogs.dialog import Dialog
from tui.plain import plain
from tui.tablet.qr import code

LOOK_EVERY_S = 1.0
_HOW_FAR = {
    tablet.WAITING: "It waits for the tablet.",
    tablet.OPEN: "It is open on the tablet.",
}
WITHDRAW = "withdraw"


class OnTablet(Dialog[str]):
    """The code, until it is done there; its answer is how far it came, or that it is withdrawn.

    Parameters
    ----------
    what : str
        What was handed over, in words.
    handed : dict
        As `blender.station.tablet.hand` returns it.
    """

    DEFAULT_CSS = """
    OnTablet { align: center middle; }
    OnTablet #sheet-of-it { width: 100%; height: 100%; padding: 0 1; background: $surface; }
    OnTablet #code { width: auto; height: auto; color: #000000; background: #ffffff; }
    OnTablet #told { width: 1fr; height: auto; padding: 0 0 0 2; }
    OnTablet #offers { dock: bottom; width: 100%; height: 1; background: $panel; }
    """
    KEYS: ClassVar[tuple[tuple[str, str], ...]] = (
        ("w", "Take it back from the tablet"),
        ("esc", "Leave it with the tablet"),
    )
    HELP_TEXT = "Let the tablet's camera read the code, or type the address there. It opens once."

    def __init__(self, what: str, handed: dict[str, Any]) -> None:
        super().__init__()
        self._what, self._handed = what, handed

    def compose(self) -> ComposeResult:
        """The code, and what it is."""
        with Horizontal(id="sheet-of-it"):
            yield Static(Content("\n".join(code(self._handed["url"]))), id="code")
            with Vertical():
                yield Static("", id="told", markup=False)
        yield Static(plain("w: take it back   Esc: leave it with the tablet"), id="offers")

    def on_mount(self) -> None:
        """Look how far it has come until it is done."""
        self._tell(tablet.WAITING)
        self.set_interval(LOOK_EVERY_S, self._look)

    def _tell(self, how_far: str) -> None:
        until = self._handed["open_until"][11:16]
        told = [
            plain(self._what, "bold"),
            plain(""),
            plain(f"Read the code with the tablet's camera, once, until {until}; or type there:"),
            plain(self._handed["url"]),
            plain(""),
            plain(_HOW_FAR.get(how_far, ""), "bold"),
        ]
        self.query_one("#told", Static).update(Content("\n").join(told))

    @work(exclusive=True, group="look")
    async def _look(self) -> None:
        station = self.terminal.floor.station
        found = await asyncio.to_thread(tablet.how_far, station, self._handed["handed"])
        if found in _HOW_FAR:
            self._tell(found)
        else:
            self.dismiss(found)

    def let_go(self) -> None:
        """Leave it with the tablet: the terminal is locked, the customer still reads."""
        self.dismiss(tablet.OPEN)

    def on_key(self, event: Key) -> None:
        """Take it back, or leave it there."""
        if event.key in ("w", "escape"):
            event.stop()
            self.dismiss(WITHDRAW if event.key == "w" else tablet.OPEN)
