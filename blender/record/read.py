"""Questions asked of the read models; each answer is plain typed rows, never live ones."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from functools import cache, partial
from typing import Any, TypeVar

from sqlalchemy import (
    ColumnElement,
    Connection,
    CursorResult,
    and_,
    bindparam,
    func,
    or_,
    select,
)
from sqlalchemy.orm import ClassManager, configure_mappers
from sqlalchemy.orm.attributes import manager_of_class
from sqlmodel import SQLModel

from blender.errors import InputError
from blender.record.driven import Made, Query
from blender.record.entry import Entry
from blender.record.models import (
    AccessRow,
    AnalyserRow,
    AnalysisRow,
    CompressorRow,
    CylinderRow,
    ExceptionRow,
    FillEntryRow,
    FillRow,
    FindingRow,
    PersonRow,
    PriceRow,
    ReadingRow,
    StationRow,
    StepRow,
    SupplyRow,
)
from blender.record.projection import table
from blender.record.schema import ENTRY
from blender.record.states import ENDED
from blender.record.unit import WHOLE, entry_at, entry_of

Row = TypeVar("Row", bound=SQLModel)
NEWEST = ("-seq",)
_ANY: Mapping[str, object] = {}
STAFF_ROLES = ("blender", "manager", "auditor")
_fill, _link = table(FillRow), table(FillEntryRow)
_LAST_FILL = Query(select(func.max(_fill.c.fill)), _fill)
_OPEN = Query(
    select(_fill.c.fill)
    .where(_fill.c.serial == bindparam("serial"), *(_fill.c.state != state for state in ENDED))
    .order_by(_fill.c.fill),
    _fill,
)
# By the link's own order: by the entry's, SQLite would walk through the whole journal.
_OF_FILL = Query(
    select(*WHOLE)
    .join(_link, _link.c.seq == ENTRY.c.seq)
    .where(ENTRY.c.station == bindparam("station"), _link.c.fill == bindparam("fill"))
    .order_by(_link.c.seq),
    _link,  # entered after the entry itself, which never changes
)


def rows(
    conn: Connection,
    model: type[Row],
    where: ColumnElement[bool] | None = None,
    order: Sequence[Any] = (),
) -> list[Row]:
    """Return the rows of a read model that match, as detached objects of that model."""
    query = select(table(model)).order_by(*(order or table(model).primary_key.columns))
    if where is not None:
        query = query.where(where)
    return made(model, conn.execute(query))


def equal(
    conn: Connection,
    model: type[Row],
    values: Mapping[str, object] = _ANY,
    order: tuple[str, ...] = (),
) -> list[Row]:
    """Return the rows whose columns have these values; nobody changes one."""
    return asked(conn, model, _equal(model, tuple(values), order), values)


@cache
def _equal(model: type[SQLModel], names: tuple[str, ...], order: tuple[str, ...]) -> Query:
    """Return the query for rows by some columns, in an order; ``-seq`` is the newest alone."""
    columns = table(model).c
    query = select(table(model)).where(*(columns[name] == bindparam(name) for name in names))
    if order == NEWEST:
        return Query(query.order_by(columns.seq.desc()).limit(1), table(model))
    usual = table(model).primary_key.columns
    return Query(query.order_by(*([columns[name] for name in order] or usual)), table(model))


def asked(
    conn: Connection, model: type[Row], query: Query, values: Mapping[str, object] = _ANY
) -> list[Row]:
    """Return what a query over a model's table finds; they are shared, and nobody changes one."""
    return list(query.once(conn, values, _maker(model)))


@cache
def _maker(model: type[Row]) -> Made[list[Row]]:
    """Return what makes objects of rows, the same each time: answers are kept under it."""
    return partial(_objects, model)


def by(model: type[Row], *where: ColumnElement[bool], order: Sequence[Any] = ()) -> Query:
    """Put a query over a model's table together, with ``bindparam`` where a value goes in."""
    whole = table(model)
    query = select(whole).where(*where).order_by(*(order or whole.primary_key.columns))
    return Query(query, whole)


def made(model: type[Row], found: CursorResult[Any]) -> list[Row]:
    """Return what a query over a model's table found as objects of that model.

    They are made as the mapper makes them of what it loads, which is several times as fast as
    the model's own constructor: that is for values somebody typed.
    """
    return _objects(model, tuple(found.keys()), found)


def _objects(model: type[Row], names: tuple[str, ...], found: Iterable[Sequence[Any]]) -> list[Row]:
    manager = _manager(model)
    objects = []
    for values in found:
        one = manager.new_instance()
        one.__dict__.update(zip(names, values, strict=True))
        objects.append(one)
    return objects


@cache
def _manager(model: type[SQLModel]) -> ClassManager[Any]:
    """Return what makes a model's objects, once the models know of one another."""
    configure_mappers()
    return manager_of_class(model)


def _one(conn: Connection, model: type[Row], **values: object) -> Row | None:
    found = equal(conn, model, values)
    return found[0] if found else None


def station(conn: Connection) -> StationRow | None:
    """Return the station of this record."""
    return _one(conn, StationRow)


