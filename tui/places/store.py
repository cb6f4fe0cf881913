"""The Store: banks and analysers as they stand, and the start and end of the day."""

from __future__ import annotations

from functools import partial
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import Key

from blender.planning.supplies import TOP_NAME
from blender.station import compressors, measuring
from blender.station import supplies as banks
from tui.dialogs.form import answered
from tui.keys import bindings
from tui.places import store_forms as forms
from tui.places import store_plant as plant
from tui.places.store_asks import ask_gauge, ask_retire, ask_setting
from tui.places.store_care import Care
from tui.places.store_day import DayAsks
from tui.places.store_gas import GasInHand
from tui.places.store_lines import Shelves, day_words, is_due, rows, shelves, waiting, whole
from tui.plain import plain
from tui.widgets.asking import Ask, AskField
from tui.widgets.fitted import Fitted
from tui.widgets.roll import Roll

_NO_LINE = "Choose a supply with up and down first."


class Store(GasInHand, Care):
    """Where gas and instruments are looked after."""

    NAME = "store"
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("store"),
        Binding("up", "mark(-1)", show=False),
        Binding("down", "mark(1)", show=False),
        Binding("pageup", "mark(-10)", show=False),
        Binding("pagedown", "mark(10)", show=False),
    ]
    DEFAULT_CSS = """
    Store #day { height: auto; max-height: 5; padding: 0 1; background: $surface; }
    """
    HELP_TEXT = (
        "Up and down choose a line; the field asks for what can be entered of it. Behind a key "
        "each: alt+g gas in hand and deliveries, alt+e the equipment, alt+v what falls due, "
        "alt+i the care of the marked analyser."
    )

    def __init__(self) -> None:
        super().__init__()
        self.shelves = Shelves([], [], {})
        self.override: Ask | None = None
        self._day = DayAsks(self)
        self._whose = ""  # who the questions put in between were asked of

    def middle(self) -> ComposeResult:
        """The day, the list, the field."""
        yield Fitted("day")
        yield Roll()
        yield AskField()

    def on_resize(self) -> None:
        """Lines are as wide as the screen."""
        if self.shelves.status:
            self._show()

    # -- what is shown ---------------------------------------------------------------------

    def renew(self) -> None:
        """Show what is so now; a question put to somebody else is not put to this one."""
        actor = self.terminal.floor.actor
        if actor is not None and actor.person != self._whose:
            self._whose, self.override = actor.person, None
        self._renew()

    @work(exclusive=True, group="renew")
    async def _renew(self) -> None:
        await self.show_now()

    async def show_now(self) -> None:
        """Read the store and show it."""
        house, rules = self.terminal.house, self.terminal.floor.station.rules
        found = await self.look(shelves, house.clock(), rules)
        if found is not None and self.is_mounted:
            self.shelves = found
            self._show()
            self.put_ask()

    def _show(self) -> None:
        now, rules = self.terminal.house.clock(), self.terminal.floor.station.rules
        is_closing = self.override is not None and self.override.ident == "day-close"
        made = waiting(self.shelves.status, self.terminal.units)[1:] if is_closing else []
        made = made or rows(self.shelves, now, rules, self.terminal.units, self.size.width)
        self.query_one(Roll).show(made)
        self.query_one("#day", Fitted).update(_lines(day_words(self.shelves.status)))

    def on_roll_moved(self) -> None:
        """Ask about another line; the questions of the day stay."""
        if self.override is not None and not self.override.ident.startswith("day-"):
            self.override = None
        self.put_ask()

    def put_ask(self) -> None:
        """Ask what can be entered of the marked line."""
        asking = self.query_one(AskField)
        asking.put(self.override or self._about())
        if self.is_current:
            asking.focus_field()

    def _about(self) -> Ask:
        row = self.query_one(Roll).current
        kind, _, name = (row.key if row else "").partition("/")
        if kind == "analyser":
            return self._about_analyser(name)
        if kind == "supply":
            return self._about_supply(name)
        if kind == "compressor":
            return plant.ask_hours(self, name)
        if kind == "air":
            return plant.ask_co(self) if name == "co" else self._about_air_test()
        is_open = self.shelves.status.get("is_open")
        return self._nothing(f"alt+d {'ends' if is_open else 'starts'} the day")

    def _about_analyser(self, name: str) -> Ask:
        if self.shelves.analyser(name)["retired"]:
            return self._nothing(f"{name} is out of use: alt+n adds another analyser")
        return ask_setting(self, name)

    def _about_supply(self, name: str) -> Ask:
        known = self.shelves.supply(name)
        if not known.get("size_l"):
            return self._nothing(f"{name} has no gauge to read: alt+x gives it a bottle")
        if known["retired"]:
            return self._nothing(f"{name} is out of use: alt+x enters another bottle")
        return ask_gauge(self, name)

    def _about_air_test(self) -> Ask:
        async def enter(_: str) -> bool:
            self.action_air_test()
            return True

        return Ask("air-test", "Enter takes a laboratory's report of the compressor's air", enter)

    def _nothing(self, words: str) -> Ask:
        async def enter(_: str) -> bool:
            self.say("note", f"{words}.")
            return False

        return Ask(f"nothing-{words}", words, enter)

    def ask_first(self, ask: Ask) -> None:
        """Ask something before what the marked line asks for."""
        self.override = ask
        self._show()
        self.put_ask()

    def on_key(self, event: Key) -> None:
        """Let go of a question put in between; what was typed is kept for its return."""
        if event.key == "escape" and self.override is not None:
            event.stop()
            self.override = None
            self._show()
            self.put_ask()

    def explain(self) -> str:
        """Return what F1 says: the marked line in full, and its question."""
        row = self.query_one(Roll).current
        line = " ".join(row.words.split()) if row else ""
        known = whole(self.shelves, row.key, self.terminal.units) if row else ""
        return "\n\n".join(filter(None, [line, known, super().explain()]))

    async def done(self, told: str, kind: str = "done") -> bool:
        """Say what was entered, and show where things stand."""
        self.say(kind, told)
        self.override = None
        await self.show_now()
        return True

    # -- keys ------------------------------------------------------------------------------

    def action_mark(self, by: int) -> None:
        """Mark another line."""
        self.query_one(Roll).move(by)

    def _marked(self, kind: str) -> str:
        """Return the name of the marked line if it is of a kind."""
        row = self.query_one(Roll).current
        found, _, name = (row.key if row else "").partition("/")
        return name if found == kind else ""

    def analyser_meant(self) -> str:
        """Return the marked analyser, else the first in use."""
        return self._marked("analyser") or next((one["name"] for one in self.shelves.meters), "")

    def _go_to(self, key: str) -> bool:
        """Mark the first line whose key begins so."""
        roll = self.query_one(Roll)
        at = next((i for i, row in enumerate(roll.rows) if row.key.startswith(key)), -1)
        self.override = None
        roll.put_at(at)
        return at >= 0

    def action_read_gauge(self) -> None:
        """Go to the first bank nobody read today."""
        unread = self.shelves.status.get("banks_not_read", [])
        if not (unread and self._go_to(f"supply/{unread[0]}")):
            self.say("note", "Every bank was read today; choose one to read it again.")

    def action_calibrate(self) -> None:
        """Stay at the marked analyser; from elsewhere go to the first that is due."""
        now, rules = self.terminal.house.clock(), self.terminal.floor.station.rules
        meters = [one["name"] for one in self.shelves.meters]
        due = [one["name"] for one in self.shelves.meters if is_due(one, now, rules)]
        marked = self._marked("analyser")
        name = marked if marked in meters else next(iter([*due, *meters]), "")
        if not name or not self._go_to(f"analyser/{name}"):
            self.say("note", "There is no analyser yet; alt+n adds one.")

    def action_add(self) -> None:
        """Add a supply, or an analyser where no gas is named."""
        form = forms.add_form(self.terminal.units, self.terminal.drafts)
        self.app.push_screen(form, answered(self._add))

    @work
    async def _add(self, given: dict[str, str]) -> None:
        made = await self.perform(forms.add, given, self.terminal.units)
        if made is not None:
            self.terminal.drafts.pop(forms.ADD, None)
            await self.done(f"Added: {made['name']}.")

    def action_change(self) -> None:
        """Enter a swapped bottle, or what a compressor is made for."""
        if compressor := self._marked("compressor"):
            known, drafts = self.shelves.compressor(compressor), self.terminal.drafts
            form = plant.change_form(known, self.terminal.units, drafts)
            self.app.push_screen(form, answered(partial(self._change_compressor, compressor)))
            return
        name = self._marked("supply")
        if not name:
            self.say("note", _NO_LINE)
            return
        known, units = self.shelves.supply(name), self.terminal.units
        form = forms.change_form(known, units, self.terminal.drafts)
        self.app.push_screen(form, answered(partial(self._change, name)))

    @work
    async def _change(self, name: str, given: dict[str, str]) -> None:
        bottle = forms.bottle(given, self.terminal.units)
        made = await self.perform(banks.change_supply, name, gas=given["gas"], **bottle)
        if made is not None:
            self.terminal.drafts.pop(forms.change_title(name), None)
            await self.done(f"{name} is another bottle now.")

    def action_retire(self) -> None:
        """Take a supply or an analyser out of use."""
        row = self.query_one(Roll).current
        kind, _, name = (row.key if row else "").partition("/")
        if kind not in ("supply", "analyser", "compressor"):
            told = "Choose a supply, an analyser or a compressor with up and down first."
            self.say("note", told)
        elif getattr(self.shelves, kind)(name)["retired"]:
            self.say("note", f"{name} is out of use already.")
        else:
            self.ask_first(ask_retire(self, kind, name))

    @work
    async def _change_compressor(self, name: str, given: dict[str, str]) -> None:
        facts = plant.compressor_facts(given, self.terminal.units)
        made = await self.perform(compressors.change_compressor, name=name, **facts)
        if made is not None:
            self.terminal.drafts.pop(plant.compressor_title(name), None)
            await self.done(f"{name}: {compressors.figures(made)}.")

    def action_compressor(self) -> None:
        """Add a compressor."""
        form = plant.compressor_form(self.terminal.units, self.terminal.drafts)
        self.app.push_screen(form, answered(self._add_compressor))

    @work
    async def _add_compressor(self, given: dict[str, str]) -> None:
        facts = plant.compressor_facts(given, self.terminal.units)
        made = await self.perform(compressors.add_compressor, name=given["name"], **facts)
        if made is not None:
            self.terminal.drafts.pop(plant.COMPRESSOR, None)
            await self.done(f"Added {made['name']}: {compressors.figures(made)}.")

    def action_air_test(self) -> None:
        """Enter a laboratory's report of the compressor's air."""
        form = plant.air_test_form(self.terminal.drafts)
        self.app.push_screen(form, answered(self._enter_air_test))

    @work
    async def _enter_air_test(self, given: dict[str, str]) -> None:
        made = await self.perform(measuring.enter_air_test, **given)
        if made is not None:
            self.terminal.drafts.pop(plant.AIR_TEST, None)
            await self.done(f"{made['text']}.", "done" if made["ok"] else "mind")

    def action_price(self) -> None:
        """Set the price of the marked supply, or of air where a compressor is marked."""
        is_air = self._marked("compressor") or self._marked("air")
        name = TOP_NAME if is_air else self._marked("supply")
        if name:
            self.ask_first(plant.ask_price(self, name))
        else:
            self.say("note", "Choose a supply with up and down first; a compressor for air.")

    def action_day(self) -> None:
        """Start or end the day."""
        self._day.begin()

    def value_to_copy(self) -> str:
        """Return what the marked line is called."""
        row = self.query_one(Roll).current
        return row.key.partition("/")[2] if row else ""


def _lines(lines: list[str]) -> Content:
    """Return lines as they are."""
    return Content("\n").join(plain(line) for line in lines)
