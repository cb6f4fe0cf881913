"""The first start: found a station in a few questions, or look at an invented one."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Footer, Static

from blender.errors import FillwrightError, InputError
from blender.record.place import locate
from blender.record.text import clean_text
from tui.dialogs.form import answered
from tui.floor import Floor
from tui.house import House
from tui.places.place import TOO_SMALL, AtTerminal
from tui.plain import plain
from tui.widgets.asking import Ask, AskField
from tui.widgets.fitted import Fitted
from tui.widgets.word import Word

CAUTION = (
    "For qualified blenders. Oxygen burns; a wrong mix kills. Local codes and the cylinder's own "
    "markings come first, and every cylinder is analysed before use."
)
WELCOME = """Fillwright: the blending calculator and fill record of a fill station.

There is no station here yet. You can

  found    start your own: its name, a short id, the first manager
  demo     look at an invented station with a day's work in it

Your record would be made here, with its keys beside it:
  {location}

{caution}"""
FOUNDED = """The station is founded.

Its record is  {record}
Its keys are   {keys}

{copy}

{following}"""
_COPY = (
    "Copy the keys now to a place apart from the record: without them nobody can sign, and with "
    "both anybody who knows a secret can. Back the record up every day."
)
_FOLLOWING = (
    "What follows can be skipped with Enter alone, and done later: an analyser, so that gas can "
    "be analysed; banks and supplies (the Store); a first cylinder (the Counter)."
)
_WALKING = (
    "An invented station is founded and walked through a day of fills, in a folder of its own. "
    "This takes half a minute. What an earlier look left there is made anew."
)
LEAST_SECRET = 4
_FOUNDING = ("begin", "name", "ident", "manager", "secret", "again")  # Esc steps back in these


class Setup(AtTerminal):
    """Where a new station begins."""

    DEFAULT_CSS = """
    Setup #told { height: 1fr; padding: 1 2; }
    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back", "One back")]

    def __init__(self) -> None:
        super().__init__()
        self._given: dict[str, str] = {}

    def compose(self) -> ComposeResult:
        """What can be done, and one field."""
        yield Fitted("told")
        yield Word()
        yield AskField()
        yield Footer(show_command_palette=False)
        yield Static(TOO_SMALL, id="too-small", markup=False)

    def on_mount(self) -> None:
        """Ask what to do."""
        self._begin_anew()

    def _begin_anew(self) -> None:
        self._tell(WELCOME.format(location=locate(self.terminal.house.location), caution=CAUTION))
        self._put("begin")

    def explain(self) -> str:
        """Return what F1 says here."""
        return (
            "Founding makes the record's file and its keys. Another place can be named when the "
            "program is started: fillwright --station PATH."
        )

    def _tell(self, text: str) -> None:
        self.query_one("#told", Static).update(plain_text(text))

    def _ask(
        self,
        ident: str,
        prompt: str,
        enter: Callable[[str], Awaitable[bool]],
        *,
        is_secret: bool = False,
    ) -> None:
        asking = self.query_one(AskField)
        guarded = self._guarded(enter)
        asking.put(Ask(ident, prompt, guarded, text=self.explain(), is_secret=is_secret))
        asking.focus_field()

    def _guarded(self, enter: Callable[[str], Awaitable[bool]]) -> Callable[[str], Awaitable[bool]]:
        async def guarded(text: str) -> bool:
            try:
                return await enter(text)
            except FillwrightError as error:
                self.say("refused", error.text)
                return False

        return guarded

    # -- founding --------------------------------------------------------------------------

    def action_back(self) -> None:
        """Ask the question before this one; what was typed is kept, but for secrets."""
        ask = self.query_one(AskField).ask
        at = _FOUNDING.index(ask.ident) if ask is not None and ask.ident in _FOUNDING else 0
        if at:
            self.say("note", "")
            self._put(_FOUNDING[at - 1])

    def _put(self, ident: str, before: str = "") -> None:
        """Ask one of the questions of founding."""
        prompt, enter = {
            "begin": ("Type found or demo", self._begin),
            "name": ("The station's name, as papers print it", self._take_name),
            "ident": ("A short id for the record: A-Z, 0-9 and -, such as HARBOUR-1", self._ident),
            "manager": ("The first manager's name", self._manager),
            "secret": ("A secret the manager signs with, 4 characters or more", self._secret),
            "again": ("The same secret again", self._again),
        }[ident]
        self._ask(ident, before + prompt, enter, is_secret=ident in ("secret", "again"))

    async def _begin(self, text: str) -> bool:
        word = text.strip().lower()
        if word not in ("found", "demo"):
            raise InputError("start", ascii(text[:40]), "type found or demo")
        if word == "demo":
            self._show_demo()
        else:
            self._put("name")
        return True

    async def _take_name(self, text: str) -> bool:
        self._given["name"] = clean_text(text, "name")
        self._put("ident")
        return True

    async def _ident(self, text: str) -> bool:
        from blender.station.people import station_id

        self._given["ident"] = station_id(text.strip())
        self._put("manager")
        return True

    async def _manager(self, text: str) -> bool:
        self._given["manager"] = clean_text(text, "manager")
        self._put("secret")
        return True

    async def _secret(self, text: str) -> bool:
        if len(text) < LEAST_SECRET:
            raise InputError("secret", "(not shown)", "a secret has at least 4 characters")
        self._given["first_secret"] = text
        self._put("again")
        return True

    async def _again(self, text: str) -> bool:
        if text != self._given["first_secret"]:
            self._put("secret", "The two differ. ")
            return True
        self.say("busy", "Founding ...")
        made = await asyncio.to_thread(lambda: self.terminal.house.found(**self._given))
        await self.terminal.floor.sign_in(self._given["manager"], self._given["first_secret"])
        self._given["first_secret"] = ""
        self._tell(FOUNDED.format(**made, copy=_COPY, following=_FOLLOWING))
        self.say("done", f"Station {made['station']} is founded.")
        self._ask("analyser", "Your analyser's name, such as A1; Enter alone skips it",
                  self._analyser)  # fmt: skip
        return True

    # -- what a station needs next, each to be skipped -------------------------------------

    async def _analyser(self, text: str) -> bool:
        from blender.station import equipment

        if name := text.strip():
            made = await self.terminal.floor.act(equipment.add_analyser, name=name)
            self.terminal.remember(analyser=made["name"])
            self.say("done", f"Added: {made['name']}.")
            self._ask("set", f"{name}: what is it set to on air now? 20.9; Enter alone: later",
                      self._set)  # fmt: skip
        else:
            self._ask_supply()
        return True

    async def _set(self, text: str) -> bool:
        if text.strip():
            from blender.station import equipment
            from tui.places.store_asks import setting, setting_echo

            name = self.terminal.settings.analyser
            await self.terminal.floor.act(equipment.calibrate, name=name, **setting(text))
            self.say("done", f"Set: {setting_echo(name, text, self.terminal.units)}.")
        self._ask_supply()
        return True

    def _ask_supply(self, another: str = "A bank or supply of gas") -> None:
        self._ask("supply", f"{another}? y opens its form; Enter alone goes on", self._supply)

    async def _supply(self, text: str) -> bool:
        from tui.places.store_forms import add_form

        if _yes(text):
            form = add_form(self.terminal.units, self.terminal.drafts)
            self.app.push_screen(form, answered(self._add_supply))
        else:
            self._ask_cylinder()
        return True

    @work
    async def _add_supply(self, given: dict[str, str]) -> None:
        from tui.places.store_forms import ADD, add

        adding = self.terminal.floor.act(add, given, self.terminal.units)
        if (made := await self.terminal.attempt(adding)) is not None:
            self.terminal.drafts.pop(ADD, None)
            self.say("done", f"Added: {made['name']}.")
            self._ask_supply("Another bank or supply")

    def _ask_cylinder(self, another: str = "A first cylinder") -> None:
        self._ask("cylinder", f"{another}? y opens its form; Enter alone goes to the Counter",
                  self._cylinder)  # fmt: skip

    async def _cylinder(self, text: str) -> bool:
        from tui.places.counter_forms import cylinder_form

        if _yes(text):
            today = self.terminal.house.clock().iso[:7]
            form = cylinder_form("", self.terminal.units, self.terminal.drafts, today)
            self.app.push_screen(form, answered(self._add_cylinder))
        else:
            self.terminal.begin_at("counter")
        return True

    @work
    async def _add_cylinder(self, given: dict[str, str]) -> None:
        from blender.station import equipment
        from tui.places.counter_forms import CYLINDER, cylinder_facts

        facts = cylinder_facts(given, self.terminal.units)
        adding = self.terminal.floor.act(equipment.add_cylinder, **facts)
        if (made := await self.terminal.attempt(adding)) is not None:
            self.terminal.drafts.pop(CYLINDER, None)
            self.say("done", f"Added: {made['serial']}.")
            self._ask_cylinder("Another cylinder")

    # -- the demonstration -----------------------------------------------------------------

    @work(exclusive=True)
    async def _show_demo(self) -> None:
        self._tell(_WALKING)
        self.query_one(AskField).put(None)  # nothing can be asked twice meanwhile
        made = await self.terminal.attempt(asyncio.to_thread(self.terminal.house.demo))
        if made is None:
            self._begin_anew()
            return
        house, secrets = made
        self._move_to(house)
        told = "\n".join(f"  {name}: {secret}" for name, secret in secrets.items())
        self.terminal.trouble = f"An invented station. Who may sign, and the secret:\n{told}"
        self.terminal.switch_mode("door")

    def _move_to(self, house: House) -> None:
        self.terminal.house = house
        self.terminal.floor = Floor(house)


def plain_text(text: str) -> Content:
    """Return lines as they are."""
    return Content("\n").join(plain(line) for line in text.splitlines())


def _yes(text: str) -> bool:
    """Read an answer where Enter alone goes on.

    Raises
    ------
    InputError
        For anything but yes, no or nothing.
    """
    word = text.strip().lower()
    if word not in ("", "y", "yes", "n", "no"):
        raise InputError("answer", ascii(text[:40]), "y, or Enter alone")
    return word in ("y", "yes")
