"""The day's start, one question after the other, and its end with the sheet."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from blender.errors import InputError
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.record.text import clean_text
from blender.station import day, equipment
from tui.house import House
from tui.places.store_asks import caught, gauge, gauge_echo, setting, setting_echo
from tui.places.store_lines import is_due
from tui.widgets.asking import Ask

if TYPE_CHECKING:
    from tui.places.store import Store

_CHECKS = (
    ("gauges", "Do all panel gauges show zero without pressure? y or n, and what was seen"),
    ("room", "Do the oxygen alarm and the ventilation work? y or n, and what was seen"),
    ("intake", "Does the compressor draw clean air, away from exhaust? y or n"),
)
_ANSWER = re.compile(r"\s*(y|yes|n|no)\b(.*)", re.IGNORECASE | re.DOTALL)
_OPENING_TEXT = (
    "What is answered no is recorded as an exception, and does not keep the day shut. Esc leaves "
    "the day's start; what was answered is kept, and alt+d goes on with it."
)
_CLOSING_TEXT = (
    "Open fills stay where they stand, with their tags. The sheet states what the day was and "
    "carries the record's head: a paper that no later change of the record can agree with."
)


def answer(text: str) -> str:
    """Return a check's answer in full: yes or no first, then what was seen.

    Raises
    ------
    InputError
        If it is neither.

    Examples
    --------
    >>> answer("y"), answer("N, van idling")
    ('yes', 'no, van idling')
    """
    found = _ANSWER.fullmatch(text)
    if not found:
        raise InputError("check", ascii(text[:40]), "y or n; what was seen may follow")
    word = "yes" if found[1].lower().startswith("y") else "no"
    return clean_text(word + found[2], "check", 200)


@dataclass
class _Opening:
    """The answers of a day's start so far, and whose they are."""

    person: str
    checks: dict[str, str] = field(default_factory=dict)
    gauges: dict[str, str] = field(default_factory=dict)
    skipped: set[str] = field(default_factory=set)
    is_over: bool = False  # the day left open was spoken of