def fill(conn: Connection, number: int) -> FillRow:
    """Return one fill.

    Raises
    ------
    InputError
        If there is no fill of that number.
    """
    found = _one(conn, FillRow, fill=number)
    if found is None:
        raise InputError("fill", number, "no fill of that number; see `book list`")
    return found


def next_fill_number(conn: Connection) -> int:
    """Return the number the next requested fill gets."""
    return int(_LAST_FILL.value(conn) or 0) + 1


def fills(conn: Connection, first_us: int = 0, last_us: int = 2**62) -> list[FillRow]:
    """Return the fills requested in a span of time [us UTC], oldest first."""
    column = table(FillRow).c.requested_us
    return rows(conn, FillRow, and_(column >= first_us, column < last_us))


def fill_numbers(conn: Connection, first_us: int, last_us: int, **of: str) -> list[int]:
    """Return the numbers of the fills requested in a span of time [us UTC], oldest first.

    `of` narrows them by the model's columns: `serial`, `customer`, `blender`.
    """
    columns = table(FillRow).c
    within = (columns.requested_us >= first_us) & (columns.requested_us < last_us)
    which = [columns[name] == value for name, value in of.items()]
    query = select(columns.fill).where(within, *which).order_by(columns.fill)
    return list(conn.execute(query).scalars())


def fills_in(conn: Connection, states: Sequence[str]) -> list[FillRow]:
    """Return the fills that stand in one of some states, oldest first."""
    return rows(conn, FillRow, table(FillRow).c.state.in_(states))


def fills_of_batch(conn: Connection, batch: int) -> list[FillRow]:
    """Return the fills of one batch in the order they were requested, none if there is none."""
    return rows(conn, FillRow, table(FillRow).c.batch == batch)


def batched_fills(conn: Connection) -> list[FillRow]:
    """Return every fill that belongs to a batch, oldest first."""
    return rows(conn, FillRow, table(FillRow).c.batch > 0)


def next_batch_number(conn: Connection) -> int:
    """Return the number the next batch gets."""
    last = conn.execute(select(func.max(table(FillRow).c.batch))).scalar()
    return int(last or 0) + 1


def open_fills(conn: Connection, serial: str) -> list[int]:
    """Return the numbers of a cylinder's fills that have not come to an end."""
    return [number for (number,) in _OPEN.rows(conn, serial=serial)]


def steps(conn: Connection, number: int) -> list[StepRow]:
    """Return the steps of the plan in force, in order."""
    return equal(conn, StepRow, {"fill": number}, ("number",))


def readings(conn: Connection, number: int, *, standing_only: bool = False) -> list[ReadingRow]:
    """Return the gauge readings of a fill, oldest first; without those corrected if asked."""
    standing = {"corrected_by": 0} if standing_only else {}
    return equal(conn, ReadingRow, {"fill": number, **standing}, ("seq",))


def analyses(conn: Connection, number: int, *, valid_only: bool = False) -> list[AnalysisRow]:
    """Return the analyses of a fill, oldest first; `valid_only` leaves out those set aside."""
    valid = {"valid": True} if valid_only else {}
    return equal(conn, AnalysisRow, {"fill": number, **valid}, ("seq",))


def exceptions(conn: Connection, number: int) -> list[ExceptionRow]:
    """Return what a manager would look for in a fill, oldest first."""
    return equal(conn, ExceptionRow, {"fill": number}, ("seq",))


def cylinder(conn: Connection, serial: str) -> CylinderRow:
    """Return a cylinder or set by its serial.

    Raises
    ------
    InputError
        If no cylinder of that serial is in the record.
    """
    found = _one(conn, CylinderRow, serial=serial)
    if found is None:
        raise InputError(
            "cylinder", repr(serial), "no such serial in the record; add it with `cylinder add`"
        )
    return found


def has_cylinder(conn: Connection, serial: str) -> bool:
    """Return whether a serial is in the record."""
    return _one(conn, CylinderRow, serial=serial) is not None


def cylinders(conn: Connection) -> list[CylinderRow]:
    """Return every cylinder, in the order of serials."""
    return equal(conn, CylinderRow)


def analysers(conn: Connection, *, retired: bool = False) -> list[AnalyserRow]:
    """Return the analysers in use (if asked, retired ones too), in the order of names."""
    return equal(conn, AnalyserRow, {} if retired else {"retired": ""})


def supplies(conn: Connection) -> list[SupplyRow]:
    """Return the station's supplies in the order they were added."""
    return equal(conn, SupplyRow, order=("seq",))


def compressors(conn: Connection, *, retired: bool = False) -> list[CompressorRow]:
    """Return the compressors in use (if asked, retired ones too), in the order of names."""
    return equal(conn, CompressorRow, {} if retired else {"retired": ""})


def prices(conn: Connection) -> dict[str, int]:
    """Return what a cubic metre of free gas costs [millionths], by supply."""
    return {row.supply: row.m3_micro for row in equal(conn, PriceRow)}


def analyser(conn: Connection, name: str) -> AnalyserRow:
    """Return an analyser by name.

    Raises
    ------
    InputError
        If no analyser of that name is in the record.
    """
    found = _one(conn, AnalyserRow, name=name)
    if found is None:
        raise InputError("analyser", repr(name), "no such analyser; add it with `analyser add`")
    return found


