"""Reading what equipment there is, and what was done to it."""

from __future__ import annotations

from functools import cache

from sqlalchemy import Connection, bindparam, func, or_, select

from blender.record import read
from blender.record.driven import Query
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
    return read.asked(
        conn, EquipmentActRow, _acts(len(what), latest=False), _named(kind, name, what)
    )


def last_act(conn: Connection, kind: str, name: str, *what: str) -> EquipmentActRow | None:
    """Return what was done to an item last (of some acts), None if never."""
    found = read.asked(
        conn, EquipmentActRow, _acts(len(what), latest=True), _named(kind, name, what)
    )
    return found[0] if found else None


def _named(kind: str, name: str, what: tuple[str, ...]) -> dict[str, str]:
    return {"kind": kind, "name": name} | {f"act_{at}": act for at, act in enumerate(what)}


@cache
def _acts(count: int, *, latest: bool) -> Query:
    """Return the query for what was done to an item, of so many acts if not of any."""
    here = [_act.kind == bindparam("kind"), _act.name == bindparam("name")]
    if count:
        here.append(or_(*(_act.act == bindparam(f"act_{at}") for at in range(count))))
    query = select(table(EquipmentActRow)).where(*here)
    query = query.order_by(_act.seq.desc()).limit(1) if latest else query.order_by(_act.seq)
    return Query(query, table(EquipmentActRow))


def all_acts(conn: Connection, *what: str) -> list[EquipmentActRow]:
    """Return every such act on any item, in the order of the record."""
    values = {f"act_{at}": act for at, act in enumerate(what)}
    return read.asked(conn, EquipmentActRow, _every(len(what)), values)


@cache
def _every(count: int) -> Query:
    acts = or_(*(_act.act == bindparam(f"act_{at}") for at in range(count)))
    return read.by(EquipmentActRow, acts, order=[_act.seq])


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
