"""Making the read models anew from the journal and the private rows."""

from __future__ import annotations

from blender.record.journal import Record
from blender.record.remake import remake


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
        return remake(unit.conn, record.station, record.projector)
