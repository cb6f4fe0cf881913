"""Finding things by a part of what they are called, and what happened between two entries.

Nothing here walks through the table of fills: serials and names are looked through, which
are thousands, and fills are reached by an index.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Integer,
    and_,
    bindparam,
    case,
    func,
    or_,
    select,
)

from blender.record import read
from blender.record.driven import Query
from blender.record.entry import Entry
from blender.record.models import (
    CopyRow,
    CylinderRow,
    DayRow,
    ExceptionRow,
    FillRow,
    PersonRow,
    ReadingRow,
    RuleRow,
    SupplyRow,
)
from blender.record.projection import table
from blender.record.schema import ENTRY
from blender.record.unit import entry_of

_ESCAPE = "\\"
_FEW = 8  # people are asked for one by one: most were asked for before


def cylinders_like(conn: Connection, text: str, limit: int) -> list[CylinderRow]:
    """Return cylinders whose serial holds `text`; an exact serial first, then a set's post."""
    if not text.isascii():  # no serial has other characters
        return []
    columns, part = table(CylinderRow).c, _literal(text)
    upper, wanted = func.upper(columns.serial), text.upper()
    starts = _like(columns.serial, f"{part}%")
    post = or_(
        _like(columns.serial, f"{part}+%"),
        _like(columns.serial, f"%+{part}"),
    )
    rank = case((columns.serial == text, 0), (upper == wanted, 1), (post, 2), (starts, 3), else_=4)
    order = (rank, columns.serial)
    return _first(conn, CylinderRow, _like(columns.serial, f"%{part}%"), order, limit)


def _first(
    conn: Connection,
    model: type[read.Row],
    where: ColumnElement[bool],
    order: Sequence[Any],
    limit: int,
) -> list[read.Row]:
    query = select(table(model)).where(where).order_by(*order).limit(limit)
    return read.made(model, conn.execute(query))


def _like(column: ColumnElement[str], pattern: str) -> ColumnElement[bool]:
    return func.upper(column).like(pattern.upper(), escape=_ESCAPE)


def like_part(column: ColumnElement[str], text: str) -> ColumnElement[bool]:
    """Return whether a column holds a text, capital letters or not."""
    return _like(column, f"%{_literal(text)}%")


def _literal(text: str) -> str:
    """Return a text in which no character of LIKE means anything but itself."""
    for character in (_ESCAPE, "%", "_"):
        text = text.replace(character, _ESCAPE + character)
    return text


def customers_like(conn: Connection, text: str, limit: int) -> list[PersonRow]:
    """Return customers whose name holds `text`, in any script, or whose id it is."""
    columns, part = table(PersonRow).c, text.casefold()
    query = select(columns.person, columns.name).where(columns.role == "customer")
    ranked = []
    for ident, name in conn.execute(query):
        known = (name or "").casefold()
        if part in known or part == ident.casefold():
            ranked.append((_rank(known, ident, part), known, ident))
    found = [ident for *_, ident in sorted(ranked)[:limit]]
    rows = read.rows(conn, PersonRow, columns.person.in_(found))
    return sorted(rows, key=lambda row: found.index(row.person))


def _rank(name: str, ident: str, part: str) -> int:
    """Return 0 for all of a name or id, 1 for the start of a word of it, 2 for a part."""
    if part in (name, ident.casefold()):
        return 0
    return 1 if any(word.startswith(part) for word in name.split()) else 2


def cylinder_of(conn: Connection, serial: str) -> CylinderRow:
    """Return a cylinder by its serial, or the set one of whose posts it is.

    Raises
    ------
    InputError
        If no cylinder of that serial is in the record.
    """
    if not read.has_cylinder(conn, serial) and serial:
        whole = _sets_of(conn, [serial])
        if len(whole) == 1:
            return read.cylinder(conn, whole[0])
    return read.cylinder(conn, serial)


def _sets_of(conn: Connection, posts: Sequence[str]) -> list[str]:
    """Return the serials of the sets that have any of some cylinders as a post."""
    sets = (serial for (serial,) in _SETS.rows(conn))
    return [serial for serial in sets if set(posts) & set(serial.split("+"))]


_serial = table(CylinderRow).c.serial
_SETS = Query(select(_serial).where(_serial.like("%+%")).order_by(_serial), table(CylinderRow))


def sharing(conn: Connection, serial: str) -> list[str]:
    """Return the serials that mean any of the same cylinders, this one first.

    Of a set these are its posts, one by one; of either, the sets that have any of them as a post.
    """
    posts = serial.split("+")
    own = posts if len(posts) > 1 else ()
    return list(dict.fromkeys([serial, *own, *_sets_of(conn, posts)]))


def last_fills(
    conn: Connection, limit: int, *, serial: str | None = None, customer: str | None = None
) -> list[FillRow]:
    """Return the last fills of a cylinder or a customer, newest first."""
    if serial is not None:
        return read.asked(conn, FillRow, _LAST_OF_CYLINDER, {"serial": serial, "limit": limit})
    return read.asked(conn, FillRow, _LAST_OF_CUSTOMER, {"customer": customer, "limit": limit})


def _last_by(column: ColumnElement[str], name: str) -> Query:
    query = select(table(FillRow)).where(column == bindparam(name))
    newest = query.order_by(table(FillRow).c.fill.desc())
    return Query(newest.limit(bindparam("limit", type_=Integer)), table(FillRow))


_LAST_OF_CYLINDER = _last_by(table(FillRow).c.serial, "serial")
_LAST_OF_CUSTOMER = _last_by(table(FillRow).c.customer, "customer")


def fills_in(conn: Connection, states: Collection[str], limit: int) -> list[FillRow]:
    """Return the newest fills that stand in one of some states, newest first."""
    columns = table(FillRow).c
    return _first(conn, FillRow, columns.state.in_(states), [columns.fill.desc()], limit)


