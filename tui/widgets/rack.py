"""The rack: every open fill in its slot, the last characters of its serial first."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from textual.content import Content
from textual.events import Click
from textual.message import Message
from textual.widgets import Static

from blender.record.glance import GlanceFill
from tui.plain import fit, plain
from tui.shown import Units, short_gas

MINUTE_US = 60_000_000
SLOTS = 8
_NEXT = {
    "requested": "to be planned",
    "planned": "scan to start",
    "correcting": "scan to start",
    "held": "HELD",
    "resting": "rest, analyse",
    "analysed": "to be signed",
    "recheck": "RECHECK",
    "accepted": "to be collected",
    "quarantined": "QUARANTINED",
}


class Slots:
    """Which function key belongs to which fill: a fill keeps its key as long as it is open."""

    def __init__(self) -> None:
        self._at: dict[int, int] = {}

    def place(self, fills: Sequence[GlanceFill]) -> list[GlanceFill | None]:
        """Put the open fills into slots; those that ended free theirs."""
        open_now = {fill.fill: fill for fill in fills}
        self._at = {number: slot for number, slot in self._at.items() if number in open_now}
        taken = set(self._at.values())
        free = (slot for slot in range(len(fills) + len(taken)) if slot not in taken)
        for number in open_now:
            if number not in self._at:
                self._at[number] = next(free)
        size = max(self._at.values(), default=-1) + 1
        placed: list[GlanceFill | None] = [None] * size
        for number, slot in self._at.items():
            placed[slot] = open_now[number]
        return placed


class Rack(Static):
    """Two lines a fill."""

    DEFAULT_CSS = """
    Rack { width: 30; height: 1fr; background: $surface; }
    """

    class Turned(Message):
        """Somebody pointed at a fill."""

        def __init__(self, fill: int) -> None:
            super().__init__()
            self.fill = fill

    def __init__(self) -> None:
        super().__init__(id="rack")
        self.slots: list[GlanceFill | None] = []
        self._first = 0
        self._facts: tuple[int, int, Units] = (0, 0, Units())

    def show(self, slots: list[GlanceFill | None], focused: int, now_us: int, units: Units) -> None:
        """Show the slots, with one fill marked."""
        self.slots = slots
        self._facts = (focused, now_us, units)
        self._draw()

    def on_resize(self) -> None:
        """Fit what is shown to the height."""
        self._draw()

    def on_click(self, event: Click) -> None:
        """Turn to the fill that was pointed at."""
        at = self._first + event.y // 2
        if at < len(self.slots) and (fill := self.slots[at]) is not None:
            self.post_message(self.Turned(fill.fill))

    def _draw(self) -> None:
        focused, now_us, units = self._facts
        room = max(self.size.height // 2, 1)
        if len(self.slots) > room:  # a line says what is not seen
            room = max((self.size.height - 1) // 2, 1)
        at = next((i for i, f in enumerate(self.slots) if f and f.fill == focused), 0)
        last_first = max(len(self.slots) - room, 0)
        self._first = min(max(at - room + 1, 0), last_first) if at >= room else 0
        shown = self.slots[self._first : self._first + room]
        lines = [self._fill(self._first + i, fill, focused, now_us, units)
                 for i, fill in enumerate(shown)]  # fmt: skip
        if beyond := hidden(self.slots[: self._first], self.slots[self._first + room :]):
            turning = f"{beyond}  ↑↓ or {key_of(SLOTS)}"
            line = turning if len(turning) < self.size.width else beyond
            lines.append(plain(fit(f" {line}", self.size.width), "bold"))
        if not any(self.slots):
            said = ("No fill is open.", "Check a cylinder in at", "the Counter: alt+c")
            lines = [plain(f" {line}") for line in said]
        self.update(Content("\n").join(lines))

    def _fill(
        self, slot: int, fill: GlanceFill | None, focused: int, now_us: int, units: Units
    ) -> Content:
        key = key_of(slot)
        wide = max(len(key), 2)
        if fill is None:
            return Content.assemble((f" {key} \n", "$secondary"))
        marked = fill.fill == focused
        bar = "▌" if marked else " "
        head = Content.assemble(
            (bar, "$accent"), (f"{key:2} ", "$secondary"),
            plain(f"{tail(fill.serial):{10 - wide}}", "bold reverse" if marked else "bold"),
            " ", plain(f"{minutes(fill, now_us):>6} "),
            plain(fit(fill.customer, max(self.size.width - 20, 1))),
        )  # fmt: skip
        return Content.assemble(head, "\n", (bar, "$accent"), self._second(fill, units))

    def _second(self, fill: GlanceFill, units: Units) -> Content:
        unsafe: Any = ("!", "bold $warning") if fill.do_not_breathe else " "
        words = "analyse 2nd post" if fill.posts_left else _NEXT.get(fill.state, "")
        if fill.state == "filling" and fill.stop_mbar >= 0:
            to = units.pressure(fill.stop_mbar / 1000.0)
            words = f"{_verb(fill)} {to}"
        elif fill.state == "filling":
            words = "rest, then read"
        gas = fill.gas_text.replace("O2 ", "").replace(" %", "%").replace("He ", "he")
        return Content.assemble(
            unsafe, plain(f"{fit(gas, 11)} "), plain(fit(words, max(self.size.width - 14, 1)))
        )


def hidden(above: Sequence[GlanceFill | None], below: Sequence[GlanceFill | None]) -> str:
    """Say how many fills are out of sight, and in how many of these gas goes in.

    Examples
    --------
    >>> hidden([], [])
    ''
    """
    sides = ((list(filter(None, above)), "above"), (list(filter(None, below)), "below"))
    said = [f"{len(fills)} {side}" for fills, side in sides if fills]
    if count := sum(fill.state == "filling" for fills, _ in sides for fill in fills):
        said.append(f"{count} FILLING")
    return ", ".join(said)


def key_of(slot: int) -> str:
    """Return what turns to a slot, counted from 0: a function key, then its number typed.

    Examples
    --------
    >>> [key_of(slot) for slot in (0, 7, 8, 11)]
    ['f2', 'f9', '#9', '#12']
    """
    return f"f{slot + 2}" if slot < SLOTS else f"#{slot + 1}"


def slot_typed(text: str) -> int | None:
    """Return the number of a slot, counted from 1, where a text is one: ``#12``; else None.

    Examples
    --------
    >>> slot_typed(" #12 "), slot_typed("12"), slot_typed("#12 bar")
    (12, None, None)
    """
    found = re.fullmatch(r"\s*#\s*(\d{1,3})\s*", text, re.ASCII)
    return int(found[1]) if found else None


def _verb(fill: GlanceFill) -> str:
    if fill.action == "flow":
        return "flow"
    if fill.action == "add":
        return fit(short_gas(fill.step_gas), 6).rstrip()
    return fill.action


def tail(serial: str) -> str:
    """Return the end of a serial, by which cylinders are told apart at arm's length."""
    return fit(serial, 8, "tail").rstrip()


def minutes(fill: GlanceFill, now_us: int) -> str:
    """Return how long ago its gauge was read."""
    since = max(now_us - fill.last_us, 0) // MINUTE_US
    if since < 100:
        return f"{since} min"
    return f"{since // 60} h" if since < 6000 else f"{since // 1440} d"
