from __future__ import annotations

from typing import Any

import pytest

from blender.errors import StorageError
from blender.record import project
from blender.record.journal import Record
from blender.record.rebuild import Rebuilt, rebuild
from blender.record.verify import verify
from tests.record.raw import connect


def dump(book: Any) -> list[Any]:
    with book.record.read() as conn:
        return [
            conn.exec_driver_sql(f"SELECT * FROM {name}").all() for name in ("note", "customer")
        ]


def test_rebuilding_gives_the_same_tables_again(book: Any, tiny: Any) -> None:
    book.fill(25)
    book.accept("P-9", "Ada Brekke")
    before = dump(book)
    assert all(before)
    assert rebuild(book.record) == Rebuilt(26, {})
    assert dump(book) == before
    assert verify(book.path, project=tiny).ok


def test_a_rebuild_that_fails_changes_nothing(book: Any, tiny: Any) -> None:
    book.fill(8)
    before = dump(book)

    class Fails:
        TABLES = tiny.TABLES

        @staticmethod
        def apply(conn: Any, entry: Any, private: Any) -> None:
            if entry.seq == 5:
                raise RuntimeError

    book.record.projector = Fails
    with pytest.raises(RuntimeError):
        rebuild(book.record)
    assert dump(book) == before
    assert verify(book.path, project=tiny).ok


def test_a_reader_cannot_rebuild(book: Any, tiny: Any) -> None:
    with Record.open(book.path, readonly=True, project=tiny) as record, pytest.raises(StorageError):
        rebuild(record)


def test_the_stations_own_read_models_are_the_default(tmp_path: Any, now: Any, book: Any) -> None:
    with Record.found(
        tmp_path / "own.db", keys=book.keys, station="QUAY-3", data={"name": "Quay"}, at=now
    ) as record:
        assert record.projector is project
    assert verify(tmp_path / "own.db").problems == []


def test_it_says_what_was_not_as_the_journal_has_it(book: Any) -> None:
    book.fill(2500)
    raw = connect(book.path)
    raw.execute("UPDATE note SET text = 'x' WHERE seq = 9")
    raw.execute("DROP TABLE customer")
    raw.commit()
    raw.close()
    said: list[int] = []
    done = rebuild(book.record, said.append)
    assert done.changed == {"note": (2497, 2497), "customer": (-1, 0)}
    assert said == [1000, 2000]
    assert rebuild(book.record).changed == {}
