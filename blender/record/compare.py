"""Read models against what the journal says: rebuilt in memory, compared row by row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, Engine, Table
from sqlalchemy.exc import SQLAlchemyError

from blender.record import dialect
from blender.record.engine import memory_engine
from blender.record.entry import Entry
from blender.record.place import is_busy
from blender.record.projector import Private, Projector
from blender.record.schema import create_tables, is_earlier
from blender.record.walk import Problem

Cells = tuple[Any, ...]
Names = Sequence[str]


class Shadow:
    """Read models made from the entries alone, beside those in the file.

    Parameters
    ----------
    projector : Projector
        Makes them.
    private : callable
        Gives the content of a private row of the file.
    """

    def __init__(self, projector: Projector, private: Private) -> None:
        self._projector = projector
        self._private = private
        self._engine: Engine = memory_engine()
        self._conn = self._engine.connect()
        self._conn.begin()
        create_tables(self._conn, projector.TABLES)
        self._names: dict[str, Names] = {}
        self._found: dict[str, dict[Cells, Cells]] = {}

    def take(self, entry: Entry) -> Iterator[Problem]:
        """Apply an entry; one that cannot be applied is a problem."""
        try:
            self._projector.apply(self._conn, entry, self._private)
        except Exception as error:  # whatever a hostile body does to a projection
            yield Problem(entry.seq, "read-model", f"the entry cannot be applied: {error!a}"[:300])

    def read(self, conn: Connection) -> Iterator[Problem]:
        """Read the file's tables as they are now, while its journal stands still.

        Where an earlier release made them, what they have of this one's columns is read.
        """
        earlier = is_earlier(conn)
        for table in self._projector.TABLES:
            try:
                names = _names_in(conn, table) if earlier else table.columns.keys()
                if names:
                    self._names[table.name] = names
                    with conn.begin_nested():  # a server gives up the whole transaction else
                        self._found[table.name] = _rows(conn, table, names)
            except (SQLAlchemyError, ValueError) as error:
                if is_busy(error):
                    raise
                text = f"table {table.name} cannot be read: {error!a}"
                yield Problem(0, "read-model", text[:300])

    def problems(self) -> Iterator[Problem]:
        """Name each row that was missing, foreign or altered when they were read."""
        for table in self._projector.TABLES:
            if table.name in self._found:
                names = self._names[table.name]
                wanted = _rows(self._conn, table, names)
                yield from _differences(table.name, names, self._found[table.name], wanted)

    def close(self) -> None:
        """Let the memory go."""
        self._conn.close()
        self._engine.dispose()


def _names_in(conn: Connection, table: Table) -> Names:
    """Give the columns of a table that a file has; none if it has no such table."""
    has = dialect.columns_of(conn, table.name)
    return [column.name for column in table.columns if column.name in has]


def _rows(conn: Connection, table: Table, names: Names) -> dict[Cells, Cells]:
    """Read a table as the driver gives it, by primary key, without a model's kind eye."""
    quote = conn.dialect.identifier_preparer.quote
    columns = ", ".join(map(quote, names))
    key = [names.index(column.name) for column in table.primary_key.columns]
    rows = conn.exec_driver_sql(f"SELECT {columns} FROM {quote(table.name)}")  # noqa: S608 - our own names, quoted
    return {tuple(row[at] for at in key): tuple(row) for row in rows}


def _differences(
    table: str, names: Names, found: dict[Cells, Cells], wanted: dict[Cells, Cells]
) -> Iterator[Problem]:
    """Compare two readings of a table."""
    for key in sorted(found.keys() | wanted.keys(), key=repr):
        here, there = found.get(key), wanted.get(key)
        if _typed(here) == _typed(there):
            continue
        place = f"{table} {', '.join(ascii(cell) for cell in key)}"
        if here is None:
            text = f"{place} is missing"
        elif there is None:
            text = f"{place} comes from no entry"
        else:
            altered = [
                name
                for name, a, b in zip(names, here, there, strict=True)
                if _typed((a,)) != _typed((b,))
            ]
            text = f"{place} was altered in {', '.join(altered)}"
        yield Problem(_seq(names, there or here), "read-model", text)


def _typed(cells: Cells | None) -> Cells | None:
    """Tell 1 from 1.0 and from text; one engine says true where the other says 1."""
    if cells is None:
        return None
    return tuple((int if type(cell) is bool else type(cell), cell) for cell in cells)


def _seq(names: Names, cells: Cells | None) -> int:
    """Return the entry a row last came from, 0 if it does not say."""
    if cells is None or "seq" not in names:
        return 0
    found = cells[names.index("seq")]
    return found if isinstance(found, int) else 0
