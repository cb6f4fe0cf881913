"""A cylinder set apart at this very station: nothing is done with it until a manager says so."""

from __future__ import annotations

from sqlalchemy import Connection

from blender.record import read
from blender.station.gates import PASS, STOP, Gate

GATE = "quarantine"


def quarantine_gate(conn: Connection, serial: str) -> Gate:
    """Is no fill of this cylinder in quarantine here?  Known to be bad, it stops everybody.

    Other than a fill that merely stands open it stops a script, too: whoever set the cylinder
    apart knew something of it, and a newer fill is no answer to that.
    """
    found = [number for number in read.open_fills(conn, serial)
             if read.fill(conn, number).state == "quarantined"]  # fmt: skip
    if not found:
        return Gate(GATE, PASS, "no fill of this cylinder is in quarantine")
    return Gate(GATE, STOP, apart_text(serial, found))


def apart_text(serial: str, fills: list[int]) -> str:
    """Say by which fills a cylinder is set apart, and what ends it.

    Examples
    --------
    >>> apart_text("C-1", [4])
    'C-1 is in quarantine with fill 4: a manager releases it (`fill release 4`), or reject it'
    """
    named = " and ".join(str(one) for one in fills)
    ends = f"a manager releases it (`fill release {fills[0]}`), or reject it"
    return f"{serial} is in quarantine with fill {named}: {ends}"
