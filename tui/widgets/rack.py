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
from blender.record.trouble import BEYOND, LOST, Trouble
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
    """Two lines a fill, and a third where a stop was passed."""

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
        self._at_line: list[int] = []  # which slot each line shown is of
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
        if event.y < len(self._at_line):
            fill = self.slots[self._at_line[event.y]]
            if fill is not None:
                self.post_message(self.Turned(fill.fill))

    def _draw(self) -> None:
        focused, now_us, units = self._facts
        heights = [3 if fill is not None and fill.trouble else 2 for fill in self.slots]
        at = next((i for i, f in enumerate(self.slots) if f and f.fill == focused), 0)
        first, end = seen(heights, at, self.size.height)
        self._at_line = [slot for slot in range(first, end) for _ in range(heights[slot])]
        lines = [self._fill(slot, self.slots[slot], focused, now_us, units)
                 for slot in range(first, end)]  # fmt: skip
        if beyond := hidden(self.slots[:first], self.slots[end:]):
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
        lines = [head, Content.assemble((bar, "$accent"), self._second(fill, units))]
        if fill.trouble is not None:
            told = fit(f" {figures(fill.trouble, units)}", max(self.size.width - 1, 1))
            lines.append(Content.assemble((bar, "$accent"), plain(told, "$warning")))
        return Content("\n").join(lines)

    def _second(self, fill: GlanceFill, units: Units) -> Content:
        unsafe: Any = ("!", "bold $warning") if fill.do_not_breathe else " "
        words = "analyse 2nd post" if fill.posts_left else _NEXT.get(fill.state, "")
        if marked := mark(fill):
            words = marked
        elif fill.state == "filling" and fill.stop_mbar >= 0:
            to = units.pressure(fill.stop_mbar / 1000.0)
            words = f"{_verb(fill)} {to}"
        elif fill.state == "filling":
            words = "rest, then read"
        gas = fill.gas_text.replace("O2 ", "").replace(" %", "%").replace("He ", "he")
        return Content.assemble(
            unsafe, plain(f"{fit(gas, 11)} "), plain(fit(words, max(self.size.width - 14, 1)))
        )


def seen(heights: Sequence[int], at: int, room: int) -> tuple[int, int]:
    """Return the first slot shown and the one after the last, so that one of them is seen.

    Where not all fit, a line is kept for what is out of sight.

    Examples
    --------
    >>> seen([2, 2, 2], 0, 6), seen([2, 3, 2], 0, 6), seen([2, 3, 2], 2, 6)
    ((0, 3), (0, 2), (1, 3))
    """
    if sum(heights) <= room:
        return 0, len(heights)
    room, first = room - 1, 0
    while first < at and sum(heights[first : at + 1]) > room:
        first += 1
    end = at + 1
    while end < len(heights) and sum(heights[first : end + 1]) <= room:
        end += 1
    return first, end


def mark(fill: GlanceFill) -> str:
    """Return what is said instead of where a fill stands: that gas is lost, or a stop passed."""
    if fill.trouble is None:
        return ""
    if fill.trouble.kind == LOST:
        return "GAS LOST"
    return "PLAN AGAIN" if fill.state == "filling" else ""


def figures(trouble: Trouble, units: Units) -> str:
    """Say which stop the gauge went beyond and by how much, or how much gas is left of what.

    Examples
    --------
    >>> figures(Trouble(BEYOND, 84.4, 92.0, "oxygen 99.5 %"), Units())
    'O2 stop 84.4 bar: 7.6 over'
    >>> figures(Trouble(LOST, 220.0, 150.0), Units())
    '150.0 of 220.0 bar left'
    """
    should = units.pressure(trouble.should_bar)
    if trouble.kind == BEYOND:
        by = units.pressure(trouble.shows_bar - trouble.should_bar).partition(" ")[0]
        return f"{short_gas(trouble.gas)} stop {should}: {by} over"
    return f"{units.pressure(trouble.shows_bar).partition(' ')[0]} of {should} left"


def hidden(above: Sequence[GlanceFill | None], below: Sequence[GlanceFill | None]) -> str:
    """Say how many fills are out of sight; in how many of these gas goes in, or is lost.

    Examples
    --------
    >>> hidden([], [])
    ''
    """
    sides = ((list(filter(None, above)), "above"), (list(filter(None, below)), "below"))
    said = [f"{len(fills)} {side}" for fills, side in sides if fills]
    if count := sum(fill.state == "filling" for fills, _ in sides for fill in fills):
        said.append(f"{count} FILLING")
    if count := sum(mark(fill) == "GAS LOST" for fills, _ in sides for fill in fills):
        said.append(f"{count} LOST")
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
