"""Check-in: what the Counter's field asks from a scan to a plan, and what becomes of it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from blender.errors import InputError
from blender.planning.options import Options
from blender.record.anchor import WORD
from blender.station import analysing, lookup, people, planning, requesting
from blender.station.answer import Answer
from blender.station.trial import over_marks, trial
from tui.places import counter_typed as typed
from tui.places.counter_away import KINDS as AWAY
from tui.places.counter_visit import (
    Visit,
    card_known,
    card_needed,
    check_helium,
    guarded,
    is_enough,
    states_of,
    unlike_record,
)
from tui.places.panel_asks import analyser_named
from tui.typed_options import options, options_text
from tui.widgets.asking import Ask

if TYPE_CHECKING:
    from tui.places.counter import Counter

_SIGNED_HERE = ("analysed", "accepted")
_SERIAL_LIKE = re.compile(r"[A-Za-z0-9][A-Za-z0-9./_+-]{0,64}")


class Arrival:
    """The questions of check-in.

    Parameters
    ----------
    counter : Counter
        The place that asks.
    """

    def __init__(self, counter: Counter) -> None:
        self._counter = counter
        self._card_asked = ""

    def forget(self) -> None:
        """Let go of a question half answered."""
        self._card_asked = ""

    def now(self) -> Ask:
        """Return what is asked now."""
        counter, visit = self._counter, self._counter.visit
        if counter.hits:
            return self._choose()
        if visit is None:
            return self._find()
        if visit.fill:
            return self._after(visit)
        if visit.left is None:
            return self._left(visit)
        if visit.customer is None:
            return self._whose(visit)
        return self._card(visit) if self._card_asked else self._want(visit)

    # -- finding ---------------------------------------------------------------------------

    def _find(self) -> Ask:
        unknown = self._counter.unknown
        prompt = "Scan or type a serial, a label, or a name"
        if unknown:
            prompt = f"Enter registers {unknown[:32]}; or scan or type another"

        async def enter(text: str) -> bool:
            if not text.strip() and unknown:
                self._counter.action_new_cylinder()
                return True
            return await self.find(text.strip())

        return Ask(
            "find", prompt, guarded(self._counter, enter), None,
            "The serial of the cylinder in hand, the QR text of its label, or any part of a "
            "serial or a customer's name. Several found: type the number, or up, down and Enter.",
        )  # fmt: skip

    async def find(self, text: str) -> bool:
        """Go on with what was scanned or typed."""
        counter = self._counter
        if not text:
            counter.say("note", "Scan a cylinder, or type a name or a part of it.")
            return False
        hits = await counter.look(lookup.find, text)
        if hits is None:
            return text.startswith(WORD)
        counter.unknown = ""
        exact = [hit for hit in hits if _is_exact(hit, text)]
        if text.startswith(WORD) and not hits:
            counter.say("refused", "This label's text is not complete: scan it again.")
        elif len(exact) == 1:
            await self.choose(exact[0], text)
        elif hits and hits[0]["kind"] == "fill":
            await counter.take_fill(int(hits[0]["key"]), label=text)
        elif len(hits) == 1:
            await self.choose(hits[0], "")
            self._compare()
        elif hits:
            counter.hits, counter.marked = hits, 0
            counter.say("note", f"{len(hits)} found.")
        else:
            self._unknown(text)
        counter.show()
        return True

    def _unknown(self, text: str) -> None:
        if _SERIAL_LIKE.fullmatch(text):
            self._counter.unknown = text
        self._counter.named = text
        self._counter.say(
            "mind", f"Nothing is known by {text[:40]!r}. alt+n registers a cylinder, alt+d a diver."
        )

    def _choose(self) -> Ask:
        counter = self._counter

        async def enter(text: str) -> bool:
            wanted = text.strip()
            if not wanted:
                return await self._pick(counter.marked)
            if wanted.isdecimal() and wanted.isascii() and 1 <= int(wanted) <= len(counter.hits):
                return await self._pick(int(wanted) - 1)
            if counter.visit is not None:
                raise InputError("number", wanted, f"1 to {len(counter.hits)}; Esc leaves the list")
            counter.hits = []
            return await self.find(wanted)

        return Ask(
            "choose", "Type the number, or up, down and Enter", guarded(counter, enter), None,
            "Which of them is it? Anything else that is typed is looked for anew.",
        )  # fmt: skip

    async def _pick(self, at: int) -> bool:
        hit = self._counter.hits[at]
        self._counter.hits = []
        await self.choose(hit, "")
        self._compare()
        self._counter.show()
        return True

    def _compare(self) -> None:
        """Remind where a cylinder was chosen from the screen, not read off the cylinder."""
        visit = self._counter.visit
        if visit is not None and not visit.fill and not visit.known["due"]:
            self._counter.say("mind", f"Is {visit.serial} stamped on the cylinder in hand?")

    async def choose(self, hit: dict[str, Any], scanned: str) -> None:
        """Go on with one thing that was found."""
        counter = self._counter
        if hit["kind"] == "fill":
            await counter.take_fill(int(hit["key"]))
        elif hit["kind"] == "customer":
            await self._customer(str(hit["key"]))
        elif hit["kind"] in AWAY:
            await counter.away.choose(hit)
        else:
            serial, anew = str(hit["key"]), bool(hit.get("anew"))
            await self.take(serial, scanned or serial, anew=anew)

    async def _customer(self, person: str) -> None:
        """Take a customer: for the cylinder in hand, or to choose one of theirs."""
        counter, visit = self._counter, self._counter.visit
        card = await counter.look(lookup.customer_card, person)
        if card is None:
            return
        whose = {name: card[name] for name in ("person", "name", "certified")}
        if visit is not None:
            visit.customer = whose
            return
        counter.customer, counter.card = whose, card
        counter.hits = [{"kind": "cylinder", "key": serial, "text": serial}
                        for serial in card["cylinders"]]  # fmt: skip
        counter.marked = 0
        counter.say("note", f"{card['name']}: scan the cylinder, or choose one of theirs.")

    async def take(self, serial: str, scanned: str, *, anew: bool = False) -> None:
        """Take a cylinder in hand: to be signed, collected, gone on with, or checked in.

        One that another station filled is offered to be analysed here, unless it is `anew`.
        """
        counter = self._counter
        now, rules = counter.terminal.house.clock(), counter.rules
        known = await counter.look(lookup.known, serial, now, rules)
        if known is None:
            return
        opened = await counter.look(states_of, known["open_fills"]) or {}
        here = [number for number, state in opened.items() if state in _SIGNED_HERE]
        if here:
            await counter.take_fill(here[-1], serial=scanned)
            return
        if not opened and not anew and counter.away.offer(serial, known["elsewhere"]["fills"]):
            return
        counter.visit = Visit(known, scanned, counter.customer or known["customer"])
        counter.customer = counter.card = None
        if opened:
            number, state = list(opened.items())[-1]
            counter.visit.fill, counter.visit.state = number, state
            lost = f" {known['gas_lost']}" if known["gas_lost"] else ""
            counter.say("mind", f"Fill {number} of this cylinder is {state}.{lost}")
        elif known["due"]:
            counter.say("mind", "Look at the stamps: " + known["due"][0]["text"])
        else:
            counter.say("note", "")

    async def read_again(self, visit: Visit) -> None:
        """Read what the record knows of the cylinder in hand once more."""
        now, rules = self._counter.terminal.house.clock(), self._counter.rules
        visit.known = (
            await self._counter.look(lookup.known, visit.serial, now, rules) or visit.known
        )

    # -- what is left ----------------------------------------------------------------------

    def _left(self, visit: Visit) -> Ask:
        terminal = self._counter.terminal
        analyser, gas = terminal.settings.analyser, visit.label_gas

        def understood(text: str) -> typed.Left:
            return typed.left(text, terminal.units, gas, analyser, had_helium=visit.had_helium)

        async def enter(text: str) -> bool:
            given = understood(text)
            if given.is_analysed:
                await self._meter(given.analyser)
            visit.left = given
            unlike = unlike_record(visit, given)
            self._counter.say("mind" if unlike else "note", unlike, visit.known["last_fill"])
            self._counter.show()
            return True

        label = f"; {visit.label_words}" if gas else ""
        at = terminal.units.example("60", "870")
        return Ask(
            f"left-{visit.serial}",
            f"What is left: pressure and O2 analysed, {at} 28.1{label}",
            guarded(self._counter, enter),
            lambda text: typed.left_text(understood(text), terminal.units),
            f"{at} 28.1 is a pressure and the oxygen an analyser shows now; a third number is "
            f"helium: {at} 21.2 34.8. A temperature may stand between: {at} "
            f"{terminal.units.example('18C', '64F')} 28.1. Without an analysis: {at} alone (the "
            f"last label's gas), {at} EAN28 stated, {at} unknown; 0 is empty. Oxygen goes only "
            "onto what was analysed.",
            initial=self._counter.left_typed,
        )  # fmt: skip

    async def _meter(self, name: str) -> str:
        """Return the analyser that a name means, and keep it for the next time."""
        found = await self._counter.terminal.floor.look(analyser_named, name)
        self._counter.terminal.remember(analyser=found)
        return found

    # -- whose it is, and what is wanted ---------------------------------------------------

    def _whose(self, visit: Visit) -> Ask:
        async def enter(text: str) -> bool:
            if await self.customer_named(text) is None:
                self._counter.show()
                return bool(self._counter.hits)
            self._counter.show()
            return True

        return Ask(
            f"whose-{visit.serial}", "Whose fill is it? A name, or a part of it",
            guarded(self._counter, enter), None, "alt+d adds a new diver.",
        )  # fmt: skip

    async def customer_named(self, text: str) -> dict[str, Any] | None:
        """Find one customer by a part of a name and take them; several become a list."""
        counter = self._counter
        found = await counter.look(lookup.find, text.strip()) or []
        people = [hit for hit in found if hit["kind"] == "customer"]
        whole = [hit for hit in people if hit["text"].startswith(f"{text.strip()}  ")]
        people = whole if len(whole) == 1 else people
        if len(people) == 1:
            card = await counter.look(lookup.customer_card, str(people[0]["key"]))
            if card is None:
                return None
            whose = {name: card[name] for name in ("person", "name", "certified")}
            if counter.visit is not None:
                counter.visit.customer = whose
            return whose
        if people and counter.visit is not None:
            counter.hits, counter.marked = people, 0
            counter.say("note", f"{len(people)} found: which of them?")
            return None
        counter.named = text.strip()
        several = "several customers go by that" if people else "no customer goes by that"
        counter.say("mind", f"{text.strip()[:40]!r}: {several}. alt+d adds one.")
        return None

    def _want(self, visit: Visit) -> Ask:
        units = self._counter.terminal.units
        name = visit.customer["name"] if visit.customer else ""
        to = units.example("230", "3300")

        def echo(text: str) -> str:
            return typed.want_text(typed.want(text, units), units, name, visit.known["wp_bar"])

        async def enter(text: str) -> bool:
            visit.want = text
            given = typed.want(text, units)
            if given.whose and await self.customer_named(given.whose) is None:
                self._counter.show()
                return False
            check_helium(visit, given)
            if self._asks_for_card(visit, given):
                self._card_asked = card_needed(given)
                self._counter.show()
                return True
            return await self._request(visit, given)

        return Ask(
            f"want-{visit.serial}", f"What is wanted? For {name} (another: for NAME)",
            guarded(self._counter, enter), echo,
            f"Pressure and gas: {to} EAN32, {to} 18/45, {to} air. {to} best "
            f"{units.example('32m', '105ft')} 1.4 takes the richest nitrox for a depth and ppO2. "
            "'for NAME' is for another customer. Planning words may "
            "follow: 'flow 40%', 'from NAME', 'top EAN32', 'limit 232bar'. Nothing is entered "
            "where no such fill is possible.",
            initial=visit.want or typed.again(visit.known["same_again"], units),
        )  # fmt: skip

    # -- the diver's card ------------------------------------------------------------------

    def _asks_for_card(self, visit: Visit, given: typed.Want) -> bool:
        customer = visit.customer
        return customer is not None and not is_enough(customer["certified"], card_needed(given))

    def _card(self, visit: Visit) -> Ask:
        customer, needed = visit.customer or {}, self._card_asked

        async def enter(text: str) -> bool:
            answer = text.strip().lower()
            if answer not in ("yes", "no"):
                raise InputError("card", text.strip() or "nothing", "answer yes or no")
            self._card_asked = ""
            if answer == "no":
                told = f"No {needed} card: no {needed}. Type another gas."
                self._counter.say("refused", told)
                self._counter.show()
                return True
            if not await self._card_seen(customer, needed):
                return False
            units = self._counter.terminal.units
            return await self._request(visit, typed.want(visit.want, units))

        return Ask(
            f"card-{customer.get('person')}",
            f"{card_known(customer)}. Shown a {needed} card? yes/no",
            guarded(self._counter, enter), None,
            "The record has no certification of this diver for that gas. Look at the card before "
            "the fill: without one a manager decides, at the Panel.",
        )  # fmt: skip

    async def _card_seen(self, customer: dict[str, Any], needed: str) -> bool:
        seen = await self._counter.perform(people.see_card, customer["person"], needed)
        if seen is not None:
            customer["certified"] = seen["certified"]
        return seen is not None

    # -- entering it -----------------------------------------------------------------------

    async def _request(self, visit: Visit, given: typed.Want) -> bool:
        """Enter the request, the analysis of what is left, and the plan."""
        counter, left = self._counter, visit.left
        if left is None or visit.customer is None:
            return False
        made = await counter.look(trial, visit.serial, left.have, given.want, given.plan_options)
        if made is None:
            counter.show()
            return False  # nothing was entered, and the nearest that is possible was said
        if over := await counter.look(over_marks, visit.serial, made):
            counter.say("refused", f"Nothing was entered. {over}")
            counter.show()
            return False
        answer = await counter.perform(
            requesting.request, cylinder=visit.serial, customer=visit.customer["person"],
            have=left.have, residual="stated" if left.is_analysed else left.source,
            want=given.want,
        )  # fmt: skip
        if answer is None:
            return False
        visit.fill, visit.state = answer.fill, answer.state
        if left.is_analysed and not await self._analyse(visit, left):
            counter.show()
            return True
        await self._plan(visit, given.plan_options)
        return True

    async def _analyse(self, visit: Visit, left: typed.Left) -> bool:
        """Enter the analysis of what is left; False if it was not taken."""
        visit.needs_analysis = True
        meter = await self._meter(left.analyser)
        answer = await self._counter.perform(
            analysing.analyse, visit.fill, serial=visit.scanned, analyser=meter,
            reading=left.o2, helium=left.he or None,
        )  # fmt: skip
        if answer is None:
            return False
        visit.state = answer.state
        visit.needs_analysis = not answer.done and answer.state != "quarantined"
        if not answer.done:
            self._counter.say("refused", answer.spoken)
        return answer.done

    async def _plan(self, visit: Visit, made: Options) -> None:
        counter = self._counter
        answer = await counter.perform(planning.plan, visit.fill, made)
        if answer is not None:
            visit.state = answer.state
            visit.plan = answer.facts.get("plan") if answer.done else visit.plan
            visit.needs_analysis = any(gate.gate == "residual" for gate in answer.objections)
            self._say_planned(visit, answer)
        counter.show()

    def _say_planned(self, visit: Visit, answer: Answer) -> None:
        if not answer.done:
            self._counter.say("refused", answer.spoken)
            return
        minds = [gate.reason for gate in answer.objections]
        told = f"Fill {visit.fill} is planned. Nothing has been let in yet."
        self._counter.say("mind" if minds else "done", " ".join([told, *minds]))

    # -- after it was requested ------------------------------------------------------------

    def _after(self, visit: Visit) -> Ask:
        if visit.state == "quarantined":
            return self._to_panel(visit)
        if visit.needs_analysis:
            return self._residual(visit)
        return self._to_panel(visit) if visit.plan is None else self._go(visit)

    def _residual(self, visit: Visit) -> Ask:
        terminal = self._counter.terminal
        analyser = terminal.settings.analyser

        async def enter(text: str) -> bool:
            left = typed.left(f"1 {text}", terminal.units, "", analyser)
            if not left.is_analysed:
                raise InputError("analysis", text.strip() or "nothing", "type 28.1 or 21.2 34.8")
            if await self._analyse(visit, left):
                units = terminal.units
                again = typed.want(visit.want, units).plan_options if visit.want else Options()
                await self._plan(visit, again)
            self._counter.show()
            return not visit.needs_analysis

        whose = analyser or "analyser and its"
        return Ask(
            f"residual-{visit.fill}",
            f"Analyse what is left in {visit.serial}: {whose} reading in percent",
            guarded(self._counter, enter), None,
            "Oxygen is to go in: what is left is analysed first. Another analyser's name goes in "
            "front: A2 28.1. Helium follows: 21.2 34.8. alt+r leaves it for the Panel.",
        )  # fmt: skip

    def _go(self, visit: Visit) -> Ask:
        async def enter(text: str) -> bool:
            if text.strip():
                await self._plan(visit, options(text))
                return True
            self._counter.leave_for_panel(visit.fill)
            return True

        return Ask(
            f"go-{visit.fill}", f"Enter goes to the Panel with fill {visit.fill}",
            guarded(self._counter, enter), lambda text: options_text(text) if text else "",
            "Or type planning words to plan again: 'flow 40%', 'from NAME', 'top EAN32', "
            "'at 20C,35C', 'limit 232bar'.",
        )  # fmt: skip

    def _to_panel(self, visit: Visit) -> Ask:
        async def enter(text: str) -> bool:
            if text.strip().lower() == "new":
                visit.fill, visit.state = 0, ""
                self._counter.show()
            elif text.strip():
                self._counter.start_over()
                return await self.find(text.strip())
            else:
                self._counter.leave_for_panel(visit.fill)
            return True

        return Ask(
            f"panel-{visit.fill}",
            f"Fill {visit.fill} is {visit.state}. Enter goes to the Panel ('new': check in anew)",
            guarded(self._counter, enter), None, "Or scan another cylinder.",
        )  # fmt: skip


def _is_exact(hit: dict[str, Any], text: str) -> bool:
    if hit["kind"] != "cylinder":
        return False
    serial = str(hit["key"])
    return text == serial or text in serial.split("+")
