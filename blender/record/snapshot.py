"""Looking at a database without changing a byte of it, whatever state it is in."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import OperationalError

from blender.record.engine import open_engine, sqlite_path

# SQLite would have to write to read: an unfinished write lies beside the file (it would
# be rolled back), or a write-ahead log needs its index made.
_MUST_WRITE = {
    sqlite3.SQLITE_READONLY_ROLLBACK,
    sqlite3.SQLITE_READONLY_RECOVERY,
    sqlite3.SQLITE_READONLY_CANTINIT,
    sqlite3.SQLITE_READONLY_DIRECTORY,
    sqlite3.SQLITE_CANTOPEN,
}


@contextmanager
def look(location: str | Path) -> Iterator[Connection]:
    """Open a database to be read only, in one consistent state.

    Where SQLite could not read it without writing, a copy is looked at instead.

    Raises
    ------
    InputError
        If there is no such file.
    """
    path = sqlite_path(location)
    if _readable(path):
        with _open(path, readonly=True) as conn:
            yield conn
        return
    with tempfile.TemporaryDirectory(prefix="fillwright-") as folder:
        copy = Path(folder) / "copy.db"
        for tail in ("", "-journal", "-wal"):
            if (beside := path.with_name(path.name + tail)).exists():
                shutil.copyfile(beside, copy.with_name(copy.name + tail))
        with _open(copy, readonly=False) as conn:
            yield conn


@contextmanager
def _open(path: Path, *, readonly: bool) -> Iterator[Connection]:
    engine = open_engine(path, readonly=readonly)
    try:
        with engine.connect() as conn, conn.begin():
            yield conn
    finally:
        engine.dispose()


def _readable(path: Path) -> bool:
    """Tell whether the file itself can be read without writing to it."""
    try:
        with _open(path, readonly=True) as conn:
            conn.exec_driver_sql("SELECT count(*) FROM sqlite_master")
    except OperationalError as error:
        return getattr(error.orig, "sqlite_errorcode", 0) not in _MUST_WRITE
    return True
