"""Every single-bit change of what is stored is found, and the place named."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from blender.record import dialect, schema
from blender.record.snapshot import look
from blender.record.verify import stored, verify
from blender.record.walk import Stored, Walk, link_problem

ENTRIES = 200


def flipped(value: bytes, bit: int) -> bytes:
    changed = bytearray(value)
    changed[bit // 8] ^= 1 << bit % 8
    return bytes(changed)


def rows_of(path: Path) -> list[Stored]:
    with look(path) as engine, engine.connect() as conn:
        return list(stored(conn))


def test_every_bit_of_every_body_and_digest_counts(book: Any) -> None:
    """The whole of a 200-entry record, through the check that verify makes of each entry."""
    book.fill(ENTRIES)
    rows = rows_of(book.path)
    assert len(rows) == ENTRIES
    tried = 0
    before: bytes | None = None
    for row in rows:
        assert link_problem(row, before) is None  # control: unchanged it passes
        for name in ("body", "prev", "digest"):
            value = getattr(row, name)
            for bit in range(8 * len(value)):
                problem = link_problem(row._replace(**{name: flipped(value, bit)}), before)
                assert problem is not None and (problem.seq, problem.kind) == (row.seq, "chain")
            tried += 8 * len(value)
        before = row.digest
    assert tried > 500_000


def test_every_bit_of_the_columns_beside_the_body_counts(book: Any) -> None:
    book.fill(12)
    rows = rows_of(book.path)
    for at, name in ((4, "station"), (5, "step"), (9, "step"), (11, "station")):
        value = getattr(rows[at], name)
        for bit in range(7 * len(value)):
            other = list(value)
            other[bit // 7] = chr(ord(other[bit // 7]) ^ 1 << bit % 7)
            problems = walked(
                [*rows[:at], rows[at]._replace(**{name: "".join(other)}), *rows[at + 1 :]]
            )
            assert rows[at].seq in [one.seq for one in problems]
    for bit in range(62):
        changed = rows[5]._replace(seq=rows[5].seq ^ 1 << bit)
        problems = walked(sorted([*rows[:5], changed, *rows[6:]], key=lambda row: row.seq))
        assert {one.kind for one in problems} & {"gap", "body", "chain"}


def walked(rows: list[Stored]) -> list[Any]:
    walk = Walk()
    for row in rows:
        walk.take(row)
    return walk.problems


@pytest.mark.file
def test_flips_in_the_file_itself_are_named_by_verify(book: Any, tiny: Any) -> None:
    """A sample of the same flips, stored in the file behind the guards."""
    book.fill(30)
    draw = random.Random(7)
    raw = sqlite3.connect(book.path)
    guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for _ in range(25):
        seq, name = draw.randint(1, 30), draw.choice(["body", "prev", "digest"])
        query = f"SELECT {name} FROM entry WHERE seq = ?"
        value = raw.execute(query, [seq]).fetchone()[0]
        other = flipped(value, draw.randrange(8 * len(value)))
        for one, _text in guards:
            raw.execute(f"DROP TRIGGER {one}")
        change = f"UPDATE entry SET {name} = ? WHERE seq = ?"
        raw.execute(change, [other, seq])
        raw.commit()
        for _one, text in guards:
            raw.execute(text)
        raw.commit()
        found = verify(book.path, project=tiny).problems
        assert (seq, "chain") in [(one.seq, one.kind) for one in found]
        assert {one.kind for one in found} <= {
            "chain",
            "genesis",
            "body",
            "signature",
            "seal",
            "read-model",
        }
        for one, _text in guards:
            raw.execute(f"DROP TRIGGER {one}")
        raw.execute(change, [value, seq])
        for _one, text in guards:
            raw.execute(text)
        raw.commit()
    raw.close()
    assert verify(book.path, project=tiny).ok


@pytest.mark.file
def test_every_bit_of_a_blank_in_a_definition_counts(book: Any, tiny: Any) -> None:
    """Blanks are read alike, and none is one bit from another; a vertical tab is no such blank."""
    with look(book.path) as engine, engine.connect() as conn:
        found = schema.definitions(conn)
        rows = conn.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master").all()
    assert found == schema.expected(tiny.TABLES)
    tried = 0
    for row in rows:
        for at, char in enumerate(row.sql or ""):
            if not char.isspace():
                continue
            for bit in range(8):
                sql = row.sql[:at] + chr(ord(char) ^ 1 << bit) + row.sql[at + 1 :]
                other = SimpleNamespace(tbl_name=row.tbl_name, sql=sql)
                assert dialect._text(other) != found[row.type, row.name]
                tried += 1
    assert tried > 500


def what_is_read(path: Path) -> Any:
    """All that the file says: its rows and its definitions."""
    raw = sqlite3.connect(path)
    try:
        tables = ("entry", "private", "note", "customer")
        return [raw.execute(f"SELECT * FROM {name}").fetchall() for name in tables] + [
            raw.execute("SELECT * FROM sqlite_master").fetchall()
        ]
    except (sqlite3.Error, UnicodeDecodeError) as error:
        return str(error)
    finally:
        raw.close()


def flip_file(book: Any, tiny: Any, flips: int) -> int:
    """Flip single bits anywhere in the file; each is found, or changes nothing that is read.

    Two changes are none of the record: of a private row no entry commits to, and of a
    blank in a definition for another.  Neither occurs here: the only private rows are committed
    to, and no blank is one bit from another.
    """
    book.fill(12)
    book.accept("P-9", "Ada Brekke")
    book.record.close()
    whole, sound = book.path.read_bytes(), what_is_read(book.path)
    draw, found = random.Random(3), 0
    for _ in range(flips):
        book.path.write_bytes(flipped(whole, draw.randrange(8 * len(whole))))
        if verify(book.path, project=tiny).ok:
            assert what_is_read(book.path) == sound
        else:
            found += 1
    return found


@pytest.mark.file
def test_flips_anywhere_in_the_file_are_found_or_change_nothing(book: Any, tiny: Any) -> None:
    assert flip_file(book, tiny, 60) > 2


@pytest.mark.soak
def test_many_flips_anywhere_in_the_file(
    book: Any, tiny: Any, figures: Callable[..., None]
) -> None:
    found = flip_file(book, tiny, 20_000)
    assert found > 2000
    figures("bit flips in a file", tried=20_000, found=found, unseen=0)
