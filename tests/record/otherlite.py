"""Another SQLite as the record's own: apsw's, which can work on a disk made in Python."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any

import apsw

_ERRORS: tuple[tuple[type[Exception], type[sqlite3.Error], str], ...] = (
    (apsw.FullError, sqlite3.OperationalError, "database or disk is full"),
    (apsw.BusyError, sqlite3.OperationalError, "database is locked"),
    (apsw.ConstraintError, sqlite3.IntegrityError, "constraint failed"),
    (apsw.CorruptError, sqlite3.DatabaseError, "database disk image is malformed"),
    (apsw.NotADBError, sqlite3.DatabaseError, "file is not a database"),
    (apsw.IOError, sqlite3.OperationalError, "disk I/O error"),
    (apsw.Error, sqlite3.OperationalError, "failed"),
)


def _as_sqlite3(error: apsw.Error) -> sqlite3.Error:
    for theirs, ours, text in _ERRORS:
        if isinstance(error, theirs):
            made = ours(f"{text}: {error}")
            made.sqlite_errorcode = getattr(error, "extendedresult", 0)
            return made
    raise AssertionError(error)


class Cursor:
    """A cursor as PEP 249 has it."""

    arraysize = 1
    rowcount = -1
    lastrowid = None

    def __init__(self, conn: apsw.Connection) -> None:
        self._conn = conn
        self._rows: list[Any] = []
        self.description: Any = None

    def execute(self, text: str, given: Sequence[Any] = ()) -> Cursor:
        cursor, seen = self._conn.cursor(), []

        def trace(one: apsw.Cursor, *_: Any) -> bool:
            seen[:] = [one.get_description()]
            return True

        cursor.exec_trace = trace
        try:
            self._rows = list(cursor.execute(text, tuple(given)))
        except apsw.Error as error:
            raise _as_sqlite3(error) from error
        names = seen[0] if seen else ()
        self.description = [(name, *[None] * 6) for name, _ in names] or None
        self.rowcount = self._conn.changes() if not names else -1
        return self

    def executemany(self, text: str, many: Sequence[Sequence[Any]]) -> Cursor:
        for given in many:
            self.execute(text, given)
        return self

    def fetchone(self) -> Any:
        return self._rows.pop(0) if self._rows else None

    def fetchmany(self, size: int = 1) -> list[Any]:
        found, self._rows = self._rows[:size], self._rows[size:]
        return found

    def fetchall(self) -> list[Any]:
        found, self._rows = self._rows, []
        return found

    def close(self) -> None:
        self._rows = []


class Connection:
    """A connection as `sqlite3` has it, as far as the record asks."""

    isolation_level = None
    was_used = False
    file_id: Any = None

    def __init__(self, path: str) -> None:
        flags = apsw.SQLITE_OPEN_READWRITE | apsw.SQLITE_OPEN_CREATE
        try:
            self._conn = apsw.Connection(path, flags=flags, vfs="faulty")
        except apsw.Error as error:
            raise _as_sqlite3(error) from error

    def cursor(self, *_: Any) -> Cursor:
        return Cursor(self._conn)

    def execute(self, text: str, given: Sequence[Any] = ()) -> Cursor:
        return self.cursor().execute(text, given)

    def create_function(self, *_: Any, **__: Any) -> None:
        pass

    def commit(self) -> None:
        if self._conn.in_transaction:
            self.execute("COMMIT")

    def rollback(self) -> None:
        if self._conn.in_transaction:
            self.execute("ROLLBACK")

    def close(self) -> None:
        try:
            self._conn.close(True)
        except apsw.Error as error:
            raise _as_sqlite3(error) from error
