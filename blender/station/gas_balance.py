"""The gas balance of the banks: what was connected, what fills drew, and what nothing explains.

At each reading of a bank's gauge the record has what it expected and how sure it was of that.
What the readings found over or under is gas nobody entered.  What one reading erred by, the next
takes back, so over a bottle only the first and the last reading's doubt is left, and that of what
fills drew; a leak of a little at each reading adds up and comes out.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from heapq import merge
from typing import Any

from sqlalchemy import Connection, func, select

from blender.record import read
from blender.record.entry import Entry
from blender.record.models import FillRow, ReadingRow
from blender.record.moment import Moment
from blender.record.projection import table
from blender.station.bank_doubt import reading_bar
from blender.station.numbers import bar, celsius, mol

RECENT_DAYS = 28  # as far back as use is counted from
_DAY_US = 86_400_000_000
_KINDS = ("supply.added", "supply.changed", "supply.read")
_RETIRED = "supply.retired"


@dataclass(slots=True)
class Balance:
    """One supply over a span of time, in mol.

    Parameters
    ----------
    supply : str
        Its name.
    connected_mol, removed_mol : float
        Gas that came with bottles connected, and that left with those taken off.
    drawn_mol : float
        What fills drew by their readings.
    readings : int
        How often its gauge was read.
    unexplained_mol : float
        What the readings found beyond what was expected; below 0 gas is missing.
    variance_mol2 : float
        Of that sum.
    unsure : int
        Readings entered before their doubt was; they are not in the sums.
    last_mol : float
        Standard uncertainty of the last reading, not yet in the variance.
    first_mol, in_hand_mol : float
        What it held by the record at the beginning and at the end.
    """

    supply: str
    connected_mol: float = 0.0
    removed_mol: float = 0.0
    drawn_mol: float = 0.0
    readings: int = 0
    unexplained_mol: float = 0.0
    variance_mol2: float = 0.0
    unsure: int = 0
    last_mol: float = 0.0
    first_mol: float = 0.0
    in_hand_mol: float = 0.0

    @property
    def doubt_mol(self) -> float:
        """The expanded uncertainty, k = 2, of what is unexplained [mol]."""
        return 2.0 * math.sqrt(self.variance_mol2 + self.last_mol**2)

    @property
    def closes(self) -> bool:
        """Whether what is unexplained lies within its uncertainty."""
        return abs(self.unexplained_mol) <= self.doubt_mol

    @property
    def booked_mol(self) -> float:
        """What went by entries that are undone, or beyond what the record knew of [mol].

        What was there at first and came, and what readings found, less what fills drew, what
        left with bottles and what is in hand: fills that were voided, readings corrected after
        the gauge was read, more drawn than a bottle was known to hold.
        """
        had = self.first_mol + self.connected_mol + self.unexplained_mol
        return had - self.drawn_mol - self.removed_mol - self.in_hand_mol

    def as_dict(self) -> dict[str, Any]:
        """Return it JSON-ready."""
        return {
            "supply": self.supply,
            "first_mol": self.first_mol,
            "connected_mol": self.connected_mol,
            "removed_mol": self.removed_mol,
            "drawn_mol": self.drawn_mol,
            "in_hand_mol": self.in_hand_mol,
            "booked_mol": self.booked_mol,
            "readings": self.readings,
            "unexplained_mol": self.unexplained_mol,
            "uncertainty_mol": self.doubt_mol,
            "closes": self.closes,
            "readings_without_doubt": self.unsure,
        }


@dataclass(frozen=True, slots=True)
class _Draw:
    """What a standing reading drew from one supply, and what that was known to have of it."""

    seq: int
    us: int
    supply: str
    drawn_mol: float
    taken_mol: float


def balances(conn: Connection, station: str, first_us: int, last_us: int) -> list[Balance]:
    """Return the balance of each supply that can run out, over a span of time [us UTC]."""
    found: dict[str, Balance] = {}
    touched = set[str]()
    entries = read.entries_of_kind(conn, station, *_KINDS, _RETIRED)
    both: tuple[Iterator[Entry | _Draw], ...] = (entries, _draws(conn, last_us))
    for event in merge(*both, key=lambda one: one.seq):
        us = event.us if isinstance(event, _Draw) else event.at.us
        name = event.supply if isinstance(event, _Draw) else str(event.data["name"])
        if us >= last_us or not (name in found or _connects(event)):
            continue
        one = found.setdefault(name, Balance(name))
        if us < first_us:  # only what it left in hand is of the span
            before = Balance(name, in_hand_mol=one.in_hand_mol)
            _follow(before, event)
            one.first_mol = one.in_hand_mol = before.in_hand_mol
        else:
            touched.add(name)
            _follow(one, event)
    return [found[name] for name in sorted(touched)]


def _connects(event: Entry | _Draw) -> bool:
    return isinstance(event, Entry) and event.kind in _KINDS and _has_gauge(event)


def _follow(one: Balance, event: Entry | _Draw) -> None:
    if isinstance(event, _Draw):
        one.drawn_mol += event.drawn_mol
        one.in_hand_mol -= event.taken_mol
    elif event.kind == _RETIRED:
        one.removed_mol += one.in_hand_mol
        one.in_hand_mol = 0.0
    else:
        _enter(one, event)
        one.in_hand_mol = mol(event.data["content_umol"])


def failing(conn: Connection, station: str, now: Moment) -> list[Balance]:
    """Return the banks whose gas does not add up since each was connected, of the last weeks.

    What an earlier bottle lost is over once another is connected.
    """
    first_us = now.us - RECENT_DAYS * _DAY_US
    found: dict[str, Balance] = {}
    for entry in read.entries_after(conn, station, _before(conn, first_us)):
        within = first_us <= entry.at.us <= now.us
        if entry.kind not in _KINDS or not within or not _has_gauge(entry):
            continue
        name = str(entry.data["name"])
        if entry.kind != "supply.read":
            found[name] = Balance(name)
        _enter(found.setdefault(name, Balance(name)), entry)
    used = {row.name for row in read.supplies(conn) if not row.retired}
    return [found[name] for name in sorted(found) if name in used and not found[name].closes]


def _before(conn: Connection, first_us: int) -> int:
    """Return an entry that is certainly of before a time: no older one need be read."""
    columns = table(ReadingRow).c
    last = select(func.max(columns.seq)).where(columns.at_us < first_us)
    return conn.execute(last).scalar() or 0


def told(one: Balance) -> str:
    """Say by how much a bank's gas does not add up, and what that may be."""
    found = f"{one.unexplained_mol:+.1f} mol +- {one.doubt_mol:.1f}"
    why = (
        "a leak, gas drawn that nobody entered, or a reading mistyped"
        if one.unexplained_mol < 0.0
        else "a bottle connected that nobody entered, or a reading mistyped"
    )
    return f"{one.supply}: its gas does not add up, its gauge finds {found} unexplained: {why}"