class DayAsks:
    """The questions of the day's start and end.

    Parameters
    ----------
    store : Store
        The place that asks.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._opening: _Opening | None = None

    def begin(self) -> None:
        """Ask what belongs to the day's start, or to its end where it is open."""
        if self._store.shelves.status.get("is_open"):
            self._store.ask_first(self._closing())
            return
        actor = self._store.terminal.floor.actor
        person = actor.person if actor else ""
        if self._opening is None or self._opening.person != person:
            self._opening = _Opening(person)
        self._next(self._opening)

    def _next(self, so_far: _Opening) -> None:
        """Ask what is not answered yet: checks, banks, analysers, and then for the signature."""
        store = self._store
        store.say("note", "")  # what was said of the step before is not of this one
        left = store.shelves.status.get("left_open")
        check = next(((n, words) for n, words in _CHECKS if n not in so_far.checks), None)
        done = so_far.gauges.keys() | so_far.skipped
        unread = [n for n in store.shelves.status.get("banks_not_read", []) if n not in done]
        now, rules = store.terminal.house.clock(), store.terminal.floor.station.rules
        unset = [
            one["name"] for one in store.shelves.meters
            if is_due(one, now, rules) and f"analyser/{one['name']}" not in so_far.skipped
        ]  # fmt: skip
        if left and not so_far.is_over:
            store.ask_first(self._left_open(so_far, left))
        elif check:
            store.ask_first(self._check(so_far, *check))
        elif unread:
            store.ask_first(self._bank(so_far, unread[0]))
        elif unset:
            store.ask_first(self._analyser(so_far, unset[0]))
        else:
            store.ask_first(self._sign(so_far))

    def _left_open(self, so_far: _Opening, left: str) -> Ask:
        async def enter(text: str) -> bool:
            so_far.is_over = answer(text).startswith("no")
            if so_far.is_over:
                self._next(so_far)
                return True
            return await self._close("closed the day after", then=so_far)

        return Ask("day-left", f"The day {left} was never closed. Close it first? y or n",
                   caught(self._store, enter), None, _OPENING_TEXT)  # fmt: skip

    def _check(self, so_far: _Opening, name: str, words: str) -> Ask:
        async def enter(text: str) -> bool:
            so_far.checks[name] = answer(text)
            self._next(so_far)
            return True

        return Ask(f"day-{name}", words, caught(self._store, enter), answer, _OPENING_TEXT)

    def _bank(self, so_far: _Opening, name: str) -> Ask:
        units = self._store.terminal.units

        async def enter(text: str) -> bool:
            if text.strip():
                so_far.gauges[name] = "@".join(gauge(text, units))
            else:
                so_far.skipped.add(name)
            self._next(so_far)
            return True

        def echo(text: str) -> str:
            return gauge_echo(name, text, units) if text.strip() else ""

        return Ask(f"day-bank-{name}", f"{name}: what does its gauge show? Enter alone: not read",
                   caught(self._store, enter), echo, _OPENING_TEXT)  # fmt: skip

    def _analyser(self, so_far: _Opening, name: str) -> Ask:
        store = self._store

        async def enter(text: str) -> bool:
            if not text.strip():
                so_far.skipped.add(f"analyser/{name}")
            elif await store.perform(equipment.calibrate, name=name, **setting(text)) is None:
                return False
            await store.show_now()
            self._next(so_far)
            if text.strip():
                store.say("done", f"Set: {setting_echo(name, text, store.terminal.units)}.")
            return True

        def echo(text: str) -> str:
            return setting_echo(name, text, store.terminal.units) if text.strip() else ""

        return Ask(f"day-set-{name}", f"{name} is due: set to, on air? Enter alone: not set now",
                   caught(store, enter), echo, _OPENING_TEXT)  # fmt: skip

    def _sign(self, so_far: _Opening) -> Ask:
        store = self._store

        async def enter(note: str) -> bool:
            checks = so_far.checks
            made = await store.perform(
                day.open_day, gauges_zero=checks["gauges"], room=checks["room"],
                intake=checks["intake"], supplies=so_far.gauges, note=note,
            )  # fmt: skip
            if made is None:
                return False
            self._opening = None
            found = [*made["exceptions"], *made["analysers_due"]]
            told = f" Mind: {'; '.join(found)}." if found else ""
            return await store.done(f"The day is open.{told}", "mind" if found else "done")

        actor = store.terminal.floor.actor
        name = actor.name if actor else ""
        return Ask("day-note", f"Enter signs the day's start as {name}; a note?", enter, None,
                   _OPENING_TEXT)  # fmt: skip

    # -- the end ---------------------------------------------------------------------------

    def _closing(self) -> Ask:
        async def enter(note: str) -> bool:
            return await self._close(note)

        counts = self._store.shelves.status.get("counts", {})
        left = ", ".join(f"{n} {name.replace('_', ' ')}" for name, n in counts.items() if n)
        prompt = f"Enter signs the day's end{f' with {left}' if left else ''}; a note?"
        return Ask("day-close", prompt, enter, None, _CLOSING_TEXT)

    async def _close(self, note: str, then: _Opening | None = None) -> bool:
        """Close the day and print its sheet; a sheet that fails can be printed later."""
        store, terminal = self._store, self._store.terminal
        made = await store.perform(day.close_day, note=note)
        if made is None:
            return False
        path = await store.look(print_day, terminal.house, terminal.house.clock(), made["day"])
        told = f"The day {made['day']} is closed. "
        again = "Its sheet was not printed; `fillwright day sheet` prints it."
        told, kind = told + (f"Its sheet: {path}" if path else again), "done" if path else "mind"
        if then is None:
            return await store.done(told, kind)
        await store.show_now()
        self._next(then)
        store.say(kind, told)
        return True


def print_day(record: Record, house: House, now: Moment, which: str) -> str:
    """Print a day's sheet and return where it is kept."""
    from blender.station.day_papers import day_view
    from blender.station.sheets import sheets
    from reports.day_sheet import day_sheet_pdf

    view = day_view(record, now, which)
    name = f"day-{view.proof.station}-{view.day}-{view.proof.seq}.pdf"
    return house.put_paper(name, day_sheet_pdf(view, sheets(record).paper))
