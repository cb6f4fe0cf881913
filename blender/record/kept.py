"""What a connection was answered stands until somebody writes to the table it was about.

Within an act the same rows are asked for by many gates, and from one act to the next rules,
people and gear stay as they are.  An answer is given again only while it cannot have changed:
what this connection itself writes is seen as it is written, and at the start of every transaction
the database says whether anybody else wrote meanwhile (SQLite's ``data_version``, read with the
transaction's own view of the file).  Where it cannot say so, as on a server, nothing outlives the
transaction.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

from sqlalchemy import Connection, Engine, event

Answer = TypeVar("Answer")
_MOST = 500  # answers of one table: keys of people and cylinders are asked for one by one
_KEY = "kept"
_READS = ("SELECT", "BEGIN", "PRAGMA")


class Kept:
    """The answers of one connection; it is used by one thread at a time."""

    def __init__(self) -> None:
        self._answers: dict[str, dict[Hashable, Any]] = {}
        self._written: set[str] = set()
        self._state: object = None

    def begin(self, state: object) -> None:
        """Start a transaction: forget what may have changed since the one before.

        `state` changes whenever another connection wrote; None where that cannot be told.  What
        the transaction before wrote may have been undone, so its tables are asked anew.
        """
        if state is None or state != self._state:
            self._answers.clear()
        for table in self._written:
            self._answers.pop(table, None)
        self._written.clear()
        self._state = state

    def wrote(self, table: str) -> None:
        """Forget every answer about a table that was written to."""
        self._answers.pop(table, None)
        self._written.add(table)

    def forget(self) -> None:
        """Forget all: something was done of which nobody knows what it changed."""
        self._answers.clear()
        self._state = None

    def once(self, table: str, key: Hashable, ask: Callable[[], Answer]) -> Answer:
        """Return the answer to a question about a table, asked only if it was not before."""
        answers = self._answers.setdefault(table, {})
        if key in answers:
            known: Answer = answers[key]
            return known
        if len(answers) >= _MOST:
            answers.clear()
        answers[key] = found = ask()
        return found


def keep_answers(engine: Engine, state: Callable[[Connection], object]) -> None:
    """Let an engine's connections keep their answers.

    Parameters
    ----------
    engine : Engine
        Whose; its own listeners begin the transaction before this one is told.
    state : callable
        Asks a connection, in its transaction, for what changes with every write of another.
    """

    def begin(conn: Connection) -> None:
        conn.info.setdefault(_KEY, Kept()).begin(state(conn))

    event.listen(engine, "begin", begin)
    event.listen(engine, "before_cursor_execute", _see)


def _see(conn: Connection, _: Any, statement: str, __: Any, context: Any, ___: bool) -> None:
    """See which table a statement writes to; where that cannot be seen, all is forgotten."""
    if statement.startswith(_READS):
        return
    compiled = context.compiled if context is not None else None
    table = getattr(compiled.statement, "table", None) if compiled is not None else None
    if table is not None:
        wrote(conn, table.name)
    elif (kept := conn.info.get(_KEY)) is not None:
        kept.forget()


def wrote(conn: Connection, table: str) -> None:
    """Say that a table was written to past SQLAlchemy."""
    kept: Kept | None = conn.info.get(_KEY)
    if kept is not None:
        kept.wrote(table)


def once(conn: Connection, table: str, key: Hashable, ask: Callable[[], Answer]) -> Answer:
    """Return the answer to a question about one table, asked only where it may be another now.

    Parameters
    ----------
    conn : Connection
        The transaction's.
    table : str
        The one table the answer depends on.
    key : hashable
        Which question about it, with its values; the asker's own words first.
    ask : callable
        Asks.  What it returns is given to others too: nobody may change it.
    """
    kept: Kept | None = conn.info.get(_KEY)
    return ask() if kept is None else kept.once(table, key, ask)
