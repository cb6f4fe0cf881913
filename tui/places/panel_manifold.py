"""Several planned fills on one manifold: each cylinder is scanned, then all are started at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from blender.station import manifold
from blender.station.answer import Answer
from tui.widgets.asking import Ask
from tui.widgets.rack import Rack

if TYPE_CHECKING:
    from tui.places.panel import Panel

_READY = ("planned", "correcting")
_TEXT = (
    "Scan every cylinder that hangs on the manifold, then press Enter on the empty field. They are "
    "started together or not at all: what is left in them must be analysed, the same mix, and at "
    "the same pressure, for gas goes over from the fuller to the emptier."
)


class OnManifold:
    """The cylinders scanned so far for one manifold.

    Parameters
    ----------
    panel : Panel
        The place that asks.
    """

    def __init__(self, panel: Panel) -> None:
        self._panel = panel
        self._scanned: dict[str, int] = {}  # serial -> number of its fill

    def begin(self) -> None:
        """Ask for the first cylinder."""
        self._scanned = {}
        self._ask()

    def _ask(self) -> None:
        here = ", ".join(self._scanned)
        prompt = f"On the manifold: {here}. Scan another" if here else "Scan the first cylinder"
        ready = "; Enter alone starts them" if len(self._scanned) > 1 else ""
        self._panel.ask_first(
            Ask(f"manifold-{len(self._scanned)}", f"{prompt}{ready} (Esc: none)", self._enter, None,
                _TEXT)
        )  # fmt: skip

    async def _enter(self, text: str) -> bool:
        serial, is_open = _isolator(text.strip())
        if "+" in serial and not is_open:
            self._panel.say("mind", "A set: type 'open' after the serial if the isolator is open.")
            return False
        if serial:
            return self._scan(serial)
        if len(self._scanned) < 2:
            self._panel.say("mind", "Scan two cylinders at least; one alone is started by its own "
                            "serial.")  # fmt: skip
            return False
        numbers, serials = list(self._scanned.values()), list(self._scanned)
        told = await self._panel.perform(manifold.start_together, numbers, serials, "open")
        return await self._panel.tell(_worst(told))

    def _scan(self, serial: str) -> bool:
        number = self._planned().get(serial)
        if serial in self._scanned:
            self._panel.say("mind", f"{serial} is scanned already.")
        elif number is None:
            self._panel.say("refused", f"{serial[:40]} has no planned fill here: plan it first.")
            return False
        else:
            self._scanned[serial] = number
            self._ask()
        return True

    def _planned(self) -> dict[str, int]:
        here = [fill for fill in self._panel.query_one(Rack).slots if fill is not None]
        return {fill.serial: fill.fill for fill in here if fill.state in _READY}


def _isolator(text: str) -> tuple[str, bool]:
    """Part the word said of a set's isolator from its serial."""
    serial, _, last = text.rpartition(" ")
    return (serial.strip(), True) if serial and last == "open" else (text, False)


def _worst(told: list[Answer] | None) -> Answer | None:
    """Return the answer to be said for all: the first that was refused for its own sake."""
    if not told:
        return None
    refused = [one for one in told if not one.done]
    own = [one for one in refused if all(gate.gate != "together" for gate in one.objections)]
    return [*own, *refused, *told][0]
