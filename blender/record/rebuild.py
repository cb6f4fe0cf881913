"""Making the read models anew from the journal and the private rows."""

from __future__ import annotations

from functools import partial

from sqlalchemy import Connection, select

from blender.record import private, schema
from blender.record.journal import Record
from blender.record.projector import Projector
from blender.record.unit import entry_of


def rebuild(record: Record) -> int:
    """Drop and refill every read model, in one transaction.

    Parameters
    ----------
    record : Record
        Opened to be written; with ``check=False`` if its read models are damaged or of
        another version.

    Returns
    -------
    int
        How many entries were applied.

    Raises
    ------
    StorageError
        If it did not reach the disk: then nothing was changed.
    """
    with record.write() as unit:
        schema.drop_read_models(unit.conn)
        schema.create_tables(unit.conn, record.projector.TABLES)
        return replay(unit.conn, record.station, record.projector)


def replay(conn: Connection, station: str, projector: Projector) -> int:
    """Apply every entry of a chain to empty read models in the same database."""
    entry = schema.ENTRY
    rows = conn.execute(
        select(entry).where(entry.c.station == station).order_by(entry.c.seq)
    ).yield_per(1000)
    count = 0
    for row in rows:
        projector.apply(conn, entry_of(row), partial(private.get, conn))
        count += 1
    return count
