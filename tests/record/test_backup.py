"""A copy is whole, private and proved; a restore admits no other, and says what it lost."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from blender.errors import FillwrightError, InputError, RecordError, StorageError
from blender.record import backup as backing
from blender.record.backup import copies_in, copy_record, drop_oldest, file_digest
from blender.record.files import mark
from blender.record.journal import Record
from blender.record.place import READING_TAIL
from blender.record.restore import admitted, digest_beside, is_taken, move_aside, newest_in, put
from blender.record.verify import verify


@pytest.fixture(name="copy")
def _copy(book: Any, tiny: Any, tmp_path: Path, now: Any) -> backing.Copy:
    book.fill(30)
    book.accept("P-9", "Ada Brekke")
    return copy_record(book.path, tmp_path / "copies", now, project=tiny)


def test_a_copy_is_the_record_as_it_was(book: Any, tiny: Any, copy: backing.Copy) -> None:
    assert copy.anchor == book.record.head()
    book.note("after it")
    report = verify(copy.path, copy.anchor, project=tiny)
    assert (report.ok, report.entries) == (True, copy.anchor.seq)
    assert copy.path.name == "QUAY-2-00000031-20251124T160000Z.copy.db"


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX")
def test_only_its_owner_can_read_it(copy: backing.Copy) -> None:
    assert stat.S_IMODE(copy.path.parent.stat().st_mode) == 0o700
    assert {stat.S_IMODE(one.stat().st_mode) for one in copy.path.parent.iterdir()} == {0o600}
    assert len(list(copy.path.parent.iterdir())) == 2  # nothing half made stays


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs coreutils' sha256sum")
def test_its_digest_is_checked_by_the_usual_command(copy: backing.Copy) -> None:
    beside = f"{copy.path.name}.sha256"
    said = subprocess.run(
        ["sha256sum", "-c", beside], cwd=copy.path.parent, capture_output=True, check=False
    )
    assert said.returncode == 0
    copy.path.write_bytes(copy.path.read_bytes() + b"x")
    said = subprocess.run(
        ["sha256sum", "-c", beside], cwd=copy.path.parent, capture_output=True, check=False
    )
    assert said.returncode == 1


def test_what_was_erased_is_not_in_a_copy(
    book: Any, tiny: Any, tmp_path: Path, now: Any, copy: backing.Copy
) -> None:
    assert b"Ada Brekke" in copy.path.read_bytes()
    with book.record.write() as unit:
        unit.erase_person("P-9")
        data = {"person": "P-9"}
        unit.append("person.erased", data, at=now, by=book.mira, meaning="erased", seal=book.keys)
    later = copy_record(book.path, tmp_path / "later", now, project=tiny)
    assert b"Ada Brekke" not in later.path.read_bytes()


@pytest.mark.file
def test_a_copy_that_does_not_verify_is_not_kept(
    book: Any, tiny: Any, tmp_path: Path, now: Any
) -> None:
    raw = sqlite3.connect(book.path)
    raw.execute("DROP TRIGGER entry_no_update")
    raw.execute("UPDATE entry SET body = ? WHERE seq = 2", [b"{}"])
    raw.commit()
    raw.close()
    with pytest.raises(RecordError, match="damaged or altered"):
        copy_record(book.path, tmp_path / "copies", now, project=tiny)
    assert list((tmp_path / "copies").iterdir()) == []


def test_writers_go_on_while_a_copy_is_made(
    book: Any, tiny: Any, tmp_path: Path, now: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An entry made between the copying and the verifying is simply not in it."""
    book.fill(10)
    whole = backing.verify

    def meanwhile(*given: Any, **more: Any) -> Any:
        book.note("meanwhile")
        return whole(*given, **more)

    monkeypatch.setattr(backing, "verify", meanwhile)
    copy = copy_record(book.path, tmp_path / "copies", now, project=tiny)
    assert (copy.anchor.seq, book.record.head().seq) == (10, 11)