def called(row: PersonRow) -> str:
    """Return a person's name; where it was erased, that and the id."""
    return row.name or erased(row.person)


def erased(ident: str) -> str:
    """Return what stands where the name of an erased person stood."""
    return f"erased ({ident})"


def person(conn: Connection, ident: str) -> PersonRow | None:
    """Return a person by id, None if there is none."""
    return _one(conn, PersonRow, person=ident)


def people(conn: Connection) -> list[PersonRow]:
    """Return everybody in the record, in the order they were added."""
    return equal(conn, PersonRow, order=("seq",))


def staff_named(conn: Connection, name_or_id: str) -> PersonRow | None:
    """Return the member of staff a name or id means, None if nobody does."""
    columns = table(PersonRow).c
    who = or_(columns.person == name_or_id, columns.name == name_or_id)
    found = rows(conn, PersonRow, and_(columns.role.in_(STAFF_ROLES), who))
    return found[0] if len(found) == 1 else None


def customer(conn: Connection, name_or_id: str, field: str = "--customer") -> PersonRow:
    """Return the one customer a name or id means.

    Raises
    ------
    InputError
        If nobody or more than one person answers to it; ids are never ambiguous.
    """
    found = equal(conn, PersonRow, {"role": "customer", "person": name_or_id})
    found = found or equal(conn, PersonRow, {"role": "customer", "name": name_or_id})
    if len(found) == 1 and found[0].name is None:
        raise InputError(field, repr(name_or_id), "they were erased; add them anew")
    if len(found) == 1:
        return found[0]
    if found:
        ids = ", ".join(row.person for row in found)
        raise InputError(field, repr(name_or_id), f"several have that name; use an id: {ids}")
    raise InputError(
        field, repr(name_or_id), "no customer of that name or id; add them with `person add`"
    )


def access(conn: Connection, who: str) -> AccessRow | None:
    """Return the failed tries at a sign-in since the last that did not fail, None if none."""
    return _one(conn, AccessRow, who=who)


def finding(
    conn: Connection, what: str, about: str | None = None, number: int | None = None
) -> FindingRow | None:
    """Return what was found last, of something or at a fill if named; None if never looked."""
    named = {"what": what, "about": about, "fill": number}
    given = {name: value for name, value in named.items() if value is not None}
    found = equal(conn, FindingRow, given, NEWEST)
    return found[0] if found else None


def entry(conn: Connection, station_id: str, seq: int) -> Entry | None:
    """Return one entry of the journal, None if there is none of that place."""
    return entry_at(conn, station_id, seq)


def entry_of_step(conn: Connection, step: str | None) -> Entry | None:
    """Return the entry made under an idempotency key, None if there is none."""
    if step is None:
        return None
    found = conn.execute(select(ENTRY).where(ENTRY.c.step == step)).first()
    return entry_of(found) if found else None


def entries(conn: Connection, station_id: str) -> Iterator[Entry]:
    """Give every entry of a station's chain, in order."""
    query = select(ENTRY).where(ENTRY.c.station == station_id).order_by(ENTRY.c.seq)
    for row in conn.execute(query):
        yield entry_of(row)


def entries_after(conn: Connection, station_id: str, seq: int) -> Iterator[Entry]:
    """Give every entry after one, in order."""
    here = (ENTRY.c.station == station_id) & (ENTRY.c.seq > seq)
    for row in conn.execute(select(ENTRY).where(here).order_by(ENTRY.c.seq)):
        yield entry_of(row)


def entries_of_fill(conn: Connection, station_id: str, number: int) -> list[Entry]:
    """Return the entries of one fill, in order."""
    return [Entry(*row) for row in _OF_FILL.rows(conn, station=station_id, fill=number)]


def of_fills(
    conn: Connection, model: type[SQLModel], numbers: Collection[int]
) -> dict[int, list[Any]]:
    """Return some fills' rows of a read model by fill, in the order of entries.

    They are the database's own light rows, with a model's names: for tens of thousands.
    """
    columns = table(model)
    found: dict[int, list[Any]] = {number: [] for number in numbers}
    ordered = sorted(found)
    for at in range(0, len(ordered), 500):
        where = columns.c.fill.in_(ordered[at : at + 500])
        for row in conn.execute(select(columns).where(where).order_by(columns.c.seq)):
            found[row.fill].append(row)
    return found


def entries_of_kind(conn: Connection, station_id: str, *kinds: str) -> Iterator[Entry]:
    """Give every entry of some kinds, in order.

    The bytes are looked at before a body is read: canonical bodies spell a kind in one way.
    """
    named = b"|".join(re.escape(kind.encode()) for kind in kinds)
    holds_one = re.compile(b'"kind":"(?:' + named + b')"').search
    query = select(*WHOLE).where(ENTRY.c.station == station_id).order_by(ENTRY.c.seq)
    for row in conn.execute(query):
        if holds_one(row.body) and (entry := Entry(*row)).kind in kinds:
            yield entry
