"""Gas in hand, from the Store: when it runs out, deliveries taken in and connected, what it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from textual import work

from blender.errors import InputError
from blender.gas import parse_gas
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.record.text import clean_text
from blender.station import deliveries, in_hand, measuring, suit_bottle, supplies
from blender.units import parse_gauge_pressure, parse_percent, parse_size
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.page import Page
from tui.places.place import Place
from tui.places.store_gas_lines import delivery_line, gas_lines
from tui.shown import Units

DELIVERY = "A delivery of bottles"
CONNECT = "Connect a bottle from the store"
ANALYSE = "What is in a supply, as analysed"
SUIT = "The tag of a suit bottle of argon"
_OFFERS = {"d": "a delivery came", "c": "connect a bottle", "a": "analyse a supply",
           "l": "all deliveries"}  # fmt: skip
_ONLY_SUITS = "Only for a bottle kept for suits; hang it on, and mark the bottle itself."


class GasInHand(Place):
    """A place at which gas in hand is shown and taken in."""

    @work(group="dialog")
    async def action_gas(self) -> None:
        """Show what gas is in hand and when it runs out; go on from there until it is left."""
        doing = {"d": self._deliver, "c": self._connect, "a": self._analyse, "l": self._list}
        pressed: str | None = ""
        while pressed is not None:
            found = await self.look(in_hand.in_hand, self.terminal.house.clock())
            if found is None:
                return
            lines = gas_lines(found, self.terminal.units)
            pressed = await self.over(Page("Gas in hand", lines, _OFFERS))
            if pressed and not await doing[pressed]():
                return

    async def _deliver(self) -> bool:
        form = delivery_form(self.terminal.units, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return True
        at = given["at"].strip()
        made = await self.perform(
            deliveries.deliver,
            **given | {"bottles": _count(given["bottles"], "bottles"),
                       "at": self.terminal.units.typed_pressure(at) if at else None},
        )  # fmt: skip
        if made is None:
            return False
        self._gas_done(DELIVERY, f"Delivery {made['delivery']}: {made['bottles']} bottles of "
                       f"{made['gas_typed']} are in the store.")  # fmt: skip
        return True

    async def _connect(self) -> bool:
        form = connect_form(self.terminal.units, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return True
        at = given["at"].strip()
        made = await self.perform(
            supplies.change_supply, given["name"].strip(),
            delivery=_count(given["delivery"], "delivery"),
            at=self.terminal.units.typed_pressure(at) if at else None,
        )  # fmt: skip
        if made is None:
            return False
        self._gas_done(CONNECT, f"{made['name']}: another bottle of {made['gas_typed']}.")
        return True

    async def _analyse(self) -> bool:
        given = await self.over(analyse_form(self.terminal.drafts))
        if given is None:
            return True
        made = await self.perform(
            measuring.analyse_supply, given["name"].strip(), analyser=given["analyser"].strip(),
            reading=given["reading"],
        )  # fmt: skip
        if made is None:
            return False
        self._gas_done(ANALYSE, f"{made['text']}.", "done" if made["ok"] else "mind")
        return made["ok"] is True

    async def _list(self) -> bool:
        """Show every delivery there was; leaving it leads back."""
        found = await self.look(_deliveries)
        if found is not None:
            told = [delivery_line(one, self.terminal.units) for one in found]
            await self.over(Page("Deliveries, newest first", told or ["none yet"]))
        return True

    def _gas_done(self, title: str, told: str, kind: str = "done") -> None:
        self.terminal.drafts.pop(title, None)
        self.say(kind, told)
        self.renew()

    @work(group="dialog")
    async def action_suit_bottle(self) -> None:
        """Print the tag of a suit bottle of argon: NOT BREATHABLE."""
        from reports.suit_tag import suit_tag_pdf

        given = await self.over(suit_form(self.terminal.units, self.terminal.drafts))
        if given is None:
            return
        now, units = self.terminal.house.clock(), self.terminal.units
        tag = await self.look(_suit_tag, given, units, now)
        if tag is None:
            return
        name = f"argon-{''.join(c if c.isalnum() else '-' for c in tag.serial)}.pdf"
        if path := await self.put(name, lambda _: suit_tag_pdf(tag)):
            self.terminal.drafts.pop(SUIT, None)
            self.say("mind", f"Tag: {path}. {_ONLY_SUITS}")


def _deliveries(record: Record) -> list[dict[str, Any]]:
    with record.read() as conn:
        found: list[dict[str, Any]] = deliveries.listing(conn)["deliveries"]
    return found


def _suit_tag(
    record: Record, given: Mapping[str, str], units: Units, now: Moment
) -> suit_bottle.SuitTag:
    at = given["at"].strip()
    serial = clean_text(given["serial"], "serial", 60)
    typed = units.typed_pressure(at) if at else None
    return replace(suit_bottle.suit_bottle(record, serial, typed, now), imperial=units.imperial)


# -- forms ---------------------------------------------------------------------------------


def delivery_form(units: Units, drafts: Drafts) -> Form:
    """Return the form of a delivery of like bottles."""
    return Form(
        DELIVERY,
        [
            Field("gas", "Gas", "oxygen99.5, helium, as the bottles are called", "",
                  lambda text: parse_gas(text.strip(), "gas")),
            Field("size", "Capacity of each", "50L", "",
                  lambda text: parse_size(text.strip(), "size")),
            Field("bottles", "How many", "4", "1", lambda text: _count(text, "bottles")),
            Field("at", f"Gauge at {units.temperature(20.0)}",
                  f"{units.example('200', '2900')}; empty: not known", "", _pressure(units)),
            Field("lot", "Lot", "as the note has it; may be empty",
                  text="A recall by lot finds every fill that had gas of it."),
            Field("certificate", "Certificate", "its number; may be empty"),
            Field("supplier", "From whom", "may be empty"),
            Field("on", "Day", "2026-03-01; empty: today", "", _day),
        ],
        drafts,
    )  # fmt: skip


def connect_form(units: Units, drafts: Drafts) -> Form:
    """Return the form of a bottle of a delivery that is connected under a supply's name."""
    return Form(
        CONNECT,
        [
            Field("name", "Connected as", "o1, the name of a supply", "",
                  lambda text: clean_text(text, "name", 40)),
            Field("delivery", "Of delivery number", "3, as the store lists it", "",
                  lambda text: _count(text, "delivery"),
                  text="Gas, size, lot and certificate come from the delivery."),
            Field("at", f"Gauge at {units.temperature(20.0)}",
                  "what it shows; empty: as delivered", "", _pressure(units)),
        ],
        drafts,
    )  # fmt: skip


