"""A customer's view: the one thing that was handed over, step by step, and then the end."""

from __future__ import annotations

import asyncio
from typing import ClassVar

from textual import work
from textual.app import App, ComposeResult
from textual.binding import BindingType
from textual.widgets import Static

from blender.errors import FillwrightError
from tui.house import House
from tui.plain import plain
from tui.shown import Units
from tui.tablet.driver import TabletDriver
from tui.tablet.matter import Matter, matter_of
from tui.tablet.step import Over, Step
from tui.themes import DAY

LOOK_EVERY_S = 2.0


class Customer(App[int], inherit_bindings=False):
    """Shows what was handed over by one entry, and can do nothing else.

    Parameters
    ----------
    house : House
        The outside.
    seq : int
        The entry.
    """

    TITLE = "Fillwright"
    CSS_PATH = "customer.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = []
    ALLOW_SELECT = False
    matter: Matter

    def __init__(self, house: House, seq: int) -> None:
        super().__init__()
        self.house, self._seq = house, seq
        self.units = Units()
        self._at = 0
        self._is_over = False
        self._letters: bool | None = None
        self.register_theme(DAY)
        self.theme = DAY.name

    def compose(self) -> ComposeResult:
        """What is seen until the record is open."""
        yield Static(plain("One moment ..."), id="moment")

    def on_mount(self) -> None:
        """Open the record off the screen's thread."""
        self._begin()
        self.set_interval(LOOK_EVERY_S, self._look)

    @work
    async def _begin(self) -> None:
        try:
            self.matter = await asyncio.to_thread(self._load)
        except FillwrightError as error:
            self._cut_off(error)
            return
        offered = getattr(self.matter, "offer", None)
        self.units = Units(bool(offered and offered.imperial))
        self._show()

    def _load(self) -> Matter:
        station = self.house.open_station()
        try:
            return matter_of(self, station, self._seq)
        except FillwrightError:
            station.record.close()
            raise

    # -- from step to step -----------------------------------------------------------------

    def _show(self) -> None:
        self._turn_to(self.matter.steps[self._at]())

    def _turn_to(self, step: Step) -> None:
        """Show a step in place of the one before; below them is the empty screen they began on."""
        if isinstance(self.screen, Step):
            self.switch_screen(step)
        else:
            self.push_screen(step)

    @property
    def is_at_first(self) -> bool:
        """Whether nothing was done yet but to look."""
        return self._at == 0

    def on(self) -> None:
        """Go to the next step."""
        self._at += 1
        self._show()

    def back(self) -> None:
        """Go to the step before."""
        self._at = max(self._at - 1, 0)
        self._show()

    def over(self, told: str, head: str = "Stopped") -> None:
        """Come to the end: nothing more can be done here."""
        self._is_over = True
        self._turn_to(Over(head, told))

    def _cut_off(self, why: FillwrightError) -> None:
        self.over(f"{why.text[:1].upper()}{why.text[1:]}.", "This is over")

    def leave(self) -> None:
        """Leave for good."""
        if hasattr(self, "matter"):
            self.matter.station.record.close()
        self.exit(0)

    @work(exclusive=True, group="look")
    async def _look(self) -> None:
        """Ask now and then whether the station has taken it back."""
        if self._is_over or not hasattr(self, "matter"):
            return
        from blender.station import tablet

        why = await asyncio.to_thread(tablet.why_over, self.matter.station, self._seq)
        if why is not None and not self._is_over:
            self._cut_off(why)

    def letters(self, *, wanted: bool) -> None:
        """Say whether letters are typed now."""
        if isinstance(self._driver, TabletDriver) and wanted != self._letters:
            self._letters = wanted
            self._driver.ask_for_letters(wanted=wanted)

    def switch_units(self) -> None:
        """Show the other units."""
        self.units = Units(not self.units.imperial)

    def _handle_exception(self, error: Exception) -> None:
        """Keep the traceback of a bug of ours in a file; nobody here sees it."""
        if self.is_headless:
            super()._handle_exception(error)
            return
        self.house.report_bug(getattr(error, "error", error))  # a worker's failure wraps the fault
        self.exit(1, return_code=1)
