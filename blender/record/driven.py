"""Statements put together once by SQLAlchemy, and given to the database's driver itself.

The text is what SQLAlchemy makes of the models' tables, for either engine; its way of running a
statement takes several times as long as SQLite takes to answer it.  So the few statements of
which an act makes dozens go this way.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias, TypeVar

from sqlalchemy import Connection, Dialect, Select, Table, bindparam, delete, insert, update
from sqlalchemy.sql.dml import UpdateBase

from blender.record import dialect
from blender.record.kept import once, wrote

Answer = TypeVar("Answer")
Made: TypeAlias = Callable[[tuple[str, ...], list[tuple[Any, ...]]], Answer]
_IS = "is_"  # the value an update looks for; no column's name ends in ``_``


@dataclass(frozen=True, slots=True)
class Prepared:
    """A statement as a driver takes it.

    Parameters
    ----------
    text : str
        SQL.
    fixed : dict
        Values it has of itself, such as a limit.
    order : tuple of str or None
        The names of its values in the order of its marks; None where they are named in it.
    names : tuple of str
        The columns it finds.
    mends : tuple of (int, callable)
        What makes a driver's value one of Python's, by column: SQLite has no truth values.
    """

    text: str
    fixed: dict[str, Any]
    order: tuple[str, ...] | None
    names: tuple[str, ...] = ()
    mends: tuple[tuple[int, Callable[[Any], Any]], ...] = ()

    def run(self, conn: Connection, values: Mapping[str, Any]) -> None:
        """Run it for what it changes."""
        dialect.by_driver(conn, self.text, self._given(values))

    def rows(self, conn: Connection, values: Mapping[str, Any]) -> list[tuple[Any, ...]]:
        """Return all it finds."""
        found = dialect.found_by_driver(conn, self.text, self._given(values))
        return [self._mended(row) for row in found] if self.mends else found

    def _given(self, values: Mapping[str, Any]) -> Any:
        whole = {**self.fixed, **values}
        return whole if self.order is None else [whole[name] for name in self.order]

    def _mended(self, row: tuple[Any, ...]) -> tuple[Any, ...]:
        values = list(row)
        for place, mend in self.mends:
            values[place] = mend(values[place])
        return tuple(values)


class Query:
    """A query of which the values alone change: put together once for each kind of database.

    Parameters
    ----------
    query : Select
        With ``bindparam`` where a value goes in.
    of : Table
        The one table its answer depends on.
    """

    def __init__(self, query: Select[Any], of: Table) -> None:
        self._query, self._table = query, of.name
        self._prepared: dict[str, Prepared] = {}

    def on(self, conn: Connection) -> Prepared:
        """Return it as the connection's driver takes it."""
        kind = conn.dialect.name
        if (known := self._prepared.get(kind)) is None:
            known = self._prepared[kind] = prepare(self._query, conn.dialect)
        return known

    def rows(self, conn: Connection, **values: Any) -> list[tuple[Any, ...]]:
        """Return the rows it finds, asked only where they may be others now."""
        return self.once(conn, values, _as_found)

    def once(self, conn: Connection, values: Mapping[str, Any], made: Made[Answer]) -> Answer:
        """Return what is made of the columns' names and the rows it finds, as long as it holds."""

        def ask() -> Answer:
            prepared = self.on(conn)
            return made(prepared.names, prepared.rows(conn, values))

        return once(conn, self._table, (self, made, *values.items()), ask)

    def value(self, conn: Connection, **values: Any) -> Any:
        """Return the first value of the first row it finds, None if there is none."""
        found = self.rows(conn, **values)
        return found[0][0] if found else None


def _as_found(_: tuple[str, ...], rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    return rows


def prepare(query: Select[Any], of: Dialect) -> Prepared:
    """Put a query together for one kind of database."""
    compiled = query.compile(dialect=of)
    columns = list(query.selected_columns)
    mends = [
        (place, mend)
        for place, column in enumerate(columns)
        if (mend := column.type.dialect_impl(of).result_processor(of, None))
    ]
    return _prepared(compiled, tuple(str(one.key) for one in columns), tuple(mends))


def _prepared(compiled: Any, names: tuple[str, ...] = (), mends: tuple[Any, ...] = ()) -> Prepared:
    order = tuple(compiled.positiontup) if compiled.positional else None
    fixed = {name: one.value for one, name in compiled.bind_names.items() if not one.required}
    return Prepared(str(compiled), fixed, order, names, mends)


def _for_write(statement: UpdateBase, of: Dialect, names: tuple[str, ...]) -> Prepared:
    return _prepared(statement.compile(dialect=of, column_keys=list(names)))


# One of each for each kind of database: the dialects of two engines of a kind are equal here.
_inserts: dict[tuple[str, Table, tuple[str, ...]], Prepared] = {}
_updates: dict[tuple[str, Any, tuple[str, ...]], Prepared] = {}
_deletes: dict[tuple[str, Any], Prepared] = {}


def add_row(conn: Connection, to: Table, row: Mapping[str, Any]) -> None:
    """Add a row to a table."""
    key = (conn.dialect.name, to, tuple(row))
    if (known := _inserts.get(key)) is None:
        known = _inserts[key] = _for_write(insert(to).inline(), conn.dialect, key[2])
    known.run(conn, row)
    wrote(conn, to.name)


def change_rows(conn: Connection, column: Any, is_: object, values: Mapping[str, Any]) -> None:
    """Change the rows of a table in which a column is something."""
    key = (conn.dialect.name, column, tuple(values))
    if (known := _updates.get(key)) is None:
        statement = update(column.table).where(column == bindparam(_IS)).inline()
        known = _updates[key] = _for_write(statement, conn.dialect, key[2])
    known.run(conn, {**values, _IS: is_})
    wrote(conn, column.table.name)


def drop_rows(conn: Connection, column: Any, is_: object) -> None:
    """Drop the rows of a table in which a column is something."""
    key = (conn.dialect.name, column)
    if (known := _deletes.get(key)) is None:
        statement = delete(column.table).where(column == bindparam(_IS))
        known = _deletes[key] = _prepared(statement.compile(dialect=conn.dialect))
    known.run(conn, {_IS: is_})
    wrote(conn, column.table.name)
