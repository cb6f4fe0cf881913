"""The terminal: five places, one door, one floor to stand on."""

from __future__ import annotations

import asyncio
import gc
import importlib
from collections.abc import Awaitable, Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, TypeVar

from textual import events, work
from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.command import Provider
from textual.css.query import NoMatches
from textual.screen import ModalScreen, Screen
from textual.widgets import Input

from blender.errors import FillwrightError, InputError, RecordError
from blender.record.place import locate
from tui import settings as kept
from tui import themes
from tui.dialogs.dialog import Dialog
from tui.floor import ASK_AGAIN, Floor
from tui.house import House
from tui.keeper import EVERY_S, Keeper
from tui.keys import PLACES, at, bindings
from tui.palette import PlaceCommands
from tui.places.door import Door
from tui.places.place import AtTerminal, Place
from tui.shown import Units
from tui.widgets.fitted import Fitted
from tui.widgets.masthead import Masthead

if TYPE_CHECKING:  # the first picture has no form
    from tui.dialogs.form import Drafts

Result = TypeVar("Result")
MINUTE_US = 60_000_000
LEAST = (80, 24)
_SOON = 0.5  # what takes longer than this says that it is being done [s]


def _room(name: str) -> Callable[[], Screen[None]]:
    """Return what makes a place, loading it only then."""

    def make() -> Screen[None]:
        found: type[Place] = getattr(
            importlib.import_module(f"tui.places.{name}"), name.capitalize()
        )
        return found()

    return make


