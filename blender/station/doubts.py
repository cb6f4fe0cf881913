"""What speaks against what a fill is said to hold: told when found, and before signing."""

from __future__ import annotations

from sqlalchemy import Connection

from blender.record import read
from blender.record.models import FillRow
from blender.record.states import LOST_IN
from blender.record.trouble import LOST as LOST_GAS
from blender.station import gates
from blender.station.contents import contents
from blender.station.gates import ASK, PASS, Gate
from blender.station.numbers import fraction
from blender.station.posts import large
from blender.station.rules import Rules

_FILLED = ("resting", "analysed", "recheck")
# What to do about lost gas; every view that says it is lost says this too.
WAY_OUT = (
    "find where it went; then reject it, or analyse it, top it up by a new plan and analyse it "
    "anew. Misread: correct the reading"
)


def lost_gas(conn: Connection, fill: FillRow) -> Gate:
    """Did a gauge show far less than had been let in, once nothing more went in?"""
    found = _lost(conn, fill)
    if not found:
        return Gate(LOST_GAS, PASS, "what was let in was not found missing")
    return Gate(LOST_GAS, ASK, found)


def gas_lost(conn: Connection, fill: FillRow) -> str:
    """Return what every view says of a fill whose gas was lost; empty where it was not.

    That is over once it was started anew, rejected or set apart, or a manager let it be signed for.
    """
    found = _lost(conn, fill) if fill.state in LOST_IN else ""
    return f"GAS LOST: {found}" if found else ""


def _lost(conn: Connection, fill: FillRow) -> str:
    standing = {row.seq for row in read.readings(conn, fill.fill, standing_only=True)}
    found = [
        row.text
        for row in read.exceptions(conn, fill.fill)
        if row.kind == LOST_GAS and row.seq in standing and row.at_us >= fill.started_us
    ]
    return found[-1] if found else ""


def doubts(conn: Connection, fill: FillRow, rules: Rules) -> tuple[str, ...]:
    """Return what a manager will be asked about before this fill is signed for."""
    if fill.state not in _FILLED or not fill.have_typed:
        return ()
    asked = [lost_gas(conn, fill)]
    staff = [row for row in read.analyses(conn, fill.fill, valid_only=True) if row.party == "staff"]
    if staff and fill.state == "analysed":
        inside = contents(fill, read.cylinder(conn, fill.serial))
        stated = fraction(large(fill.serial, staff).o2_ppm)
        asked.append(gates.calculated(stated, inside.mix.o2, rules))
    return tuple(gate.reason for gate in asked if gate.answer == ASK)


def unrested(conn: Connection, station: str, number: int) -> str:
    """Return what all who sign are told of a standing analysis made too soon; else empty."""
    for row in reversed(read.analyses(conn, number, valid_only=True)):
        entry = read.entry(conn, station, row.seq)
        if entry is not None and "rested_min" in entry.data:
            return f"analysed {entry.data['rested_min']} min after filling: may not be mixed"
    return ""
