"""The register of equipment, from the Store: what was done to each, added, acted on, retired."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from textual import work

from blender.record import read, upkeep
from blender.record.journal import Record
from blender.station import duties, items
from blender.station import upkeep as doing
from tui.dialogs.choice import Choice
from tui.dialogs.form import Form
from tui.dialogs.page import Page
from tui.dialogs.pick import ENTER, Pick, Told
from tui.places import store_gear_forms as forms
from tui.places.place import Place
from tui.saying import said
from tui.widgets.roll import RollRow

_SOON_DAYS = 60  # stamps of cylinders are looked at no further ahead
_LEAD = "Due: each thing from its own lead time on"


class Gear(Place):
    """A place at which equipment is looked after."""

    # -- the register ----------------------------------------------------------------------

    @work(group="dialog")
    async def action_gear(self) -> None:
        """Show the register; go on from there until it is left."""
        at = ""
        while True:
            rows = await self.look(_register)
            if rows is None:
                return
            list_of_it = Pick(
                "Equipment, and what was done to it last", rows,
                "what was done, what is to be entered", {"n": "add an item (manager)"}, at,
            )  # fmt: skip
            picked = await self.over(list_of_it)
            if picked is None:
                return
            key, at = picked
            going_on = await (self._add_item() if key != ENTER else self._item(at))
            if not going_on:
                return

    async def _item(self, key: str) -> bool:
        """Ask what is to be done about an item, and do it."""
        kind, _, name = key.partition("/")
        known = await self.look(_item, kind, name)
        if known is None:
            return False
        acts = [] if known["retired"] else list(items.ACTS_OF[kind])
        offers = ["Everything that was done to it", *(forms.offer(act) for act in acts)]
        if kind in items.KINDS and not known["retired"]:
            offers.append("Take it out of use (a manager signs)")
        chosen = await self.over(Choice(f"{kind} {name}", offers))
        if chosen is None:
            return True
        if chosen == 0:
            return await self._history(kind, name)
        if chosen <= len(acts):
            return await self._did(kind, name, acts[chosen - 1])
        return await self._retire_item(kind, name)

    async def _history(self, kind: str, name: str) -> bool:
        found = await self.look(_history, kind, name)
        if found is None:
            return False
        told = [f"{one['text']} ({one['by']}, entry {one['seq']})" for one in found]
        title = f"{kind} {name}: everything that was done to it"
        lines = [said(line, self.terminal.units) for line in told]
        await self.over(Page(title, lines or ["nothing is on record yet"]))
        return True

    async def _did(self, kind: str, name: str, act: str) -> bool:
        form = forms.did_form(kind, name, act, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return True
        made = await self.perform(doing.did, kind, name, act, **given)
        title = forms.did_title(kind, name, act)
        return made is not None and self._gear_done(title, f"{kind} {name}: {made['text']}.")

    async def _add_item(self) -> bool:
        kinds = list(items.KINDS)
        offers = [items.KINDS[kind].meaning for kind in kinds]
        chosen = await self.over(Choice("Add what?", offers))
        return chosen is None or await self.add_item(kinds[chosen])

    async def add_item(self, kind: str, on: str = "") -> bool:
        """Add an item, signed by a manager; False where it was refused."""
        form = forms.add_form(kind, on, self.terminal.floor.actor, self.terminal.drafts)
        given = await self.over(form)
        if given is None:
            return True
        made = await self.perform_signed(given, items.add, kind, **forms.facts(given))
        told = "" if made is None else f"Added: {made['meaning']} {made['name']}."
        return made is not None and self._gear_done(forms.add_title(kind), told)

    async def _retire_item(self, kind: str, name: str) -> bool:
        actor, drafts = self.terminal.floor.actor, self.terminal.drafts
        form: Form = forms.retire_form(kind, name, actor, drafts)
        given = await self.over(form)
        if given is None:
            return True
        made = await self.perform_signed(given, items.retire, kind, name, reason=given["reason"])
        title = forms.retire_title(kind, name)
        return made is not None and self._gear_done(title, f"{kind} {name} is out of use.")

    def _gear_done(self, title: str, told: str) -> bool:
        self.terminal.drafts.pop(title, None)
        self.say("done", told)
        self.renew()
        return True

    # -- what falls due --------------------------------------------------------------------

    @work(group="dialog")
    async def action_due(self) -> None:
        """List what is overdue or falls due, soonest first."""
        within: int | None = None
        while True:
            found = await self.look(_due, self.terminal.house.clock(), within)
            if found is None:
                return
            told = [self._falls_due(at, one) for at, one in enumerate(found)]
            title = _LEAD if within is None else f"Due within {within} days"
            other = f"within {_SOON_DAYS} days" if within is None else "by lead times"
            if await self.over(Pick(title, told, "", {"w": other})) is None:
                return
            within = _SOON_DAYS if within is None else None

    def _falls_due(self, at: int, one: Mapping[str, Any]) -> tuple[RollRow, str]:
        """Return a line of what is due, and in full with where its interval is from."""
        units = self.terminal.units
        over = one["days"] is not None and one["days"] < 0
        row = RollRow(f"due/{at}", said(duties.line(dict(one)), units), over)
        return row, f"{said(duties.named(dict(one)), units)}\n{one['source']}"


def _register(record: Record) -> Told:
    """Return the register, and the compressors and analysers that have one of their own."""
    with record.read() as conn:
        found = items.listing(conn)["equipment"]
        rows = [(_row(one), _whole(one)) for one in found]
        for kind, named in (
            ("compressor", [one.name for one in read.compressors(conn)]),
            ("analyser", [one.name for one in read.analysers(conn)]),
        ):
            for name in named:
                last = upkeep.last_act(conn, kind, name)
                done = f"{last.act} {last.day}" if last else "nothing done to it on record"
                line = f"{kind:10} {name:12} {done}"
                rows.append((RollRow(f"{kind}/{name}", line), f"{kind} {name}: {done}"))
    return rows


def _row(one: Mapping[str, Any]) -> RollRow:
    unsound = bool(one["last"]) and not one["last"]["ok"] and not one["retired"]
    return RollRow(f"{one['kind']}/{one['name']}", items.line(dict(one)), unsound)


def _whole(one: Mapping[str, Any]) -> str:
    last = one["last"]
    told = " ".join(items.line(dict(one)).split())
    if last and not last["ok"] and not one["retired"]:
        told += ": it was NOT FOUND SOUND"
    return f"{told}\nin use since {one['since']}"


def _item(record: Record, kind: str, name: str) -> dict[str, Any]:
    with record.read() as conn:
        row = upkeep.item(conn, kind, name) if kind in items.KINDS else None
    return {"retired": row.retired if row is not None else ""}


def _history(record: Record, kind: str, name: str) -> list[dict[str, Any]]:
    with record.read() as conn:
        found: list[dict[str, Any]] = doing.history(conn, record.station, kind, name)["done"]
    return found


def _due(record: Record, now: Any, within: int | None) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = duties.due(record, now, within_days=within)["due"]
    return found
