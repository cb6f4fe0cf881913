"""A cylinder set apart at this very station: nothing is done with it until a manager says so.

A set and the cylinders it is made of are one and the same: what is known of one post is known of
the set, and of every other set that has it.
"""

from __future__ import annotations

from sqlalchemy import Connection

from blender.record import read, search
from blender.record.models import FillRow
from blender.station.gates import PASS, STOP, Gate

GATE = "quarantine"


def quarantine_gate(conn: Connection, serial: str) -> Gate:
    """Is no fill of this cylinder in quarantine here?  Known to be bad, it stops everybody.

    Other than a fill that merely stands open it stops a script, too: whoever set the cylinder
    apart knew something of it, and a newer fill is no answer to that.
    """
    found = [row for row in open_fills_of(conn, serial) if row.state == "quarantined"]
    if not found:
        return Gate(GATE, PASS, "no fill of this cylinder is in quarantine")
    own = [row for row in found if row.serial == serial] or found
    named = own[0].serial
    told = apart_text(named, [row.fill for row in own if row.serial == named])
    return Gate(GATE, STOP, told if named == serial else f"{told}; {shared_text(serial, named)}")


def open_fills_of(conn: Connection, serial: str) -> list[FillRow]:
    """Return the open fills of a cylinder, of its posts one by one, and of sets it is a post of."""
    serials = search.sharing(conn, serial)
    return [read.fill(conn, number) for one in serials for number in read.open_fills(conn, one)]


def shared_text(serial: str, other: str) -> str:
    """Say what one serial has to do with another.

    Examples
    --------
    >>> shared_text("A+B", "A"), shared_text("B", "A+B"), shared_text("A+B", "B+C")
    ('A is a post of A+B', 'B is a post of A+B', 'A+B and B+C both have B')
    """
    mine, others = serial.split("+"), other.split("+")
    if len(mine) > 1 and len(others) > 1:
        both = " and ".join(post for post in mine if post in others)
        return f"{serial} and {other} both have {both}"
    post, whole = (serial, other) if len(mine) == 1 else (other, serial)
    return f"{post} is a post of {whole}"


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
