"""Making the read models anew from the journal and the private rows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from blender.record.journal import Record
from blender.record.remake import remake
from blender.record.tally import Tally, tally


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What a rebuild did.

    Parameters
    ----------
    entries : int
        How many entries were applied.
    changed : dict
        By table that is not as it was: its rows before and after.  A table whose rows are as
        many but other ones has the same number twice; one that could not be read had -1.
    """

    entries: int
    changed: dict[str, tuple[int, int]]


def rebuild(record: Record, progress: Callable[[int], None] | None = None) -> Rebuilt:
    """Drop and refill every read model, in one transaction.

    Parameters
    ----------
    record : Record
        Opened to be written; with ``check=False`` if its read models are damaged or of
        another version.
    progress : callable
        Told now and then how many entries were applied.

    Raises
    ------
    StorageError
        If it did not reach the disk: then nothing was changed.
    """
    tables = record.projector.TABLES
    with record.write() as unit:
        before = tally(unit.conn, tables)
        count = remake(unit.conn, record.station, record.projector, progress)
        after = tally(unit.conn, tables)
    return Rebuilt(count, _changes(before, after))


def _changes(before: Tally, after: Tally) -> dict[str, tuple[int, int]]:
    return {
        name: (before[name].rows, own.rows) for name, own in after.items() if before[name] != own
    }
