"""Reading what equipment there is, and what was done to it."""

from __future__ import annotations

from sqlalchemy import ColumnElement, Connection, and_, func, select

from blender.record import read
from blender.record.models import DeliveryRow, DepartureRow, EquipmentActRow, EquipmentRow
from blender.record.projection import table

NEVER_US = 2**62  # later than anything in a record
_item, _act, _delivery = (table(row).c for row in (EquipmentRow, EquipmentActRow, DeliveryRow))


def items(conn: Connection, kind: str = "", *, retired: bool = False) -> list[EquipmentRow]:
    """Return the items in use (if asked, retired ones too), of one kind or of all."""
    named = {"kind": kind} if kind else {}
    return read.equal(conn, EquipmentRow, named | ({} if retired else {"retired": ""}))


def item(conn: Connection, kind: str, name: str) -> EquipmentRow | None:
    """Return an item of a kind by name, retired or not; None if there is none."""
    found = read.equal(conn, EquipmentRow, {"kind": kind, "name": name})
    return found[0] if found else None


def acts(conn: Connection, kind: str, name: str, *what: str) -> list[EquipmentActRow]:
    """Return what was done to an item, in the order of the record; some acts alone if named."""
    return read.rows(conn, EquipmentActRow, _of(kind, name, what), [_act.seq])


def last_act(conn: Connection, kind: str, name: str, *what: str) -> EquipmentActRow | None:
    """Return what was done to an item last (of some acts), None if never."""
    if len(what) < 2:
        named = {"kind": kind, "name": name} | ({"act": what[0]} if what else {})
        found = read.equal(conn, EquipmentActRow, named, read.NEWEST)
    else:
        found = read.rows(conn, EquipmentActRow, _of(kind, name, what), [_act.seq.desc()])
    return found[0] if found else None


def _of(kind: str, name: str, what: tuple[str, ...]) -> ColumnElement[bool]:
    here = and_(_act.kind == kind, _act.name == name)
    return and_(here, _act.act.in_(what)) if what else here


def all_acts(conn: Connection, *what: str) -> list[EquipmentActRow]:
    """Return every such act on any item, in the order of the record."""
    return read.rows(conn, EquipmentActRow, _act.act.in_(what), [_act.seq])


def deliveries(conn: Connection, *, remaining: bool = False) -> list[DeliveryRow]:
    """Return what was delivered, oldest first; if asked, only what has bottles left."""
    return read.rows(conn, DeliveryRow, _delivery.remaining > 0 if remaining else None)


def delivery(conn: Connection, number: int) -> DeliveryRow | None:
    """Return a delivery by its number, None if there is none."""
    found = read.rows(conn, DeliveryRow, _delivery.delivery == number)
    return found[0] if found else None


def next_delivery(conn: Connection) -> int:
    """Return the number the next delivery gets."""
    return int(conn.execute(select(func.max(_delivery.delivery))).scalar() or 0) + 1


def departures(conn: Connection, last: int = 0, until_us: int = NEVER_US) -> list[DepartureRow]:
    """Return how analysed fills came out from their predictions, in the order of time.

    `last` limits them to so many of the latest before `until_us` [us UTC]; 0 is all.
    """
    columns = table(DepartureRow).c
    query = select(table(DepartureRow)).order_by(columns.at_us.desc(), columns.seq.desc())
    query = query.where(columns.at_us < until_us)
    if last:
        query = query.limit(last)
    found = read.made(DepartureRow, conn.execute(query))
    return found[::-1]
