from __future__ import annotations

import sqlite3
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from blender.errors import InputError, KeyFileError, RecordError, StorageError
from blender.record.chain import digest, genesis
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.schema import ENTRY
from tests.record.raw import connect


def raw_entries(path: Path) -> list[tuple[Any, ...]]:
    raw = connect(path)
    rows = raw.execute("SELECT seq, prev, digest, body FROM entry ORDER BY seq").fetchall()
    raw.close()
    return rows


def test_entries_chain_from_the_stations_key(book: Any) -> None:
    book.fill(8)
    rows = raw_entries(book.path)
    assert [row[0] for row in rows] == list(range(1, 9))
    assert rows[0][1] == genesis("QUAY-2", 1, book.keys.public)
    for before, row in pairwise(rows):
        assert row[1] == before[2]
    assert all(digest(prev, body) == own for _, prev, own, body in rows)


def test_an_entry_reads_back_as_it_was_written(book: Any, now: Any) -> None:
    written = book.note("en \u00e5l\n", by=book.mira, meaning="authored", step="a/1")
    with book.record.read() as conn:
        row = conn.execute(select(ENTRY).where(ENTRY.c.seq == written.seq)).one()
    assert (row.body, row.prev, row.digest) == (written.body, written.prev, written.digest)
    assert written.data == {"text": "en \u00e5l\n"}
    assert (written.kind, written.person, written.step) == ("note", "P-1", "a/1")
    assert (written.at, written.incarnation) == (now, 1)
    assert written.sig is not None
    assert written.sig["name"] == "Mira Sund"
    assert written.seal is None
    assert book.record.head() == written.anchor


def test_a_repeated_step_enters_nothing_and_gives_the_first(book: Any) -> None:
    first = book.note("once", step="k1")
    again = book.note("once more", step="k1")
    assert not first.repeated
    assert again.repeated
    assert (again.seq, again.body) == (first.seq, first.body)
    assert book.record.head().seq == first.seq
    with pytest.raises(InputError, match="step"), book.record.write() as unit:
        unit.append("other", {}, at=first.at, step="k1")


def test_a_unit_is_saved_whole_or_not_at_all(book: Any, now: Any) -> None:
    head = book.record.head()
    with pytest.raises(RuntimeError), book.record.write() as unit:
        unit.append("note", {"text": "one"}, at=now)
        unit.put_private("p/1", "P-9", "name", {"name": "Ada"})
        raise RuntimeError
    assert book.record.head() == head
    with book.record.read() as conn:
        assert conn.exec_driver_sql("SELECT count(*) FROM private").scalar() == 0
        assert conn.exec_driver_sql("SELECT count(*) FROM note").scalar() == 0


def test_read_models_come_along_in_the_same_unit(book: Any, now: Any) -> None:
    with book.record.write() as unit:
        unit.append("note", {"text": "one"}, at=now)
        assert unit.conn.exec_driver_sql("SELECT text FROM note").scalar() == "one"


@pytest.mark.parametrize(
    ("kind", "data", "step"),
    [
        ("", {}, None),
        ("Note", {}, None),
        ("note;--", {}, None),
        ("n" * 60, {}, None),
        ("note", {"text": 0.5}, None),
        ("note", {"text": "\x1b"}, None),
        ("note", {"text": "x" * 70_000}, None),
        ("note", {"text": "a"}, ""),
        ("note", {"text": "a"}, "with blank"),
        ("note", {"text": "a"}, "x" * 81),
    ],
)
def test_what_has_no_canonical_form_is_not_entered(
    book: Any, now: Any, kind: str, data: dict[str, Any], step: str | None
) -> None:
    head = book.record.head()
    with pytest.raises(InputError), book.record.write() as unit:
        unit.append(kind, data, at=now, step=step)
    assert book.record.head() == head


def test_another_stations_keys_cannot_seal(book: Any, tmp_path: Path) -> None:
    other = StationKeys.create(tmp_path / "other.keys")
    with pytest.raises(KeyFileError, match="another station"):
        book.note("x", seal=other)


def test_private_rows_are_not_replaced_unasked(book: Any) -> None:
    with book.record.write() as unit:
        unit.put_private("p/1", "P-9", "name", {"name": "Ada"})
        unit.put_private("p/1", "P-9", "name", {"name": "Ada"})
        with pytest.raises(InputError, match="replaced"):
            unit.put_private("p/1", "P-9", "name", {"name": "Eva"})
        unit.put_private("p/1", "P-9", "name", {"name": "Eva"}, replace=True)
        assert unit.get_private("p/1") == {"name": "Eva"}
        assert unit.get_private("p/2") is None