def fills_numbered(conn: Connection, numbers: Collection[int]) -> list[FillRow]:
    """Return some fills by their numbers, newest first."""
    columns = table(FillRow).c
    return read.rows(conn, FillRow, columns.fill.in_(numbers), [columns.fill.desc()])


def count_in(conn: Connection, states: Collection[str]) -> int:
    """Return how many fills stand in one of some states."""
    fill = table(FillRow)
    query = select(func.count()).select_from(fill).where(fill.c.state.in_(states))
    return int(conn.execute(query).scalar() or 0)


def states_of(conn: Connection, numbers: Collection[int]) -> dict[str, int]:
    """Return how many of some fills stand in each state."""
    fill, counted, ordered = table(FillRow), dict[str, int](), sorted(numbers)
    for at in range(0, len(ordered), 500):
        where = fill.c.fill.in_(ordered[at : at + 500])
        for (state,) in conn.execute(select(fill.c.state).where(where)):
            counted[state] = counted.get(state, 0) + 1
    return counted


def names(conn: Connection, people: Collection[str]) -> dict[str, str]:
    """Return the names of some people by their ids; an erased one is called so, with the id."""
    person, found, ordered = table(PersonRow), dict[str, str](), sorted(set(people))
    if len(ordered) < _FEW:
        rows = [row for ident in ordered if (row := read.person(conn, ident))]
        return {row.person: read.called(row) for row in rows}
    for at in range(0, len(ordered), 500):
        where = person.c.person.in_(ordered[at : at + 500])
        for ident, name in conn.execute(select(person.c.person, person.c.name).where(where)):
            found[ident] = name or read.erased(ident)
    return found


def supply(conn: Connection, name: str) -> SupplyRow | None:
    """Return a supply by name, retired or not; None if there is none."""
    found = read.equal(conn, SupplyRow, {"name": name})
    return found[0] if found else None


def rule_changes(conn: Connection) -> list[RuleRow]:
    """Return every change of a rule, oldest first."""
    return read.equal(conn, RuleRow)


def stamped_before(conn: Connection, tested: str, inspected: str, now: str) -> list[CylinderRow]:
    """Return cylinders with a stamp of these months (``2025-03``) or earlier, or after now."""
    columns = table(CylinderRow).c
    old = or_(columns.tested <= tested, columns.inspected <= inspected)
    ahead = or_(columns.tested > now, columns.inspected > now)
    return read.rows(conn, CylinderRow, or_(old, ahead))


def exceptions_between(
    conn: Connection, first_us: int, last_us: int, limit: int
) -> list[ExceptionRow]:
    """Return exceptions of a span of time [us UTC], newest first."""
    columns = table(ExceptionRow).c
    span = and_(columns.at_us >= first_us, columns.at_us < last_us)
    return _first(conn, ExceptionRow, span, [columns.seq.desc(), columns.kind], limit)


# -- what happened after one entry, up to another --------------------------------------


def entries_after(conn: Connection, station: str, first: int, last: int) -> Iterator[Entry]:
    """Give the entries after `first`, up to and with `last`."""
    columns = ENTRY.c
    span = and_(columns.station == station, columns.seq > first, columns.seq <= last)
    for row in conn.execute(select(ENTRY).where(span).order_by(columns.seq)):
        yield entry_of(row)


def readings_after(conn: Connection, first: int, last: int) -> list[ReadingRow]:
    """Return gauge readings after entry `first`, up to and with `last`."""
    columns = table(ReadingRow).c
    return read.rows(conn, ReadingRow, and_(columns.seq > first, columns.seq <= last))


def readings_of(conn: Connection, entries: Collection[int]) -> list[ReadingRow]:
    """Return the gauge readings that some entries made."""
    return read.rows(conn, ReadingRow, table(ReadingRow).c.seq.in_(entries))


def exceptions_after(conn: Connection, first: int, last: int) -> list[ExceptionRow]:
    """Return exceptions after entry `first`, up to and with `last`."""
    columns = table(ExceptionRow).c
    return read.rows(conn, ExceptionRow, and_(columns.seq > first, columns.seq <= last))


def last_day(
    conn: Connection, *, kind: str | None = None, day: str | None = None, before: int = 2**62
) -> DayRow | None:
    """Return the last opening or closing (`kind`), of one day or before an entry; None if none."""
    columns = table(DayRow).c
    where = columns.seq < before
    if kind is not None:
        where = and_(where, columns.kind == kind)
    if day is not None:
        where = and_(where, columns.day == day)
    found = _first(conn, DayRow, where, [columns.seq.desc()], 1)
    return found[0] if found else None


def copies_holding(conn: Connection, first_seq: int, last_seq: int) -> list[CopyRow]:
    """Return the copies whose last entry lies in a span, both included, oldest first."""
    of = table(CopyRow)
    span = and_(of.c.copied_seq >= first_seq, of.c.copied_seq <= last_seq)
    query = select(of).where(span).order_by(of.c.copied_seq, of.c.seq)
    return read.made(CopyRow, conn.execute(query))


def last_exception(conn: Connection, kind: str) -> ExceptionRow | None:
    """Return the newest exception of a kind, None if there is none."""
    columns = table(ExceptionRow).c
    found = read.rows(conn, ExceptionRow, columns.kind == kind, [columns.seq.desc()])
    return found[0] if found else None


def last_copy(conn: Connection, *, away: bool = False) -> CopyRow | None:
    """Return the newest copy of the record; of those that left this machine, if asked."""
    of = table(CopyRow)
    query = select(of).order_by(of.c.seq.desc()).limit(1)
    found = conn.execute(query.where(of.c.away) if away else query).mappings().first()
    return CopyRow(**found) if found else None
