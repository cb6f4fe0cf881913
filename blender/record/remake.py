"""Read models filled again from the journal: in their own file, or in memory beside it.

A file whose read models an earlier release made is remade when it is opened to be written.
Opened to be read only it stays as it is, and the models of this release are made in memory.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from sqlalchemy import Connection, select

from blender.errors import RecordError
from blender.record import private, schema
from blender.record.engine import beside_engine
from blender.record.entry import Entry
from blender.record.projector import Projector
from blender.record.server import Location, Server
from blender.record.unit import entry_of

Progress = Callable[[int], None]


def remake(
    conn: Connection, station: str, projector: Projector, progress: Progress | None = None
) -> int:
    """Drop and refill every read model in the caller's transaction; return how many entries."""
    schema.drop_read_models(conn)
    schema.create_tables(conn, projector.TABLES)
    return replay(conn, station, projector, progress=progress)


def replay(
    conn: Connection,
    station: str,
    projector: Projector,
    after: int = 0,
    progress: Progress | None = None,
) -> int:
    """Apply the entries of a chain after one of them to the read models; return how many."""
    entry = schema.ENTRY
    here = (entry.c.station == station) & (entry.c.seq > after)
    rows = conn.execute(select(entry).where(here).order_by(entry.c.seq)).yield_per(1000)
    count = 0
    for row in rows:
        _apply(conn, entry_of(row), projector)
        count += 1
        if progress is not None and count % 1000 == 0:
            progress(count)
    return count


def _apply(conn: Connection, entry: Entry, projector: Projector) -> None:
    """Apply an entry; name one whose body is not what its kind has."""
    try:
        projector.apply(conn, entry, partial(private.get, conn))
    except (ArithmeticError, LookupError, TypeError, ValueError) as error:
        raise RecordError(f"entry {entry.seq} cannot be applied; run `verify`") from error


class Beside:
    """Read models of this release in memory, beside a file that stays as it is.

    Parameters
    ----------
    path : Path or Server
        The file; its journal and private rows are read, nothing of it is written.
    station : str
        Whose chain.
    projector : Projector
        Makes the read models.
    """

    def __init__(self, path: Location, station: str, projector: Projector) -> None:
        if isinstance(path, Server):
            told = "an earlier release made its tables; open it once to enter something"
            raise RecordError(told, code="schema")
        self.engine = beside_engine(path)
        self._station = station
        self._projector = projector
        self._applied = 0

    def catch_up(self, conn: Connection) -> None:
        """Apply what was entered since the last time, in the transaction of a reading."""
        conn.exec_driver_sql("PRAGMA query_only=0")
        if not self._applied:
            schema.create_tables(conn, self._projector.TABLES)
        self._applied += replay(conn, self._station, self._projector, after=self._applied)
        conn.exec_driver_sql("PRAGMA query_only=1")
