"""The care of an analyser, from the Store: checks, a second gas, helium, cells, its certificate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

from textual import work

from blender.gas import parse_gas
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station import analyser_care, measuring
from blender.units import parse_percent
from tui.dialogs.form import Drafts, Field, Form
from tui.dialogs.page import Page
from tui.places.store_asks import AMBIENT
from tui.places.store_gear import Gear
from tui.saying import said

_OFFERS = {
    "c": "check on a known gas",
    "s": "a second gas",
    "h": "helium",
    "n": "a new cell (manager)",
    "p": "print its certificate",
}
_ACTS: dict[str, tuple[str, Callable[..., Any]]] = {
    "c": ("A check on a known gas", measuring.check_analyser),
    "s": ("Tried on two known gases", analyser_care.try_straight),
    "h": ("Tried on a known helium", analyser_care.try_helium),
}


class Care(Gear):
    """A place at which analysers are looked after."""

    def analyser_meant(self) -> str:
        """Return the analyser that is meant, empty if there is none."""
        return ""

    @work(group="dialog")
    async def action_care(self) -> None:
        """Show what is known of the marked analyser; go on from there until it is left."""
        name = self.analyser_meant()
        if not name:
            self.say("note", "There is no analyser yet; alt+n adds one.")
            return
        going_on = True
        while going_on:
            known = await self.look(analyser_care.care_of, name, self.terminal.house.clock())
            if known is None:
                return
            lines = [said(line, self.terminal.units) for line in analyser_care.lines(known)]
            offers = {"p": _OFFERS["p"]} if known["retired"] else _OFFERS
            pressed = await self.over(Page(f"Analyser {name}", lines, offers))
            if pressed is None:
                return
            going_on = await self._care(name, pressed, known)

    async def _care(self, name: str, pressed: str, known: dict[str, Any]) -> bool:
        """Do what was pressed; False where it was refused, or something is to be minded."""
        if pressed == "n":
            return await self.add_item("cell", on=name)
        if pressed == "p":
            await self._certificate(name, known)
            return False
        title, use_case = _ACTS[pressed]
        given = await self.over(care_form(name, title, self.terminal.drafts))
        if given is None:
            return True
        made = await self.perform(use_case, name, **given)
        if made is None:
            return False
        self.terminal.drafts.pop(f"{title}: {name}", None)
        self.say("done" if made["ok"] else "mind", f"{made['text']}.")
        self.renew()
        return made["ok"] is True

    async def _certificate(self, name: str, known: dict[str, Any]) -> None:
        from reports.calibration_page import calibration_pdf

        now = self.terminal.house.clock()
        view = await self.look(_page, known, now)
        if view is None:
            return
        view = replace(view, imperial=self.terminal.units.imperial)
        called = "".join(char if char.isalnum() else "-" for char in name)
        file = f"analyser-{called}-{now.iso[:10]}.pdf"
        if path := await self.put(file, partial(calibration_pdf, view)):
            self.say("done", f"Certificate: {path}")


def _page(record: Record, known: dict[str, Any], now: Moment) -> analyser_care.CarePage:
    return analyser_care.paper(record, known, now)


def care_form(name: str, title: str, drafts: Drafts) -> Form:
    """Return the form of one trial of an analyser."""
    if title == _ACTS["s"][0]:
        fields = [
            Field("low", "First gas, reading", "air@20.9", "", _gas_at,
                  text="The gas it is set on, and what it shows of it."),
            Field("high", "Second gas, reading", "oxygen99.5@98.6", "", _gas_at),
            Field("ambient", "Ambient pressure", AMBIENT, AMBIENT),
            Field("air", "The room's air", "20C/50%; if the first gas is that air"),
        ]  # fmt: skip
    else:
        gas = "helium" if title == _ACTS["h"][0] else "oxygen"
        fields = [
            Field("gas", "Known gas", gas, "", lambda text: parse_gas(text.strip(), "gas")),
            Field("reading", "What it shows", "99.1, in percent", "",
                  lambda text: parse_percent(text, "reading")),
        ]  # fmt: skip
    return Form(f"{title}: {name}", fields, drafts)


def _gas_at(text: str) -> None:
    gas, _, shown = text.strip().rpartition("@")
    parse_gas(gas, "gas")
    parse_percent(shown, "reading")
