"""The Counter: customer and blender together, from the scan to the signed label."""

from __future__ import annotations

import asyncio
from typing import Any, ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Key

from blender.record.anchor import WORD
from blender.record.glance import glance
from blender.station import equipment, lookup, people
from blender.station.answer import Answer
from blender.station.rules import Rules
from tui.keys import bindings
from tui.places import counter_forms as forms
from tui.places.counter_asks import Arrival
from tui.places.counter_away import Away
from tui.places.counter_batch import BatchIn
from tui.places.counter_sign import Signing
from tui.places.counter_typed import left_text
from tui.places.counter_visit import Visit, states_of
from tui.places.panel_checks import Checks
from tui.plain import plain
from tui.widgets.asking import Ask, AskField
from tui.widgets.card import (
    Card,
    Sheet,
    customer_card,
    cylinder_card,
    hit_list,
    lines,
    offer_head,
    plan_words,
    statement,
)
from tui.widgets.signpad import SignBox, Stroke

WELCOME = (
    "Scan the cylinder in hand, or type a part of its serial or of a name.\n\n"
    "alt+n  a cylinder nobody knows yet     alt+d  a new diver\n"
    "alt+a  several cylinders for one mix   alt+r  start over\n\n"
    "Analyse before use. The cylinder's own markings come first."
)
# What can be typed, in metric and imperial units, and what it means.
LEFT = (
    ("60 28.1", "870 28.1", "O2 analysed now"),
    ("60 21.2 34.8", "870 21.2 34.8", "and helium"),
    ("60 18C 28.1", "870 64F 28.1", "at a temperature"),
    ("60", "870", "gas of the last label"),
    ("60 EAN28", "870 EAN28", "what the diver says"),
    ("0", "0", "empty"),
)
WANT = (
    ("230 EAN32", "3300 EAN32", "pressure and gas"),
    ("230 best 32m", "3300 best 105ft", "for a depth, ppO2 1.4"),
    ("200 18/45 for Kai", "2900 18/45 for Kai", "another customer"),
    ("230 EAN32 flow 40%", "3300 EAN32 flow 40%", "by continuous flow"),
)


