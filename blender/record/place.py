"""Where a record lies, and what SQLite says of it; nothing here loads a database library."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Final

from blender.errors import InputError, RecordError, StorageError
from blender.record.server import (
    Location,
    Server,
    explain_server,
    is_lock_timeout,
    is_url,
    said_by_server,
    server_at,
)  # fmt: skip

APPLICATION_ID: Final = 0x46494C57  # "FILW", in the file's header
VERSION: Final = 1
WRITING: Final = "fillwright_immediate"  # the option of a connection that will write
READING_TAIL: Final = ".for-reading"  # beside a record that was restored without its key file
# SQLite would have to write to read: an unfinished write lies beside the file (it would
# be rolled back), or a write-ahead log needs its index made.
MUST_WRITE = frozenset(
    {
        sqlite3.SQLITE_READONLY_ROLLBACK,
        sqlite3.SQLITE_READONLY_RECOVERY,
        sqlite3.SQLITE_READONLY_CANTINIT,
        sqlite3.SQLITE_READONLY_DIRECTORY,
        sqlite3.SQLITE_CANTOPEN,
    }
)


def locate(location: str | Location) -> Location:
    """Read where a record lies: a SQLite file, or a place on a PostgreSQL server.

    Raises
    ------
    InputError
        If it is neither.
    """
    if isinstance(location, Server):
        return location
    return server_at(str(location)) if is_url(location) else sqlite_path(location)


def sqlite_path(location: str | Location) -> Path:
    """Read where a record lies that has to be a file.

    Raises
    ------
    InputError
        If it is a URL of anything but a SQLite file.
    """
    text = str(location)
    if text.startswith("sqlite:///"):
        text = text.removeprefix("sqlite:///")
    elif is_url(text):
        told = "this is for a record in a file; `move` brings one to a server, and back"
        raise InputError("station", text.split("@")[-1], told)
    elif "://" in text or not text.strip() or "\x00" in text or text == ":memory:":
        raise InputError("station", ascii(text), "give the path of the station's database file")
    if not Path(text).name or not _is_a_name(text):  # "." or "/", or half a character
        raise InputError("station", ascii(text), "give the path of the station's database file")
    return Path(text)


def _is_a_name(text: str) -> bool:
    """Tell whether the system can have a file of that name."""
    try:
        os.fsencode(text)
    except UnicodeEncodeError:
        return False
    return True


def check_there(path: Path) -> None:
    """Refuse a path where no file is.

    Raises
    ------
    InputError
        Saying what is there instead.
    """
    if path.is_dir() or not path.is_file():
        what = "a folder" if path.is_dir() else "not there"
        raise InputError(
            "station", str(path), f"it is {what}; give a station's file, or make one with `init`"
        )


def check_may_grow(path: Path) -> None:
    """Refuse to write to a copy that was put in place to be read, and whose restore is unsaid.

    Raises
    ------
    StorageError
        Saying how to go on.
    """
    if path.with_name(path.name + READING_TAIL).exists():
        raise StorageError(
            "this record was restored without the station's key file, to be read only; put the"
            " key file back and run `restore` with the same copy and --move-aside to go on",
            code="for-reading",
        )


def check_header(application: int, version: int, *, empty: bool) -> None:
    """Refuse a database that is not a station's record, or is from a later version.

    Raises
    ------
    RecordError
        Saying which.
    """
    if empty:
        raise RecordError("the file is empty: no station was founded in it; make one with `init`")
    if application != APPLICATION_ID:
        raise RecordError("the file is some other program's database, not a station's record")
    if version != VERSION:
        raise RecordError(
            f"the record has format {version}, this program knows format {VERSION};"
            " use the version of the program that wrote it, or a later one"
        )


def is_busy(error: BaseException) -> bool:
    """Tell whether the database failed only because somebody else had the record."""
    orig = getattr(error, "orig", error)
    return is_lock_timeout(orig) if said_by_server(orig) else "locked" in str(orig)


def explain(error: BaseException, outcome: str = "nothing was saved") -> RecordError:
    """Say in our words what the database says, and what became of what was asked."""
    orig = getattr(error, "orig", error)
    if said_by_server(orig):
        return explain_server(orig, outcome)
    text = str(orig)
    if "not a database" in text:
        return RecordError("the file is not a station's record: it is no SQLite database")
    if "malformed" in text:
        return RecordError(f"the database is damaged; {outcome}, verify it now")
    if is_busy(error):
        busy = f"another terminal kept the record busy; {outcome}, try again"
        return StorageError(busy, code="busy")
    if "full" in text:
        return StorageError(f"the disk is full; {outcome}, make room and try again")
    return StorageError(f"the disk or database failed ({text}); {outcome}")