class Terminal(App[int]):
    """Fillwright's terminal.

    Parameters
    ----------
    house : House
        The outside.
    """

    TITLE = "Fillwright"
    CSS_PATH = "terminal.tcss"
    COMMANDS: ClassVar[set[type[Provider] | Callable[[], type[Provider]]]] = {PlaceCommands}
    BINDINGS: ClassVar[list[BindingType]] = bindings("all")
    MODES: ClassVar[dict[str, str | Callable[[], Screen[None]]]] = {
        "door": Door,
        "setup": _room("setup"),
        **{place: _room(place) for place in PLACES},
    }
    DEFAULT_MODE = "door"
    ENABLE_COMMAND_PALETTE = True
    COMMAND_PALETTE_BINDING = "ctrl+p"

    def __init__(self, house: House) -> None:
        super().__init__()
        self.house = house
        self.floor = Floor(house)
        self.keeper = Keeper(self.floor)
        self.settings, self.trouble = kept.load(house)
        self.units = Units(self.settings.imperial)
        self.bug = ""
        self.drafts: Drafts = {}
        self._back = "panel"
        self._touched_us = house.clock().us
        self.inputs = 0  # keys and clicks so far: what was said before the last is of an act before
        for theme in themes.ALL:
            self.register_theme(theme)
        self.theme = self.settings.theme
        keymap, said = kept.keymap(house)
        self.set_keymap(keymap)
        self.trouble = " ".join(filter(None, [self.trouble, *said]))

    def on_ready(self) -> None:
        """With the first picture there, look for garbage again, but not in what stays."""
        if not gc.isenabled():  # as the command line left it
            gc.freeze()
            gc.enable()

    def on_mount(self) -> None:
        """Look now and then whether anybody is still there; begin where there is no station."""
        if not self.house.is_founded():
            self.switch_mode("setup")
        self.set_interval(5.0, self.lock_if_idle)
        self.set_interval(EVERY_S, self._look_after)

    @work
    async def _look_after(self) -> None:
        """Let the record be looked after, and say what came of it."""
        if said := await asyncio.to_thread(self.keeper.round):
            self.word(*said)

    # -- signing in and out ----------------------------------------------------------------

    def signed_in(self) -> None:
        """Go where the one before stood, or to the Panel."""
        self._touched_us = self.house.clock().us
        self.switch_mode(self._back)

    def begin_at(self, place: str) -> None:
        """Go to a place at the first start."""
        self._back = place
        self.signed_in()

    def action_lock(self) -> None:
        """Sign out; what stands in the places stays there."""
        if self.current_mode in PLACES:
            self._back = self.current_mode
        self._leave_dialogs()
        self.floor.sign_out()
        self.switch_mode("door")

    def _leave_dialogs(self) -> None:
        """Leave what stands over the place: the next person's Enter must not finish it."""
        while isinstance(self.screen, ModalScreen):
            dialog = self.screen
            dialog.let_go() if isinstance(dialog, Dialog) else dialog.dismiss(None)

    def lock_if_idle(self) -> None:
        """Lock a terminal nobody touches."""
        idle = self.house.clock().us - self._touched_us
        if self.floor.actor is not None and idle > self.settings.idle_minutes * MINUTE_US:
            self.action_lock()

    async def on_event(self, event: events.Event) -> None:
        """Remember when somebody last touched the terminal."""
        if isinstance(event, (events.Key, events.MouseDown, events.Paste)):
            self._touched_us = self.house.clock().us
            self.inputs += 1
        if isinstance(event, events.Key) and event.key.startswith("alt+"):
            event.character = None  # else a field takes a command's letter for text
        if isinstance(event, events.Key) and event.key == "ctrl+left" and self._may_be_alt_b():
            self.action_place("book")
            return
        await super().on_event(event)

    def _may_be_alt_b(self) -> bool:
        """Tell whether a word to the left would mean nothing: many terminals send it for alt+b."""
        field = self.focused
        is_empty = not (isinstance(field, Input) and field.value)
        return is_empty and self.floor.actor is not None and isinstance(self.screen, Place)

    # -- places ----------------------------------------------------------------------------

    def action_place(self, place: str) -> None:
        """Go to a place; only somebody signed in gets past the door."""
        if self.floor.actor is not None and self.current_mode != place:
            if isinstance(here := self.screen, Place):
                here.say("note", "")  # what was said here is of what stood here then
            self.switch_mode(place)

    def at_counter(self, fill: int) -> None:
        """Go to the Counter with a fill in hand."""
        self.in_hand = fill
        self.action_place("counter")

    def at_panel(self, fill: int) -> None:
        """Go to the Panel and turn to a fill."""
        self.in_hand = fill
        self.action_place("panel")

    async def action_go(self) -> None:
        """Ask for a place's letter; it may be typed at once, and is not taken for text then."""
        from tui.dialogs.go import Go

        if self.floor.actor is not None and isinstance(self.screen, Place):
            await self.push_screen(Go(), lambda place: self.action_place(place) if place else None)

    def action_leave(self) -> None:
        """Leave; every step was stored when it was entered.  A damaged record is exit 4."""
        self.keeper.stop()
        self.floor.close()
        self.exit(4 if isinstance(self.floor.fault, RecordError) else 0)

    def head(self) -> None:
        """Bring the top line up to date."""
        actor = self.floor.actor
        time = self.house.clock().local.strftime("%H:%M")
        with suppress(NoMatches):
            self.screen.query_one(Masthead).tell(
                actor.name if actor else "", self.units.names, time,
                self.unsafe,
            )  # fmt: skip

    unsafe = 0
    in_hand = 0  # the fill one carries from one place to the next

    # -- trouble ---------------------------------------------------------------------------

    async def attempt(self, doing: Awaitable[Result]) -> Result | None:
        """Wait for something; say that it is being done, or why it could not be."""
        place = self.screen
        stack = (place, *reversed(self.screen_stack))
        here = next((one for one in stack if isinstance(one, AtTerminal)), None)
        soon = self.set_timer(_SOON, here.busy) if here is not None else None
        try:
            return await doing
        except FillwrightError as error:
            nearest = [str(other.get("text", "")) for other in getattr(error, "alternatives", [])]
            ends = "" if error.text.rstrip().endswith(".") else "."
            told = f"{ends} Nearest: {' / '.join(nearest[:3])}" if nearest else ""
            if error.code == ASK_AGAIN:
                self.action_lock()
                place = self.screen  # what was typed stays where it was
            self.word("refused", f"{error.text}{told}", place)
            return None
        finally:
            if soon is not None and here is not None:
                soon.stop()
                here.no_longer_busy()

    def word(self, kind: str, text: str, place: Screen[object] | None = None) -> None:
        """Say something where one stands."""
        for screen in (place or self.screen, *reversed(self.screen_stack)):
            if isinstance(screen, Place) or hasattr(screen, "say"):
                screen.say(kind, text)
                return
        self.notify(text, markup=False)

    def _handle_exception(self, error: Exception) -> None:
        """Keep the traceback of a bug of ours in a file, and leave with one sentence."""
        if self.is_headless:
            super()._handle_exception(error)
            return
        self.bug = self.house.report_bug(error)
        self.floor.close()
        self.exit(1, return_code=1)

    # -- habits ----------------------------------------------------------------------------

    def action_units(self) -> None:
        """Switch units on the spot."""
        self._set(imperial=not self.settings.imperial)
        self.units = Units(self.settings.imperial)
        if isinstance(self.screen, Place):
            self.screen.say_again()
            self.screen.tick()

    def action_next_theme(self) -> None:
        """Switch to the next way to look."""
        at = kept.THEMES.index(self.settings.theme)
        self.set_look(kept.THEMES[(at + 1) % len(kept.THEMES)])

    def set_look(self, name: str) -> None:
        """Look another way, and keep it."""
        self._set(theme=name)
        self.theme = name

    def remember(self, **changed: object) -> None:
        """Keep something for the next time, such as the analyser in use."""
        self._set(**changed)

    def _set(self, **changed: object) -> None:
        self.settings = replace(self.settings, **changed)  # type: ignore[arg-type]  # of each setting's own type
        try:
            kept.save(self.house, self.settings)
        except InputError as error:
            self.word("mind", error.text)

    @work
    async def action_explain(self) -> None:
        """Show what was cut off, explain the field and list the keys."""
        from tui.dialogs.explain import Explain

        screen = self.screen
        if isinstance(screen, Explain):
            return
        cut = [one.whole.plain for one in screen.query(Fitted) if one.is_cut]
        explain = getattr(screen, "explain", None)
        about = "\n\n".join([*cut, explain() if explain is not None else ""])
        self.push_screen(Explain(about.strip(), self._keys_here(), self.settings_note()))

    def _keys_here(self) -> list[tuple[str, str]]:
        """Return the keys that work where one stands, and what each does."""
        if isinstance(self.screen, Dialog):
            return [*self.screen.KEYS]
        here = at(self.current_mode)
        return [(self._keymap.get(one.ident, one.key), one.text) for one in here]

    def settings_note(self) -> str:
        """Say where record and settings are."""
        return f"Record: {locate(self.house.location)}"

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Leave the toolkit's own commands out: the list of commands is ours."""
        del screen
        return []

    def on_resize(self, event: events.Resize) -> None:
        """Say it plainly where a terminal is too small."""
        small = event.size.width < LEAST[0] or event.size.height < LEAST[1]
        self.set_class(small, "too-small")