@pytest.mark.file
def test_what_is_erased_is_nowhere_in_the_file(book: Any, now: Any) -> None:
    book.accept("P-9", "Quirinus Zebrafish")
    assert b"Zebrafish" in book.path.read_bytes()
    with book.record.write() as unit:
        unit.erase_person("P-9")
        unit.append("person.erased", {"person": "P-9"}, at=now, by=book.mira, meaning="erased")
    for left in book.path.parent.iterdir():
        assert b"Zebrafish" not in left.read_bytes()


@pytest.mark.parametrize("ident", ["", "quay", "QUAY 2", "Q" * 33, "QUAY\n", "KAJ-Å"])
def test_station_ids_are_capitals_digits_hyphens(
    tmp_path: Path, now: Any, tiny: Any, ident: str
) -> None:
    keys = StationKeys.create(tmp_path / "x.keys")
    with pytest.raises(InputError):
        Record.found(tmp_path / "x.db", keys=keys, station=ident, data={}, at=now, project=tiny)
    assert not (tmp_path / "x.db").exists()


def test_a_founding_that_fails_leaves_no_file(tmp_path: Path, now: Any, tiny: Any) -> None:
    def fails(unit: Any) -> None:
        raise RuntimeError

    keys = StationKeys.create(tmp_path / "x.keys")
    with pytest.raises(RuntimeError):
        Record.found(
            tmp_path / "x.db", keys=keys, station="A", data={}, at=now, writes=fails, project=tiny
        )
    assert [one.name for one in tmp_path.iterdir()] == ["x.keys"]


def test_a_restore_starts_the_next_incarnation(book: Any, now: Any) -> None:
    with book.record.write() as unit:
        unit.append("station.restored", {"from": "copy 7"}, at=now, seal=book.keys)
    assert book.record.incarnation == 2
    assert book.note("later").incarnation == 2


# -- opening what is no record -----------------------------------------------------------


def test_opening_tells_whose_record_it_is(book: Any, tiny: Any) -> None:
    with Record.open(book.path, project=tiny) as record:
        assert (record.station, record.incarnation) == ("QUAY-2", 1)
        assert record.public_key == book.keys.public


def empty(path: Path) -> None:
    path.touch()


def text(path: Path) -> None:
    path.write_text("a letter, not a database\n" * 100)


def foreign(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE entry (a)")
    raw.commit()
    raw.close()


def half(path: Path) -> None:
    foreign(path)
    path.write_bytes(path.read_bytes()[:700])


@pytest.mark.parametrize("make", [empty, text, foreign, half])
def test_files_that_are_no_record_are_refused(tmp_path: Path, tiny: Any, make: Any) -> None:
    make(tmp_path / "x.db")
    before = (tmp_path / "x.db").read_bytes()
    for readonly in (True, False):
        with pytest.raises(RecordError) as caught:
            Record.open(tmp_path / "x.db", readonly=readonly, project=tiny)
        assert "Traceback" not in caught.value.text
    assert (tmp_path / "x.db").read_bytes() == before


def test_no_file_and_a_folder_are_bad_input(tmp_path: Path) -> None:
    for place in (tmp_path, tmp_path / "missing.db"):
        with pytest.raises(InputError, match="init"):
            Record.open(place)
    assert not (tmp_path / "missing.db").exists()


@pytest.mark.file
def test_a_later_format_is_refused(book: Any, tiny: Any) -> None:
    raw = sqlite3.connect(book.path)
    raw.execute("PRAGMA user_version=2")
    raw.close()
    with pytest.raises(RecordError, match="format 2"):
        Record.open(book.path, project=tiny)


@pytest.mark.file
@pytest.mark.parametrize(
    "change",
    [
        "DROP TRIGGER entry_no_update",
        "DROP TRIGGER entry_no_delete",
        "DROP TRIGGER entry_no_replace",
        "DROP TRIGGER entry_in_order",
        "DROP INDEX private_person",
        "DROP TABLE note",
        "CREATE TRIGGER sly AFTER INSERT ON note BEGIN DELETE FROM customer; END",
        "CREATE VIEW sly AS SELECT 1",
        "ALTER TABLE note ADD COLUMN sly TEXT",
    ],
)
def test_changed_definitions_are_refused_at_start(book: Any, tiny: Any, change: str) -> None:
    raw = connect(book.path)
    raw.execute(change)
    raw.close()
    with pytest.raises(RecordError, match="verify") as caught:
        Record.open(book.path, project=tiny)
    assert caught.value.code == "schema"


def test_a_closed_record_saves_nothing_and_says_so(book: Any) -> None:
    book.record.close()
    with pytest.raises(StorageError, match="closed"):
        book.note("x")
    with pytest.raises(StorageError, match="closed"):
        book.record.head()
    book.record.close()
