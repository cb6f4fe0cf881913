"""Opening the database so that what it acknowledges is on the disk.

Every connection gets the same settings, read back and checked.  One is kept for the next use
where it holds nothing meanwhile: no lock, no file that could not be moved.  It is not used again
once another file stands in its path, or after it failed.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
import sys
import time
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, NullPool, QueuePool, StaticPool, create_engine, event
from sqlalchemy.exc import DisconnectionError

from blender.errors import InputError, StorageError
from blender.record.dialect import by_driver, found_by_driver
from blender.record.files import create_private, sync_folder
from blender.record.kept import keep_answers
from blender.record.place import WRITING, check_there, locate, sqlite_path
from blender.record.server import Location, Server

BUSY_MS = 5000
_PAUSE_MS = 20
_STATEMENTS = 400  # of a fill's acts none is put together anew by SQLite
OLDEST_SQLITE = (3, 37, 0)  # the first with STRICT tables
_OFF, _FULL, _EXTRA = 0, 2, 3
_DRAFT = "memory"
IMMEDIATE = WRITING


def journal_settings(version: tuple[int, int, int]) -> tuple[str, int]:
    """Choose journal mode and synchronous setting for a SQLite version.

    Only pairs that lose no acknowledged commit in a power cut are used.  Versions before
    3.51.3 (but for the backports 3.44.6 and 3.50.7) can damage a write-ahead log that
    several connections reset at once, so they keep a rollback journal; with that one,
    only EXTRA syncs the folder after the unlink that is the commit.

    Examples
    --------
    >>> journal_settings((3, 40, 1))
    ('delete', 3)
    >>> journal_settings((3, 51, 3))
    ('wal', 2)
    """
    safe = (
        version >= (3, 51, 3)
        or (3, 50, 7) <= version < (3, 51, 0)
        or (3, 44, 6) <= version < (3, 45, 0)
    )
    return ("wal", _FULL) if safe else ("delete", _EXTRA)


def open_engine(
    location: str | Location,
    *,
    readonly: bool = False,
    create: bool = False,
    untouched: bool = False,
    draft: bool = False,
) -> Engine:
    """Open a database for the record.

    Parameters
    ----------
    location : str, Path or Server
        The SQLite file, or the place on a server.
    readonly : bool
        Whether no statement may write; what a crash left unfinished is still rolled back.
    create : bool
        Whether to create the file, which must not exist, with mode 0600; on a server, what is
        there is looked at when the tables are made.
    untouched : bool
        Whether SQLite itself may not write either, come what may.
    draft : bool
        Whether a file just created is written without waiting for the disk, what it replaces
        kept in memory alone; `settle` brings it there.  What a crash leaves of it is worth nothing.

    Raises
    ------
    InputError
        If there is no such file, or there is one where a new one is asked for.
    StorageError
        If the disk does not take it.
    """
    place = locate(location)
    if isinstance(place, Server):
        return _on_server(place, readonly=readonly or untouched)
    path = place.absolute()
    if create:
        _create(path)
    else:
        check_there(path)

    def connect() -> sqlite3.Connection:
        mode = "ro" if untouched else "rw"
        return _connect(path, mode, readonly=readonly or untouched, draft=create and draft)

    is_kept = draft or _may_keep(readonly or untouched)
    engine = _keeping(path, connect) if is_kept else _anew(connect)
    event.listen(engine, "begin", _begin)
    event.listen(engine, "begin", partial(_check_in_place, path))
    # One opened anew has no answers yet, and takes no lock before it asks.
    keep_answers(engine, _written_by_others if is_kept else lambda _: None)
    return engine


def _written_by_others(conn: Connection) -> object:
    """Return what changes with every commit of another connection to the file.

    Read within a transaction, which sees the file from then on as it was then.
    """
    return found_by_driver(conn, "PRAGMA data_version", ())[0]


def settle(path: Path) -> None:
    """Bring a draft to the disk, after its last connection was closed.

    Raises
    ------
    StorageError
        If the disk does not take it.
    """
    try:
        with path.open("rb+") as file:
            os.fsync(file.fileno())
        sync_folder(path.parent)
    except OSError as error:
        raise StorageError(f"{path} did not reach the disk: {error.strerror}") from None


def _on_server(place: Server, *, readonly: bool) -> Engine:
    from blender.record.server_engine import server_engine  # noqa: PLC0415 - its driver is an extra

    return server_engine(place, lambda: BUSY_MS, readonly=readonly)


def _may_keep(readonly: bool) -> bool:
    """Tell whether a connection at rest is in nobody's way.

    One to a write-ahead log, which a reader takes as it finds it, holds a lock that a restore
    waits for; on Windows, no open file can be moved aside.
    """
    return _own_mode() == "delete" and os.name == "posix" and not readonly


def _own_mode() -> str:
    return journal_settings(sqlite3.sqlite_version_info[:3])[0]


def _anew(connect: Callable[[], sqlite3.Connection]) -> Engine:
    return create_engine("sqlite://", creator=connect, poolclass=NullPool)


def _keeping(path: Path, connect: Callable[[], sqlite3.Connection]) -> Engine:
    """Keep one connection between uses; whoever needs another meanwhile gets it anew."""
    engine = create_engine(
        "sqlite://", creator=connect, poolclass=QueuePool, pool_size=1, max_overflow=-1
    )
    event.listen(engine, "checkout", partial(_check_same, path))
    return engine


def _check_same(path: Path, raw: Any, *_: object) -> None:
    """Have a kept connection opened anew whose file is no longer the one in its path, or its mode.

    One just opened was looked at as it was opened: it is taken as it is.
    """
    if not getattr(raw, "was_used", True):
        raw.was_used = True
    elif getattr(raw, "file_id", None) != _file_id(path) or _mode_now(raw) != _mode_of(raw):
        raise DisconnectionError


def _mode_of(raw: Any) -> str:
    """Return the journal mode a connection is to have."""
    return getattr(raw, "journal", "") or _own_mode()


def _mode_now(raw: Any) -> str:
    """Look into the file for its journal mode, without waiting; empty where it cannot be read."""
    try:
        raw.execute("PRAGMA busy_timeout=0")
        raw.execute("PRAGMA schema_version")  # reads the file, where another mode may stand
        mode = str(raw.execute("PRAGMA journal_mode").fetchone()[0])
        raw.execute(f"PRAGMA busy_timeout={BUSY_MS}")
    except sqlite3.Error:
        return ""  # opening it anew waits for it, or says what is wrong
    return mode


class _Opened(sqlite3.Connection):
    """A connection that knows which file its path was when it was opened, and in which process."""

    file_id: tuple[int, int, int] | None = None
    journal = ""  # its mode, where that is not the record's own
    was_used = False


def _file_id(path: Path) -> tuple[int, int, int] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return os.getpid(), status.st_dev, status.st_ino


def _check_in_place(path: Path, conn: Connection) -> None:
    """Refuse to write to a file that a restore moved aside after it was opened.

    Asked with the write lock held, which a restore waits for before it moves anything.
    """
    if not conn.get_execution_options().get(IMMEDIATE, False):
        return
    opened = getattr(conn.connection.driver_connection, "file_id", None)
    if opened is not None and opened != _file_id(path):
        raise StorageError(
            "another file was put in the record's place meanwhile; nothing was saved, try again",
            code="busy",
        )


def beside_engine(location: str | Path) -> Engine:
    """Open an empty database in memory with a file attached, whose tables it sees by name.

    It has one connection, so one thread at a time may use it.
    """
    path = sqlite_path(location).absolute()
    check_there(path)

    def connect() -> sqlite3.Connection:
        raw = sqlite3.connect(
            "file::memory:", uri=True, isolation_level=None, check_same_thread=False
        )
        raw.execute(f"PRAGMA busy_timeout={BUSY_MS}")
        raw.execute("PRAGMA trusted_schema=0")
        raw.execute("ATTACH ? AS kept", [f"{path.as_uri()}?mode=rw"])
        raw.execute("PRAGMA query_only=1")
        return raw

    engine = create_engine("sqlite://", creator=connect, poolclass=StaticPool)
    event.listen(engine, "begin", _begin)
    return engine


def memory_engine() -> Engine:
    """Open an empty database in memory; it lives as long as its one connection."""
    engine = create_engine("sqlite://", creator=_connect_memory, poolclass=NullPool)
    event.listen(engine, "begin", _begin)
    return engine


def _connect_memory() -> sqlite3.Connection:
    return sqlite3.connect(":memory:", isolation_level=None)


def _create(path: Path) -> None:
    """Make the empty file, so that its mode is right from the first byte."""
    try:
        os.close(create_private(path))
        sync_folder(path.parent)
    except FileExistsError:
        raise InputError(
            "station", str(path), "there is a file already; choose a new name"
        ) from None
    except OSError as error:
        raise StorageError(f"{path} cannot be created: {error.strerror}") from None


def _begin(conn: Connection) -> None:
    """Take the write lock at once where a unit will write; waiting later cannot be waited out."""
    immediate = conn.get_execution_options().get(IMMEDIATE, False)
    by_driver(conn, "BEGIN IMMEDIATE" if immediate else "BEGIN", ())


def _connect(path: Path, mode: str, *, readonly: bool, draft: bool = False) -> sqlite3.Connection:
    """Open one connection with its settings, or none."""
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise StorageError(f"SQLite {sqlite3.sqlite_version} is too old; 3.37 or newer is needed")
    uri = f"{path.as_uri()}?mode={mode}"
    for patience in range(BUSY_MS // _PAUSE_MS, -1, -1):
        before = _file_id(path)
        raw = sqlite3.connect(
            uri,
            uri=True,
            isolation_level=None,
            timeout=BUSY_MS / 1000,
            check_same_thread=False,  # one thread at a time, as its pool gives it out
            factory=_Opened,
            cached_statements=_STATEMENTS,
        )
        raw.file_id, raw.journal = before, _DRAFT if draft else ""
        try:
            _configure(raw, readonly=readonly, draft=draft)
            if readonly or _journal_switched(raw, wait=patience > 0):
                return raw
        except UnicodeDecodeError as error:  # SQLite quotes a damaged definition in its message
            raw.close()
            raise sqlite3.DatabaseError("malformed database schema") from error
        except BaseException:
            raw.close()
            raise
        raw.close()  # two that held on to it would wait for each other
        time.sleep(secrets.randbelow(2 * _PAUSE_MS) / 1000)
    raise AssertionError("the last round raises or returns")


def _configure(raw: sqlite3.Connection, *, readonly: bool, draft: bool = False) -> None:
    """Set what the record relies on, and read it back."""
    _, synchronous = journal_settings(sqlite3.sqlite_version_info[:3])
    wanted = {
        "busy_timeout": BUSY_MS,
        "foreign_keys": 1,
        "recursive_triggers": 1,  # REPLACE fires the delete guard
        "trusted_schema": 0,
        "cell_size_check": 1,
        "secure_delete": 1,  # what is erased is overwritten
        "query_only": int(readonly),
        "synchronous": _OFF if draft else synchronous,
    }
    if sys.platform == "darwin":
        wanted |= {"fullfsync": 1, "checkpoint_fullfsync": 1}
    for name, value in wanted.items():
        raw.execute(f"PRAGMA {name}={value}")
    found = raw.execute(_read_back(tuple(wanted))).fetchone()
    for (name, value), kept in zip(wanted.items(), found, strict=True):
        _check_kept(name, value, kept)


@cache
def _read_back(names: tuple[str, ...]) -> str:
    """Return the one question that reads all settings back."""
    return f"SELECT * FROM {', '.join(f'pragma_{name}' for name in names)}"  # noqa: S608 - our own names


def _journal_switched(raw: sqlite3.Connection, *, wait: bool) -> bool:
    """Set the journal mode, which another version of SQLite may have left in its own.

    That needs the file alone, and SQLite does not wait for it: False where the caller shall.
    """
    journal = _mode_of(raw)
    if raw.execute("PRAGMA journal_mode").fetchone()[0] == journal:
        return True
    try:
        raw.execute(f"PRAGMA journal_mode={journal}")
    except sqlite3.OperationalError as error:
        if wait and "locked" in str(error):
            return False
        raise
    _check_kept("journal_mode", journal, raw.execute("PRAGMA journal_mode").fetchone()[0])
    return True


def _check_kept(name: str, value: object, kept: object) -> None:
    """Refuse a database that does not keep a setting."""
    if kept != value:
        raise StorageError(
            f"the database does not keep {name} at {value}; the disk may not be safe"
        )