def analyse_form(drafts: Drafts) -> Form:
    """Return the form of a supply's analysis."""
    return Form(
        ANALYSE,
        [
            Field("name", "Supply", "o1", "", lambda text: clean_text(text, "supply", 40)),
            Field("analyser", "Analyser", "A1", "", lambda text: clean_text(text, "analyser", 40)),
            Field("reading", "Oxygen reading", "99.6", "",
                  lambda text: parse_percent(text, "oxygen reading")),
        ],
        drafts,
    )  # fmt: skip


def suit_form(units: Units, drafts: Drafts) -> Form:
    """Return the form of a suit bottle's tag."""
    return Form(
        SUIT,
        [
            Field("serial", "Serial of the bottle", "SUIT-4", "",
                  lambda text: clean_text(text, "serial", 60),
                  text="A bottle kept and marked for argon alone; never a cylinder on record."),
            Field("at", "Filled to", f"{units.example('50', '700')}; empty: written by hand", "",
                  _pressure(units)),
        ],
        drafts,
    )  # fmt: skip


def _pressure(units: Units) -> Any:
    return lambda text: (
        text.strip() and parse_gauge_pressure(units.typed_pressure(text.strip()), "pressure")
    )


def _count(text: str, field: str) -> int:
    """Return a whole number from 1 on.

    Raises
    ------
    InputError
        If it is none.
    """
    typed = text.strip()
    if not (typed.isascii() and typed.isdigit() and 0 < len(typed) < 10 and int(typed)):
        raise InputError(field, ascii(typed[:40]), "a whole number from 1 on")
    return int(typed)


def _day(text: str) -> None:
    from blender.station.privacy import date_of

    if text.strip():
        date_of(text, "day")
