"""Anybody's connection to a record, without our settings, on either engine.

What a test says is spelled for SQLite; what PostgreSQL spells otherwise is put in its words.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from blender.record.server import Server
from tests import server

_SPELLED = (
    (r"\?", "%s"),
    (r"x'([0-9a-f]*)'", r"'\\x\1'::bytea"),
    (r"randomblob\(32\)", "sha256(random()::text::bytea)"),
    (r"CAST\('\{\}' AS BLOB\)", "CAST('{}' AS bytea)"),
    (r"zeroblob\(32\)", "decode(repeat('00', 32), 'hex')"),
    (r"CAST\(replace\(content, ('\w+'), ('\w+')\) AS BLOB\)",
     r"convert_to(replace(convert_from(content, 'UTF8'), \1, \2), 'UTF8')"),
)  # fmt: skip


class OnServer:
    """A server's connection that reads questions spelled for SQLite."""

    def __init__(self, place: Server) -> None:
        self._raw = server.plain(place)
        self._raw.autocommit = False

    def execute(self, question: str, values: Any = ()) -> Any:
        for ours, theirs in _SPELLED:
            question = re.sub(ours, theirs, question)
        return self._raw.execute(question, values)

    def commit(self) -> None:
        self._raw.commit()

    def rollback(self) -> None:
        self._raw.rollback()

    def close(self) -> None:
        self._raw.commit()
        self._raw.close()


def connect(place: Any) -> Any:
    """Open a record by the driver alone."""
    return OnServer(place) if isinstance(place, Server) else sqlite3.connect(place)


def refusals(place: Any) -> Any:
    """What a guard's refusal is on this engine."""
    if not isinstance(place, Server):
        return sqlite3.IntegrityError
    import psycopg

    return psycopg.IntegrityError


@contextmanager
def unguarded(place: Any) -> Iterator[Any]:
    """Change a record behind its guards, and put them back word for word."""
    raw = connect(place)
    guards = _lifted(raw, place)
    yield raw
    for text in guards:
        raw.execute(text)
    raw.commit()
    raw.close()


def _lifted(raw: Any, place: Path | Server) -> list[str]:
    """Lift the guards; return what puts them back."""
    if isinstance(place, Server):
        rows = raw.execute(
            "SELECT tgname FROM pg_trigger WHERE tgrelid = 'entry'::regclass AND NOT tgisinternal"
        ).fetchall()
        raw.execute("ALTER TABLE entry DISABLE TRIGGER USER")
        return [f"ALTER TABLE entry ENABLE ALWAYS TRIGGER {name}" for (name,) in rows]
    guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        raw.execute(f"DROP TRIGGER {name}")
    return [text for _, text in guards]
