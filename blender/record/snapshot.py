"""Looking at a database without changing a byte of it, whatever state it is in."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import OperationalError

from blender.record.engine import open_engine
from blender.record.place import MUST_WRITE, locate
from blender.record.server import Location, Server


@contextmanager
def look(location: str | Location) -> Iterator[Engine]:
    """Open a database to be looked at only.

    Where SQLite could not read it without writing, a copy is looked at instead.

    Raises
    ------
    InputError
        If there is no such file.
    """
    path = locate(location)
    engine = open_engine(path, untouched=True)
    try:
        if isinstance(path, Server) or _readable(engine):
            yield engine
            return
    finally:
        engine.dispose()
    assert isinstance(path, Path)
    with tempfile.TemporaryDirectory(prefix="fillwright-") as folder:
        engine = open_engine(_copy(path, Path(folder)), readonly=True)
        try:
            yield engine
        finally:
            engine.dispose()


def _readable(engine: Engine) -> bool:
    """Tell whether a database can be read without writing to it."""
    try:
        with engine.connect() as conn:
            conn.exec_driver_sql("SELECT count(*) FROM sqlite_master")
    except OperationalError as error:
        return getattr(error.orig, "sqlite_errorcode", 0) not in MUST_WRITE
    return True


def _copy(path: Path, folder: Path) -> Path:
    """Copy a database with what lies beside it."""
    copy = folder / "copy.db"
    for tail in ("", "-journal", "-wal"):
        if (beside := path.with_name(path.name + tail)).exists():
            shutil.copyfile(beside, copy.with_name(copy.name + tail))
    return copy
