"""What was done between two entries of the record: fills by state, and gas let in."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection

from blender.gas import AIR_N2
from blender.record import read, search
from blender.record.models import ReadingRow
from blender.station.numbers import micromol, mol


def account(conn: Connection, station: str, first: int, last: int) -> dict[str, Any]:
    """Count what happened after entry `first`, up to and with `last`.

    Counted by the order of the record, not by the clock: nothing falls between two days.

    Returns
    -------
    dict
        ``by_state``: the fills touched, by where they stand now; ``entries``; and the gas let
        in, ``oxygen_umol``, ``helium_umol``, ``top_umol``.
    """
    fills, corrected, voided, count = set[int](), list[int](), set[int](), 0
    for entry in search.entries_after(conn, station, first, last):
        count += 1
        if entry.kind.startswith("fill.") and "fill" in entry.data:
            fills.add(entry.data["fill"])
        if entry.kind == "fill.reading-corrected" and entry.data["corrects"] <= first:
            corrected.append(entry.data["corrects"])
        if entry.kind == "fill.voided":
            voided.add(entry.data["fill"])
    standing = [
        row
        for row in search.readings_after(conn, first, last)
        if not row.corrected_by and row.fill not in voided
    ]
    undone = [
        row
        for number in sorted(voided)
        for row in read.readings(conn, number, standing_only=True)
        if row.seq <= first
    ]
    new = gas_let_in(standing)
    old = gas_let_in([*search.readings_of(conn, corrected), *undone])
    # What was corrected or voided of an earlier day counts here for what it changed there.
    oxygen, helium, top = (micromol(here - there) for here, there in zip(new, old, strict=True))
    return {
        "by_state": search.states_of(conn, fills),
        "entries": count,
        "oxygen_umol": oxygen,
        "helium_umol": helium,
        "top_umol": top,
    }


def gas_let_in(readings: Iterable[ReadingRow]) -> tuple[float, float, float]:
    """Return oxygen, helium and air that readings let in [mol], told apart by nitrogen."""
    total = he = n2 = purged = 0.0
    for row in readings:
        amounts = [mol(amount) for amount in json.loads(row.added_umol)]
        purged += mol(row.drawn_umol) if not any(amounts) else 0.0
        total, he, n2 = total + sum(amounts), he + amounts[1], n2 + amounts[2]
    air = n2 / AIR_N2
    return max(total - he - air, 0.0) + purged, he, air