def test_no_room_is_said_before_anything_is_written(
    book: Any, tmp_path: Path, now: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("blender.record.disk.free_bytes", lambda _: 1000)
    with pytest.raises(InputError, match="make room"):
        copy_record(book.path, tmp_path / "copies", now)
    assert list((tmp_path / "copies").iterdir()) == []


def test_only_the_newest_copies_are_kept(book: Any, tiny: Any, tmp_path: Path, now: Any) -> None:
    folder = tmp_path / "copies"
    made = []
    for number in range(4):
        book.note(f"{number}")
        made.append(copy_record(book.path, folder, now, project=tiny).path)
        os.utime(made[-1], (number, number))
    (folder / "OTHER-1-00000001-20251124T160000Z.copy.db").touch()
    digests = [file_digest(path) for path in made[:2]]
    assert drop_oldest(folder, "QUAY-2", 2) == list(zip(made[:2], digests, strict=True))
    assert copies_in(folder, "QUAY-2") == made[2:]
    assert len(list(folder.iterdir())) == 5


# -- admitting ---------------------------------------------------------------------------


def restored(copy: Path, place: Path, tiny: Any) -> None:
    with admitted(copy, place, digest_beside(copy), project=tiny) as candidate:
        put(candidate, place)


def test_a_copy_is_restored_bit_for_bit(copy: backing.Copy, tmp_path: Path, tiny: Any) -> None:
    place = tmp_path / "new" / "station.db"
    place.parent.mkdir()
    assert newest_in(copy.path.parent) == copy.path
    restored(copy.path, place, tiny)
    assert place.read_bytes() == copy.path.read_bytes()
    assert [one.name for one in place.parent.iterdir()] == ["station.db"]


def test_every_changed_bit_of_a_copy_is_found_by_its_digest(
    copy: backing.Copy, tmp_path: Path, tiny: Any
) -> None:
    whole, place = copy.path.read_bytes(), tmp_path / "station.new"
    for at in range(0, 8 * len(whole), 8 * len(whole) // 40):
        changed = bytearray(whole)
        changed[at // 8] ^= 1 << at % 8
        copy.path.write_bytes(changed)
        with pytest.raises(InputError, match="digest"):
            restored(copy.path, place, tiny)
    assert not list(tmp_path.glob("*station.new*"))


def bomb(path: Path) -> None:
    """A view where a read table belongs, as a hostile schema has it."""
    raw = sqlite3.connect(path)
    raw.execute("DROP TABLE note")
    raw.execute("CREATE VIEW note AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x FROM n)"
                " SELECT x AS seq, x AS text, x AS person FROM n")  # fmt: skip
    raw.commit()
    raw.close()


def extra_trigger(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("CREATE TRIGGER late AFTER INSERT ON note BEGIN DELETE FROM customer; END")
    raw.commit()
    raw.close()


def other_database(path: Path) -> None:
    path.unlink()
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE entry (x)")
    raw.commit()
    raw.close()


def cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-4096])


def no_database(path: Path) -> None:
    path.write_bytes(b"\x00" * 5000)


def too_small(path: Path) -> None:
    path.write_bytes(b"SQLite format 3\x00")


@pytest.mark.parametrize(
    "spoil", [bomb, extra_trigger, other_database, cut_short, no_database, too_small]
)
def test_a_strangers_file_is_not_admitted(
    copy: backing.Copy, tmp_path: Path, tiny: Any, spoil: Any
) -> None:
    """With a digest that fits it, as a stranger would give it."""
    spoil(copy.path)
    place = tmp_path / "station.new"
    fits = file_digest(copy.path)
    with (
        pytest.raises((RecordError, InputError)),
        admitted(copy.path, place, fits, project=tiny),
    ):
        pass
    assert not list(tmp_path.glob("*station.new*"))


def test_a_folder_a_missing_file_and_a_false_digest_are_refused(
    copy: backing.Copy, tmp_path: Path
) -> None:
    for source in (tmp_path, tmp_path / "nowhere.db"):
        with pytest.raises(InputError), admitted(source, tmp_path / "x.db", None):
            pass
    copy.path.with_name(copy.path.name + ".sha256").write_text("no digest\n")
    with pytest.raises(InputError, match="64 hex"):
        digest_beside(copy.path)
    with pytest.raises(InputError, match="no copy"):
        newest_in(tmp_path)


# -- in its place ------------------------------------------------------------------------


@pytest.mark.file
def test_nothing_is_ever_overwritten(book: Any, copy: backing.Copy, tiny: Any) -> None:
    before = book.path.read_bytes()
    with pytest.raises(InputError, match="never overwritten"):
        restored(copy.path, book.path, tiny)
    assert book.path.read_bytes() == before


def test_a_journal_left_there_is_in_the_way_too(tmp_path: Path, tiny: Any, copy: Any) -> None:
    """It would be played into the new file."""
    place = tmp_path / "station.new"
    stale = place.with_name(place.name + "-journal")
    stale.write_bytes(b"stale")
    with pytest.raises(InputError, match="never overwritten"):
        restored(copy.path, place, tiny)
    move_aside(place, tmp_path / "aside")
    assert not is_taken(place)
    restored(copy.path, place, tiny)
    assert (tmp_path / "aside" / stale.name).read_bytes() == b"stale"


@pytest.mark.file
def test_a_record_at_work_is_not_moved_aside(book: Any, tmp_path: Path) -> None:
    other = sqlite3.connect(book.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StorageError, match="busy"):
        move_aside(book.path, tmp_path / "aside")
    other.execute("ROLLBACK")
    other.close()
    assert book.path.exists()
    move_aside(book.path, tmp_path / "aside")
    assert (tmp_path / "aside" / book.path.name).exists()


@pytest.mark.file
def test_nothing_is_written_to_a_record_that_was_moved_aside(book: Any, tmp_path: Path) -> None:
    """Between a writer's opening of the file and its lock, a restore takes its place."""

    def late(*_: Any) -> None:
        if not (tmp_path / "aside").exists():
            move_aside(book.path, tmp_path / "aside")
            shutil.copyfile(tmp_path / "aside" / book.path.name, book.path)

    event.listen(book.record._open_engine(), "engine_connect", late)
    with pytest.raises(StorageError, match="meanwhile"):
        book.note("to the wrong file")
    assert book.note("again").seq == 4


@pytest.mark.file
def test_a_kept_connection_is_not_used_on_another_file(book: Any, tmp_path: Path) -> None:
    """What reads and what writes sees the file in its path, also where one was put there since."""
    before = book.note("kept").anchor
    move_aside(book.path, tmp_path / "aside")
    with pytest.raises(FillwrightError):
        book.record.head()
    with pytest.raises(FillwrightError):
        book.note("nowhere")
    shutil.copyfile(tmp_path / "aside" / book.path.name, book.path)
    assert book.record.head() == before
    assert book.note("in the new one").seq == before.seq + 1
    with sqlite3.connect(tmp_path / "aside" / book.path.name) as old:
        assert old.execute("SELECT max(seq) FROM entry").fetchone() == (before.seq,)
    old.close()


@pytest.mark.file
def test_a_record_restored_to_be_read_takes_no_entry(book: Any, tiny: Any) -> None:
    mark(book.path.with_name(book.path.name + READING_TAIL), "restored")
    with pytest.raises(StorageError, match="read only") as caught:
        Record.open(book.path, project=tiny)
    assert caught.value.code == "for-reading"
    with Record.open(book.path, readonly=True, project=tiny) as record:
        assert record.head()


@pytest.mark.file
def test_a_label_of_each_life_of_a_record(book: Any, tiny: Any, now: Any, tmp_path: Path) -> None:
    """Kept, lost with the first restore, lost with the second; a forged one of none."""
    book.fill(10)
    old = book.path.read_bytes()
    kept = book.record.head()
    first = [book.note("lost first").anchor for _ in range(4)]

    def back(replaced: Any) -> Any:
        book.path.write_bytes(old)
        data = {"replaced_incarnation": replaced.incarnation}
        with book.record.write() as unit:
            return unit.append("station.restored", data, at=now, seal=book.keys)

    assert back(first[-1]).incarnation == 2
    second = [book.note("lost second").anchor for _ in range(2)]
    assert back(second[-1]).incarnation == 3
    here = book.note("there").anchor
    assert verify(book.path, project=tiny).ok

    def said(anchor: Any) -> str:
        return " ".join(one.text for one in verify(book.path, anchor, project=tiny).problems)

    assert (said(kept), said(here)) == ("", "")
    for lost in (*first, *second):
        assert "lost with the restore" in said(lost)
    forged = type(kept)(kept.station, 1, kept.seq - 1, kept.head)
    assert "rewritten" in said(forged)