def _has_gauge(entry: Entry) -> bool:
    return entry.kind == "supply.read" or int(entry.data["size_ml"]) > 0


def _enter(one: Balance, entry: Entry) -> None:
    data = entry.data
    if entry.kind != "supply.read":
        one.connected_mol += mol(data["content_umol"])
        one.removed_mol += mol(data.get("old", {}).get("content_umol", 0))
        one.variance_mol2 += one.last_mol**2
        one.last_mol = 0.0
        return
    one.readings += 1
    if "u_mbar" not in data:
        one.unsure += 1
        return
    one.unexplained_mol += mol(data["content_umol"] - data["was_umol"])
    alone, whole = _doubts_mol(data)
    if not one.last_mol:  # the bottle's first: it was read when it was connected
        one.variance_mol2 += alone**2
    one.variance_mol2 += max(whole**2 - 2.0 * alone**2, 0.0)
    one.last_mol = alone


def _doubts_mol(data: dict[str, Any]) -> tuple[float, float]:
    """Return the standard uncertainty of a reading alone, and of its difference [mol].

    Pressure is turned to amount along the line from empty to what it had: a real gas bends that
    by a few percent at bank pressures, which the doubts are not known to either.
    """
    shown, expected = bar(data["gauge_mbar"]), bar(data["expected_mbar"])
    highest = max(shown, expected)
    most_mol = mol(max(data["content_umol"], data["was_umol"]))
    a_bar = most_mol / max(highest, 1.0)
    alone = reading_bar(expected, highest, celsius(data["temp_mk"]))
    return alone * a_bar, bar(data["u_mbar"]) / 2.0 * a_bar


def _draws(conn: Connection, until_us: int) -> Iterator[_Draw]:
    """Give what standing readings drew, in the order of the record; a voided fill drew nothing."""
    columns, fill = table(ReadingRow).c, table(FillRow).c
    standing = (columns.at_us < until_us) & (columns.corrected_by == 0)
    voided = set(conn.execute(select(fill.fill).where(fill.state == "voided")).scalars())
    drew = select(columns.seq, columns.at_us, columns.fill, columns.supply, columns.drawn_umol,
                  columns.taken_umol, columns.also)  # fmt: skip
    for row in conn.execute(drew.where(standing).order_by(columns.seq)):
        first = (row.supply, row.drawn_umol, row.taken_umol)
        for name, drawn, taken in (first, *json.loads(row.also)):
            if row.fill not in voided:
                yield _Draw(row.seq, row.at_us, name, mol(drawn), mol(taken))
