"""Forgetting for good: who is still named in typed text, and clearing what a file kept of a row."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterable
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import DatabaseError

from blender.record import read
from blender.record.engine import open_engine
from blender.record.journal import Record


def mentions(conn: Connection, station: str, words: Iterable[str]) -> list[int]:
    """Return the entries in whose bodies a text stands, capitals or not.

    A body cannot be changed, so whoever typed a name into a reason or a note left it there.
    Only whole texts are found: a first name alone is not.
    """
    wanted = [folded(json.dumps(word, ensure_ascii=False)[1:-1]) for word in words if word.strip()]
    found = []
    for entry in read.entries(conn, station):
        said = folded(entry.body.decode(errors="replace"))
        if any(word in said for word in wanted):
            found.append(entry.seq)
    return found


def folded(text: str) -> str:
    r"""Return a text as it is compared: composed, without regard to capitals.

    Examples
    --------
    >>> folded("E\u0301va STRASSE") == folded("Éva straße")
    True
    """
    return unicodedata.normalize("NFC", text.casefold())


def clear(record: Record) -> bool:
    """Take what was erased out of the write-ahead log too; False where others kept it busy.

    Erased rows themselves are overwritten as they are deleted (`secure_delete`).
    """
    if not isinstance(record.location, Path):
        return True  # a server clears its own pages, in its own time; its logs are its keeper's
    engine = open_engine(record.location)
    try:
        with engine.connect() as conn:
            raw = conn.connection.driver_connection
            assert raw is not None
            busy, *_ = raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            return not busy
    except DatabaseError:
        return False
    finally:
        engine.dispose()
