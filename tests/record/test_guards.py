"""Anybody's connection, without our settings, is stopped from changing what was entered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.record.raw import connect, refusals

COLUMNS = "station, seq, body, prev, digest, step"


@pytest.fixture(name="raw")
def _raw(book: Any) -> Iterator[Any]:
    book.fill(10)
    raw = connect(book.path)
    yield raw
    raw.close()


def last(raw: Any) -> tuple[Any, ...]:
    found = raw.execute(f"SELECT {COLUMNS} FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
    return tuple(found)


NEW = b"n" * 32
ATTACKS = {
    "update body": "UPDATE entry SET body = x'7b7d' WHERE seq = 5",
    "update nothing": "UPDATE entry SET seq = seq",
    "update or replace": "UPDATE OR REPLACE entry SET seq = 6 WHERE seq = 5",
    "update or ignore": "UPDATE OR IGNORE entry SET step = 'x' WHERE seq = 5",
    "delete": "DELETE FROM entry WHERE seq = 10",
    "delete all": "DELETE FROM entry",
    "replace by seq": f"INSERT OR REPLACE INTO entry ({COLUMNS})"
    " SELECT station, seq, x'7b7d', zeroblob(32), randomblob(32), NULL FROM entry WHERE seq = 5",
    "replace by prev": f"INSERT OR REPLACE INTO entry ({COLUMNS})"
    " SELECT station, 11, x'7b7d', prev, randomblob(32), NULL FROM entry WHERE seq = 5",
    "replace by digest": f"INSERT OR REPLACE INTO entry ({COLUMNS})"
    " SELECT station, 11, x'7b7d', digest, digest, NULL FROM entry WHERE seq = 10",
    "replace by step": f"INSERT OR REPLACE INTO entry ({COLUMNS})"
    " SELECT station, 11, x'7b7d', digest, randomblob(32), 's5' FROM entry WHERE seq = 10",
    "replace all alike": f"REPLACE INTO entry ({COLUMNS}) SELECT {COLUMNS} FROM entry",
    "insert or ignore": f"INSERT OR IGNORE INTO entry ({COLUMNS})"
    " SELECT station, 11, x'7b7d', prev, randomblob(32), NULL FROM entry WHERE seq = 5",
    "upsert": f"INSERT INTO entry ({COLUMNS}) SELECT station, seq, x'7b7d', prev, digest, step"
    " FROM entry WHERE seq = 5 ON CONFLICT DO UPDATE SET body = excluded.body",
    "a gap": f"INSERT INTO entry ({COLUMNS})"
    " SELECT station, 12, x'7b7d', digest, randomblob(32), NULL FROM entry WHERE seq = 10",
    "a loose end": f"INSERT INTO entry ({COLUMNS})"
    " SELECT station, 11, x'7b7d', randomblob(32), randomblob(32), NULL FROM entry WHERE seq = 10",
    "text for bytes": f"INSERT INTO entry ({COLUMNS})"
    " SELECT station, 11, '{}', digest, randomblob(32), NULL FROM entry WHERE seq = 10",
    "short digest": f"INSERT INTO entry ({COLUMNS})"
    " SELECT station, 11, x'7b7d', digest, x'00', NULL FROM entry WHERE seq = 10",
    "seq zero": f"INSERT INTO entry ({COLUMNS})"
    " VALUES ('QUAY-2', 0, x'7b7d', zeroblob(32), randomblob(32), NULL)",
}


@pytest.mark.file
@pytest.mark.parametrize("attack", ATTACKS.values(), ids=ATTACKS.keys())
def test_a_foreign_connection_changes_nothing(book: Any, raw: Any, attack: str) -> None:
    before = raw.execute("SELECT * FROM entry").fetchall()
    with pytest.raises(refusals(book.path)):
        raw.execute(attack)
    raw.rollback()
    assert raw.execute("SELECT * FROM entry").fetchall() == before


def test_the_next_entry_is_let_in(raw: Any) -> None:
    """Control: the guards do not merely refuse everything."""
    station, seq, _, _, digest, _ = last(raw)
    new = (station, seq + 1, b"{}", digest, NEW, None)
    raw.execute(f"INSERT INTO entry ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)", new)
    assert last(raw) == new


@pytest.mark.file
def test_without_the_guards_the_attacks_succeed(raw: Any) -> None:
    """Control: it is the guards that stop them."""
    for name in ("update", "delete", "replace"):
        raw.execute(f"DROP TRIGGER entry_no_{name}")
    raw.execute("DROP TRIGGER entry_in_order")
    for name in ("update body", "replace by seq", "replace by prev", "replace by step"):
        before = raw.execute("SELECT * FROM entry").fetchall()
        raw.execute(ATTACKS[name])
        assert raw.execute("SELECT * FROM entry").fetchall() != before
