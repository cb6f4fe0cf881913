"""A file whose read models an earlier release made: read as it is, remade when written to."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from blender.errors import RecordError
from blender.record.glance import glance
from blender.record.journal import Record
from blender.record.verify import verify
from blender.station import book, search

GOLDEN = Path(__file__).parent / "golden" / "station-1.db"


@pytest.fixture(name="old")
def _old(tmp_path: Path) -> Path:
    shutil.copyfile(GOLDEN, tmp_path / "station.db")
    (tmp_path / "station.db").chmod(0o600)
    return tmp_path / "station.db"


def tables(path: Path) -> set[str]:
    raw = sqlite3.connect(path)
    found = {name for (name,) in raw.execute("SELECT name FROM sqlite_master")}
    raw.close()
    return found


def test_it_is_read_without_a_byte_being_changed(old: Path) -> None:
    before = old.read_bytes()
    with Record.open(old, readonly=True) as record:
        listed = book.fills(record)["fills"]
        assert listed
        assert book.story(record, listed[0]["fill"])["entries"]
        assert len(search.find(record, "")) == len(listed)
    assert glance(str(old)).station
    assert verify(old).ok
    assert old.read_bytes() == before


def test_it_is_remade_when_it_is_opened_to_be_written(old: Path) -> None:
    head = verify(old).head
    with Record.open(old, readonly=True) as record:
        before = book.fills(record)
    with Record.open(old) as record:
        assert book.fills(record) == before
    assert "fill_entry" in tables(old)
    report = verify(old)
    assert report.ok
    assert report.head == head


@pytest.mark.parametrize(
    "change",
    [
        "ALTER TABLE fill ADD COLUMN note TEXT",
        "DROP TABLE exception",
        "DROP TRIGGER entry_no_update",
        "CREATE TABLE extra (a)",
    ],
)
def test_one_that_was_tampered_with_is_no_earlier_release(old: Path, change: str) -> None:
    raw = sqlite3.connect(old)
    raw.execute(change)
    raw.commit()
    raw.close()
    assert not verify(old).ok
    with pytest.raises(RecordError, match="changed"):
        Record.open(old)


def test_a_row_altered_in_an_earlier_file_is_still_found(old: Path) -> None:
    raw = sqlite3.connect(old)
    raw.execute("UPDATE fill SET o2_ppm = o2_ppm + 1 WHERE fill = 1")
    raw.commit()
    raw.close()
    assert [p.kind for p in verify(old).problems] == ["read-model"]
