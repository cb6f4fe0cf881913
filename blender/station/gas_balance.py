"""The gas balance of the banks: what was connected, what fills drew, and what nothing explains.

At each reading of a bank's gauge the record has what it expected and how sure it was of that.
What the readings found over or under is gas nobody entered.  What one reading erred by, the next
takes back, so over a bottle only the first and the last reading's doubt is left, and that of what
fills drew; a leak of a little at each reading adds up and comes out.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import dataclass
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
    """

    supply: str
    connected_mol: float = 0.0
    removed_mol: float = 0.0
    drawn_mol: float = 0.0
    readings: int = 0
    unexplained_mol: float = 0.0
    variance_mol2: float = 0.0
    unsure: int = 0
    last_mol: float = 0.0  # standard uncertainty of the last reading, not yet in the variance

    @property
    def doubt_mol(self) -> float:
        """The expanded uncertainty, k = 2, of what is unexplained [mol]."""
        return 2.0 * math.sqrt(self.variance_mol2 + self.last_mol**2)

    @property
    def closes(self) -> bool:
        """Whether what is unexplained lies within its uncertainty."""
        return abs(self.unexplained_mol) <= self.doubt_mol

    def as_dict(self) -> dict[str, Any]:
        """Return it JSON-ready."""
        return {
            "supply": self.supply,
            "connected_mol": self.connected_mol,
            "removed_mol": self.removed_mol,
            "drawn_mol": self.drawn_mol,
            "readings": self.readings,
            "unexplained_mol": self.unexplained_mol,
            "uncertainty_mol": self.doubt_mol,
            "closes": self.closes,
            "readings_without_doubt": self.unsure,
        }


def balances(conn: Connection, station: str, first_us: int, last_us: int) -> list[Balance]:
    """Return the balance of each supply that can run out, over a span of time [us UTC]."""
    found: dict[str, Balance] = {}
    for entry in read.entries_of_kind(conn, station, *_KINDS):
        if first_us <= entry.at.us < last_us and _has_gauge(entry):
            name = str(entry.data["name"])
            _enter(found.setdefault(name, Balance(name)), entry)
    for name, amount_mol in _drawn(conn, first_us, last_us).items():
        if name in found or _is_finite(conn, name):
            found.setdefault(name, Balance(name)).drawn_mol = amount_mol
    return [found[name] for name in sorted(found)]


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


def _is_finite(conn: Connection, name: str) -> bool:
    return any(row.name == name and row.size_ml > 0 for row in read.supplies(conn))


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


def _drawn(conn: Connection, first_us: int, last_us: int) -> dict[str, float]:
    """Return what standing readings of a span drew from each supply [mol]."""
    columns, fill = table(ReadingRow).c, table(FillRow).c
    within = (columns.at_us >= first_us) & (columns.at_us < last_us) & (columns.corrected_by == 0)
    voided = {row.fill for row in read.rows(conn, FillRow, fill.state == "voided")}
    found: dict[str, float] = {}
    for row in read.rows(conn, ReadingRow, within):
        for name, amount in _draws(row) if row.fill not in voided else ():
            found[name] = found.get(name, 0.0) + mol(amount)
    return found


def _draws(row: ReadingRow) -> Iterable[tuple[str, int]]:
    further = [(name, amount) for name, amount, _ in json.loads(row.also)]
    return [(name, amount) for name, amount in ((row.supply, row.drawn_umol), *further) if name]