class Counter(Checks):
    """Where cylinders come in, are signed for, and leave."""

    NAME = "counter"
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings("counter"),
        Binding("up", "mark(-1)", show=False),
        Binding("down", "mark(1)", show=False),
        Binding("pageup", "read_on(-1)", show=False),
        Binding("pagedown", "read_on(1)", show=False),
    ]
    DEFAULT_CSS = """
    Counter #floor { height: 1fr; }
    Counter.-wide Card { width: 48; }
    """
    HORIZONTAL_BREAKPOINTS = [(0, "-normal"), (110, "-wide")]  # noqa: RUF012 - the toolkit's own
    HELP_TEXT = "One field asks for what is next; what it understood stands below it."

    def __init__(self) -> None:
        super().__init__()
        self.visit: Visit | None = None
        self.customer: dict[str, Any] | None = None  # chosen before a cylinder was
        self.card: dict[str, Any] | None = None
        self.hits: list[dict[str, Any]] = []
        self.marked = 0
        self.unknown = ""  # a serial scanned that nobody knows
        self.named = ""  # what was typed that nobody knows
        self.left_typed = ""
        self.override: Ask | None = None  # a look at the cylinder, asked in between
        self.check_in = Arrival(self)
        self.away = Away(self)
        self.signing = Signing(self)
        self.sheaf = BatchIn(self)

    def middle(self) -> ComposeResult:
        """Card, sheet, field."""
        with Horizontal(id="floor"):
            yield Card()
            yield Sheet()
        yield AskField()

    @property
    def rules(self) -> Rules:
        """The station's rules."""
        return self.terminal.floor.station.rules

    # -- what is shown ---------------------------------------------------------------------

    def renew(self) -> None:
        """Take what was carried here in hand, and show what is so now."""
        self.count_unsafe()
        if self.terminal.in_hand:
            number, self.terminal.in_hand = self.terminal.in_hand, 0
            self._carried(number)
        else:
            self.show()
            self._look_again()

    @work(exclusive=True, group="unsafe")
    async def count_unsafe(self) -> None:
        """Count what must not be breathed, for the top line."""
        location = self.terminal.house.location
        found = await self.terminal.attempt(asyncio.to_thread(glance, location))
        if found is not None:
            self.terminal.unsafe = sum(fill.do_not_breathe for fill in found.fills)
            self.terminal.head()

    @work(exclusive=True, group="again")
    async def _look_again(self) -> None:
        """Let go of what was said of a fill that has moved on since, at another terminal too."""
        offer, visit = self.signing.offer, self.visit
        number = offer.fill if offer is not None else visit.fill if visit is not None else 0
        known = offer.state if offer is not None else visit.state if visit is not None else ""
        if not number or not self.terminal.floor.is_open:
            return
        found = await self.look(states_of, [number])
        if found is None or found[number] == known or not self._still(number, known):
            return
        self.say("note", f"Fill {number} is {found[number]} now.")
        if offer is not None or found[number] in ("analysed", "accepted"):
            await self.take_fill(number)
        elif visit is not None:
            visit.state = found[number]
        self.show()

    def _still(self, number: int, state: str) -> bool:
        """Tell whether a fill is in hand still, as it was when the record was asked."""
        if self.signing.offer is not None:
            return (self.signing.offer.fill, self.signing.offer.state) == (number, state)
        return self.visit is not None and (self.visit.fill, self.visit.state) == (number, state)

    @work
    async def _carried(self, number: int) -> None:
        self.start_over()
        await self.take_fill(number)
        self.show()

    async def take_fill(self, number: int, serial: str = "", label: str = "") -> None:
        """Take a fill to be signed or collected in hand; one that has left is checked in."""
        self._let_go()
        await self.signing.take(number, serial, label)
        offer = self.signing.offer
        if offer is not None and offer.state in ("collected", "rejected"):
            self.signing.forget()
            await self.check_in.take(offer.serial, offer.serial)

    def show(self) -> None:
        """Show card, sheet and question as things stand."""
        card, sheet, units = self.query_one(Card), self.query_one(Sheet), self.terminal.units
        card.display = False
        offer, visit = self.signing.offer, self.visit
        if self.sheaf.is_on:
            sheet.show(self.sheaf.shown(units))
        elif offer is not None:
            sheet.show(statement(offer, units), offer_head(offer, units), offer)
        else:
            card.display = visit is not None or self.card is not None
            card.update(self._card_shown())
            sheet.show(self._sheet_shown())
        self.put_ask()
        self.terminal.head()

    def _card_shown(self) -> Content:
        units = self.terminal.units
        if self.visit is not None:
            left = left_text(self.visit.left, units) if self.visit.left else ""
            return cylinder_card(self.visit.known, self.visit.customer, left, units)
        return customer_card(self.card) if self.card is not None else plain("")

    def _sheet_shown(self) -> Content:
        if self.hits:
            return hit_list(self.hits, self.marked, self.terminal.units)
        if self.visit is None:
            return lines(WELCOME.split("\n"))
        if self.visit.plan is not None:
            return plan_words(self.visit.plan, self.terminal.units)
        if self.visit.fill:
            return plain("")
        examples = LEFT if self.visit.left is None else WANT
        imperial = self.terminal.units.imperial
        return lines(f"{typed[imperial]:19}  {means}" for *typed, means in examples)

    def put_ask(self) -> None:
        """Ask what is next."""
        asking = self.query_one(AskField)
        if self.override is not None:
            asking.put(self.override)
        elif self.sheaf.is_on:
            asking.put(self.sheaf.now())
        elif self.signing.offer is not None and not self.hits:
            asking.put(self.signing.now(self.signing.offer))
        else:
            asking.put(self.check_in.now())
        if self.is_current:
            asking.focus_field()

    # -- keys ------------------------------------------------------------------------------

    def action_mark(self, by: int) -> None:
        """Mark the line above or below."""
        if self.hits:
            self.marked = (self.marked + by) % len(self.hits)
            self.show()

    def action_read_on(self, way: int) -> None:
        """Scroll what is longer than the screen."""
        sheet = self.query_one(Sheet)
        sheet.scroll_relative(y=way * max(sheet.size.height - 2, 1), animate=False)

    def on_key(self, event: Key) -> None:
        """Go a question back; nothing entered is lost by it."""
        if event.key != "escape":
            return
        event.stop()
        if self.override is not None:
            self.override = None
        elif self.hits:
            self.hits = []
        elif self.sheaf.is_on:
            self.sheaf.back()
        elif self.signing.offer is not None:
            self.signing.back()
        elif self.visit is not None and not self.visit.fill and self.visit.left is not None:
            self.left_typed, self.visit.left = self.visit.left.typed, None
            self.check_in.forget()
        self.show()

    def start_over(self) -> None:
        """Let go of everything in hand: nothing personal stays on the screen."""
        self._let_go()
        self.query_one(AskField).forget()
        self.say("note", "")
        self.show()

    def _let_go(self) -> None:
        self.visit = self.customer = self.card = self.override = None
        self.hits, self.unknown, self.named, self.left_typed = [], "", "", ""
        self.check_in.forget()
        self.signing.forget()
        self.sheaf.forget()

    # -- the checks of the fill in hand -----------------------------------------------------

    def fill_checked(self) -> int:
        """Return the fill in hand; a cylinder that is only checked in has none yet."""
        if self.signing.offer is not None:
            return self.signing.offer.fill
        return self.visit.fill if self.visit is not None else 0

    def cylinder_checked(self) -> str:
        """Return the serial of what is in hand."""
        return self.value_to_copy()

    def ask_first(self, ask: Ask) -> None:
        """Ask something before what is usually next."""
        self.override = ask
        self.put_ask()

    def look_ends(self) -> None:
        """Go back to what is usually next."""
        self.override = None
        self.show()

    async def tell(self, answer: Answer | None) -> bool:
        """Say what came of a look or of a manager's leave."""
        if answer is None:
            return False
        self.override = None
        self.say("done" if answer.done else "refused", answer.spoken)
        self.show()
        return answer.done

    async def scan_anew(self, text: str, waits_for: str) -> bool:
        """Go on with another cylinder, if it is one; else say what is waited for."""
        found = await self.look(lookup.find, text)
        if found is None:
            return False
        if not found and not text.startswith(WORD):
            told = f"Nothing is known by {text[:40]!r}. {waits_for}; Esc lets it wait."
            self.say("refused", told)
            return False
        self.start_over()
        return await self.check_in.find(text)

    def leave_for_panel(self, fill: int) -> None:
        """Go to the Panel with a fill in hand; nothing stays here."""
        self.start_over()
        self.terminal.at_panel(fill)

    def action_start_over(self) -> None:
        """Start over."""
        self.start_over()

    def action_batch(self) -> None:
        """Check in several cylinders for one mix."""
        if not self.sheaf.is_on:
            self.start_over()
            self.sheaf.begin()
            self.show()

    @work
    async def action_label(self) -> None:
        """Print the label of the fill in hand again."""
        offer = self.signing.offer
        if offer is None or offer.state != "accepted":
            self.say("note", "There is no signed fill in hand; scan its cylinder first.")
        else:
            await self.signing.print_label(offer.fill, "")

    @work(group="dialog")
    async def action_tablet(self) -> None:
        """Hand something to the tablet, or take it back."""
        from tui.places.counter_tablet import AtTablet

        await AtTablet(self).begin()

    def action_draw(self) -> None:
        """Sign by drawing."""
        offer = self.signing.offer
        if offer is None or not self.signing.may_draw:
            self.say("note", "Draw once you have analysed it and see what you sign for.")
            return
        units = self.terminal.units
        stated = lines([offer_head(offer, units), statement(offer, units)])
        self.app.push_screen(SignBox(stated, self.signing.strokes), self._drawn)

    def _drawn(self, strokes: list[Stroke] | None) -> None:
        self.signing.strokes = strokes or []
        drawn = "Drawn. Enter signs." if strokes else "Nothing was drawn: your typed name signs."
        self.say("note", drawn)
        self.put_ask()

    # -- registering -----------------------------------------------------------------------

    @work(group="dialog")
    async def action_new_cylinder(self) -> None:
        """Register a cylinder with its stamps, and go on with it."""
        units, drafts = self.terminal.units, self.terminal.drafts
        today = self.terminal.house.clock().iso[:7]
        form = forms.cylinder_form(self.unknown, units, drafts, today)
        answers = await self.over(form)
        if answers is None:
            return
        facts = forms.cylinder_facts(answers, units)
        added = await self.perform(equipment.add_cylinder, **facts)
        if added is None:
            return
        drafts.pop(forms.CYLINDER, None)
        self.unknown = ""
        if not self.sheaf.is_on:
            await self.check_in.take(added["serial"], added["serial"])
        self.say("done", f"{added['serial']} is registered.")
        self.show()

    @work(group="dialog")
    async def action_new_diver(self) -> None:
        """Add a customer, and go on for them."""
        drafts = self.terminal.drafts
        answers = await self.over(forms.diver_form(self.named, drafts))
        if answers is None:
            return
        level = answers["certified"].strip().lower()
        if not await self.is_new(answers["name"]):
            return
        added = await self.perform(
            people.add_person, name=answers["name"], role="customer", certified=level
        )
        if added is None:
            return
        drafts.pop(forms.DIVER, None)
        self.named = self.unknown = ""
        whose = {"person": added["person"], "name": added["name"], "certified": level or None}
        if self.visit is not None and not self.visit.fill:
            self.visit.customer = whose
        elif self.visit is None and self.signing.offer is None:
            self.customer = whose
        self.say("done", f"{added['name']} is added.")
        self.show()

    @work(group="dialog")
    async def action_stamps(self) -> None:
        """Enter a new test, inspection or cleaning of the cylinder in hand."""
        visit, drafts = self.visit, self.terminal.drafts
        if visit is None:
            self.say("note", "Scan the cylinder first; then its stamps can be entered.")
            return
        answers = await self.over(forms.stamps_form(visit.known, drafts))
        changed = forms.changed_stamps(visit.known, answers or {})
        drafts.pop(forms.stamps_title(visit.serial), None) if answers is not None else None
        if not changed:
            self.say("note", "The stamps stay as they are.")
            return
        done = await self.perform(equipment.change_cylinder, serial=visit.serial, **changed)
        if done is not None:
            await self.check_in.read_again(visit)
            told = ", ".join(f"{name} {value}" for name, value in changed.items())
            self.say("done", f"{visit.serial}: {told}. The old stamps stay in the record.")
        self.show()

    def value_to_copy(self) -> str:
        """Return the serial of what is in hand."""
        if self.signing.offer is not None:
            return self.signing.offer.serial
        return self.visit.serial if self.visit is not None else ""
