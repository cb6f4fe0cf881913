"""A whole record poured into another place, on either engine: the very bytes, and nothing else.

Journal and private rows are taken over as they lie, in the order of the chain, past the same
guards as any entry; the read models are made anew from them.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sqlalchemy import Connection, insert, select
from sqlalchemy.exc import DatabaseError

from blender.errors import InputError
from blender.record import schema
from blender.record.engine import open_engine
from blender.record.journal import Record
from blender.record.place import WRITING, explain
from blender.record.remake import Progress, replay
from blender.record.schema import ENTRY, PRIVATE
from blender.record.server import Location
from blender.record.unit import Unit

_PART = 500  # rows at once


def pour(
    source: Record,
    place: str | Location,
    *,
    settle: Callable[[Unit], None] | None = None,
    progress: Progress | None = None,
) -> Record:
    """Make a record in another place of one state of this one; return it, open.

    Parameters
    ----------
    source : Record
        The open record; others may go on writing to it.
    place : str, Path or Server
        Where there is nothing yet.
    settle : callable
        Enters more in the same transaction, after all that was taken over.
    progress : callable
        Told now and then how many entries were applied to the read models.

    Raises
    ------
    InputError
        If something is there.
    StorageError
        If it was not saved; then nothing is left there.
    """
    projector = source.projector

    def fill(unit: Unit) -> None:
        with source.read() as conn:
            _take_over(conn, unit.conn)
        replay(unit.conn, source.station, projector, progress=progress)
        if settle is not None:
            settle(unit)

    return Record.make(
        place, source.station, source.public_key, fill, projector, says_build=source.says_build
    )


def check_free(place: Location) -> None:
    """Refuse a place where something is, or where none can be had, before anything is begun.

    Raises
    ------
    InputError
        If something is there.
    StorageError
        If a server cannot be reached, or its user may make nothing there.
    """
    if isinstance(place, Path):
        if place.exists():
            raise InputError("--to", str(place), "something is there already")
        return
    engine = open_engine(place)
    try:
        with engine.connect().execution_options(**{WRITING: True}) as conn, conn.begin() as trial:
            schema.create_journal(conn)
            trial.rollback()
    except DatabaseError as error:
        raise explain(error) from error
    finally:
        engine.dispose()


def _take_over(source: Connection, target: Connection) -> None:
    for table in (ENTRY, PRIVATE):
        order = table.primary_key.columns
        rows = source.execute(select(table).order_by(*order)).yield_per(_PART)
        for part in rows.mappings().partitions():
            target.execute(insert(table), [dict(row) for row in part])
