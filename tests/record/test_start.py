"""A start verifies what came after the last checkpoint, and says which entry is damaged."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from blender.errors import RecordError, StorageError
from blender.record import checkpoint, start
from blender.record.checkpoint import load, path_of
from blender.record.keys import StationKeys
from blender.record.read import entry
from blender.record.start import check_start
from blender.record.verify import verify
from tests.record.conftest import moment
from tests.record.raw import unguarded
from tests.record.test_verify import body_of, put_body, rechain


@pytest.fixture(name="verified")
def _verified(book: Any) -> Any:
    book.fill(150)
    found = check_start(book.record, book.keys)
    assert (found.after, found.seq, found.is_whole) == (0, 150, True)
    return book


def test_the_next_start_goes_on_from_there(verified: Any) -> None:
    verified.fill(170)
    found = check_start(verified.record, verified.keys)
    assert (found.after, found.seq) == (150, 170)


def alter(book: Any, seq: int, *, chain: bool) -> None:
    with unguarded(book.path) as raw:
        put_body(raw, seq, body_of(raw, seq) | {"data": {"text": "another story"}})
        if chain:
            rechain(raw, seq)


def test_damage_after_the_checkpoint_names_its_entry(verified: Any) -> None:
    verified.fill(170)
    alter(verified, 160, chain=False)
    with pytest.raises(RecordError, match="entry 160") as caught:
        check_start(verified.record, verified.keys)
    assert (caught.value.exit_code, caught.value.code) == (4, "damaged")
    assert "restore" in caught.value.text


def test_a_record_rewritten_before_the_checkpoint_is_found(verified: Any) -> None:
    alter(verified, 20, chain=True)
    with pytest.raises(RecordError, match="entry 150"):
        check_start(verified.record, verified.keys)


def test_a_record_cut_short_or_put_back_is_found_without_any_label(verified: Any) -> None:
    """What a chain alone cannot find."""
    with unguarded(verified.path) as raw:
        raw.execute("DELETE FROM entry WHERE seq > 140")
    assert not [one for one in verify(verified.path).problems if one.kind == "chain"]
    with pytest.raises(RecordError, match="older copy"):
        check_start(verified.record, verified.keys)


def test_a_signature_is_checked_after_the_checkpoint_too(verified: Any) -> None:
    verified.fill(153)
    with unguarded(verified.path) as raw:
        content = body_of(raw, 152)
        content["sig"]["value"] = "00" * 64
        put_body(raw, 152, content)
        rechain(raw, 152)
    with pytest.raises(RecordError, match="entry 152: signature"):
        check_start(verified.record, verified.keys)


def test_a_tamperer_gains_nothing_by_the_checkpoint(verified: Any, tmp_path: Path) -> None:
    """Deleted, damaged, or made with another key, it counts for nothing: all is verified."""
    place, public = path_of(verified.record.beside), verified.keys.public
    mine, known = place.read_bytes(), load(verified.record.beside, public)
    assert known is not None
    stranger = StationKeys.create(tmp_path / "stranger.keys")
    checkpoint.keep(verified.record.beside, known, stranger)
    assert load(verified.record.beside, public) is None
    for at in range(0, len(mine), 7):
        place.write_bytes(mine[:at] + bytes([mine[at] ^ 1]) + mine[at + 1 :])
        assert load(verified.record.beside, public) in (
            None,
            known,
        )  # a changed letter of hex, or nothing
    place.write_text("[]")
    assert load(verified.record.beside, public) is None
    place.unlink()
    alter(verified, 20, chain=True)
    with pytest.raises(RecordError, match="entry 20: signature"):
        check_start(verified.record, verified.keys)


def test_a_rewritten_body_is_found_at_the_start_without_a_checkpoint(verified: Any) -> None:
    path_of(verified.record.beside).unlink()
    alter(verified, 20, chain=False)
    with pytest.raises(RecordError, match="entry 20"):
        check_start(verified.record, verified.keys)


def test_a_long_record_nobody_verified_is_looked_at_from_its_end(
    book: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(start, "UNSEEN", 50)
    book.fill(120)
    found = check_start(book.record, book.keys)
    assert (found.after, found.is_whole) == (70, False)
    assert not path_of(book.record.beside).exists()
    alter(book, 100, chain=False)
    with pytest.raises(RecordError, match="entry 100"):
        check_start(book.record, book.keys)


@pytest.mark.file
def test_a_busy_record_is_not_called_damaged(
    book: Any, tiny: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("blender.record.engine.BUSY_MS", 20)
    other = sqlite3.connect(book.path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(StorageError) as caught:
        verify(book.path, project=tiny)
    assert caught.value.code == "busy"
    other.execute("ROLLBACK")
    other.close()
    assert verify(book.path, project=tiny).ok


def test_a_clock_set_back_is_entered_and_order_is_kept(book: Any, tiny: Any) -> None:
    def note(at: Any) -> Any:
        with book.record.write() as unit:
            return unit.append("note", {"text": "x"}, at=at)

    assert note(moment(7200)).seq == 4
    assert note(moment(7190)).seq == 5  # ten seconds: the system's own doing
    assert note(moment(60)).seq == 7
    assert note(moment(61)).seq == 8
    assert note(moment(10**9)).seq == 9
    with book.record.read() as conn:
        found = [book_entry(conn, seq) for seq in (6, 7)]
    assert [one.kind for one in found] == ["clock.stepped", "note"]
    assert found[0].data == {"was_us": moment(7190).us}
    assert found[0].at == moment(60)
    assert verify(book.path, project=tiny).ok


def book_entry(conn: Any, seq: int) -> Any:
    return entry(conn, "QUAY-2", seq)


@pytest.mark.file
def test_a_copy_of_the_old_file_put_back_is_named_as_that(verified: Any, tmp_path: Path) -> None:
    old = tmp_path / "old.db"
    shutil.copyfile(verified.path, old)
    verified.fill(300)
    check_start(verified.record, verified.keys)
    shutil.copyfile(old, verified.path)
    with pytest.raises(RecordError, match=r"entry 300.*older copy put back"):
        check_start(verified.record, verified.keys)
