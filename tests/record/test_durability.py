"""What was acknowledged is there; what was not saved is never said to be."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from blender.errors import StorageError
from blender.record.engine import journal_settings
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.schema import ENTRY
from blender.record.verify import verify
from tests.patience import PATIENCE_S

CHILD = Path(__file__).with_name("child.py")
ROOT = Path(__file__).parents[2]
# The mode this SQLite gets, where every third round has two writers; the log, with one.
JOURNALS = ["", "wal"]
posix = pytest.mark.skipif(os.name != "posix", reason="needs fork and kill")


class Nothing:
    TABLES = ()

    @staticmethod
    def apply(conn: Any, entry: Any, private: Any) -> None:
        pass


@pytest.fixture(name="path")
def _path(place: Any, tmp_path: Path, now: Any) -> Any:
    keys = StationKeys.create(tmp_path / "station.keys")
    Record.found(place, keys=keys, station="QUAY-2", data={}, at=now, project=Nothing).close()
    return place


def start(*words: str) -> subprocess.Popen[bytes]:
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen([sys.executable, str(CHILD), *words], stdout=subprocess.PIPE, env=env)


def answer(child: subprocess.Popen[bytes]) -> Any:
    with child:
        out, _ = child.communicate(timeout=5 * PATIENCE_S)
    assert child.returncode == 0
    return json.loads(out)


@pytest.mark.file
@pytest.mark.parametrize("left_as", ["it is", "wal", "truncate"])
def test_two_processes_write_one_chain(path: Path, left_as: str) -> None:
    """Also where another version of SQLite left the file in a mode this one does not use."""
    if left_as != "it is":
        raw = sqlite3.connect(path)
        raw.execute(f"PRAGMA journal_mode={left_as}")
        raw.close()
    count = "100" if left_as == "it is" else "20"
    children = [start("append", str(path), name, count) for name in ("a", "b")]
    said = [answer(child) for child in children]
    entries = 1 + 2 * int(count)
    assert sorted(said[0] + said[1]) == list(range(2, entries + 1))
    report = verify(path, project=Nothing)
    assert (report.ok, report.entries) == (True, entries)


def kills(path: Path, rounds: int, part: int, journal: str) -> dict[str, int]:
    found: dict[str, int] = answer(start("kill", str(path), str(rounds), str(part), journal))
    assert found["rounds"] == rounds
    assert found["acknowledged"] >= rounds
    assert (found["lost"], found["broken"]) == (0, 0)
    return found


@posix
@pytest.mark.file
@pytest.mark.parametrize("journal", JOURNALS)
def test_a_killed_writer_loses_nothing_it_acknowledged(path: Path, journal: str) -> None:
    kills(path, 12, 0, journal)


@posix
@pytest.mark.file
@pytest.mark.soak
@pytest.mark.parametrize("journal", JOURNALS)
@pytest.mark.parametrize("part", range(40))
def test_a_writer_killed_ten_thousand_times_loses_nothing(
    path: Path, part: int, journal: str, figures: Callable[..., None]
) -> None:
    """In parts, for after each round the whole record is verified; none lost in 10 000 rounds
    bounds the rate below 0.03 % (the rule of three, at 95 %).
    """
    figures(
        f"kill -9, {journal or 'the journal of this SQLite'}", **kills(path, 250, part, journal)
    )


@posix
@pytest.mark.parametrize("stops", [6, pytest.param(100, marks=pytest.mark.soak)])
def test_a_stopped_writer_makes_nobody_lose_or_wait_for_ever(
    path: Any,
    now: Any,
    monkeypatch: pytest.MonkeyPatch,
    stops: int,
    figures: Callable[..., None],
) -> None:
    """Stopped anywhere in an append, it may hold the lock: the other is told in time, or writes."""
    monkeypatch.setattr("blender.record.engine.BUSY_MS", 60)
    said: dict[int, str] = {}
    busy = 0
    with start("acknowledge", str(path)) as child, Record.open(path, project=Nothing) as record:
        assert child.stdout is not None
        for _ in range(stops):
            seq, digest = child.stdout.readline().split()
            said[int(seq)] = digest.decode()
            child.send_signal(signal.SIGSTOP)
            begun = time.monotonic()
            try:
                with record.write() as unit:
                    entry = unit.append("note", {"by": "the other"}, at=now)
                said[entry.seq] = entry.digest.hex()
            except StorageError as error:
                assert error.code == "busy"
                busy += 1
            assert time.monotonic() - begun < PATIENCE_S
            child.send_signal(signal.SIGCONT)
        child.send_signal(signal.SIGSTOP)
        child.kill()
        for line in child.stdout.read().splitlines():
            if len(words := line.split()) == 2:
                said[int(words[0])] = words[1].decode()
        monkeypatch.undo()
        with record.write() as unit:  # whatever it held is free now
            entry = unit.append("note", {"by": "after"}, at=now)
        said[entry.seq] = entry.digest.hex()
        with record.read() as conn:
            rows = conn.execute(select(ENTRY.c.seq, ENTRY.c.digest)).all()
    kept = {seq: digest.hex() for seq, digest in rows}
    assert {seq: kept.get(seq) for seq in said} == said
    report = verify(path, project=Nothing)
    assert (report.ok, report.entries) == (True, len(kept))
    assert busy <= stops
    figures("SIGSTOP of a writer", stops=stops, busy=busy, kept=len(said), lost=0)


@posix
@pytest.mark.file
@pytest.mark.parametrize("room", [0, 5_000, 20_000, 50_000])
def test_a_full_disk_is_never_shown_as_saved(path: Path, room: int) -> None:
    found = answer(start("full", str(path), str(room)))
    assert found["refused"] > 10
    assert found["said"] == list(range(2, 2 + len(found["said"])))
    report = verify(path, project=Nothing)
    assert (report.ok, report.entries) == (True, 1 + len(found["said"]))


@pytest.mark.file
def test_a_full_database_says_so_and_keeps_nothing(book: Any, now: Any) -> None:
    head = book.record.head()
    with pytest.raises(StorageError, match="full"), book.record.write() as unit:
        pages = unit.conn.exec_driver_sql("PRAGMA page_count").scalar()
        unit.conn.exec_driver_sql(f"PRAGMA max_page_count={pages}")
        for number in range(20):
            unit.append("note", {"text": f"{number}" + "x" * 4000}, at=now)
    assert book.record.head() == head
    assert book.note("with room again").seq == head.seq + 1


@pytest.mark.file
def test_a_busy_record_says_so_and_keeps_nothing(
    book: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("blender.record.engine.BUSY_MS", 20)
    head = book.record.head()
    other = sqlite3.connect(book.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StorageError, match="busy") as caught:
        book.note("meanwhile")
    assert caught.value.code == "busy"
    other.execute("ROLLBACK")
    other.close()
    assert book.record.head() == head


@pytest.mark.file
def test_a_locked_record_says_so_to_a_kept_connection_too(
    book: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody may even read: it is waited for once, and there again as soon as it can be."""
    head = book.note("before").anchor
    monkeypatch.setattr("blender.record.engine.BUSY_MS", 20)
    other = sqlite3.connect(book.path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    for ask in (lambda: book.note("meanwhile"), book.record.head):
        with pytest.raises(StorageError, match="busy") as caught:
            ask()
        assert caught.value.code == "busy"
    other.execute("ROLLBACK")
    other.close()
    assert book.record.head() == head
    assert book.note("after").seq == head.seq + 1


@pytest.mark.file
def test_a_commit_that_fails_is_not_shown_as_saved(book: Any, now: Any) -> None:
    """A reader that does not let go keeps the commit itself from happening."""
    if journal_settings(sqlite3.sqlite_version_info[:3])[0] == "wal":
        pytest.skip("readers do not block commits in a write-ahead log")
    head = book.record.head()
    other = sqlite3.connect(book.path, isolation_level=None)
    other.execute("BEGIN")
    other.execute("SELECT count(*) FROM entry").fetchone()
    with pytest.raises(StorageError, match="busy"), book.record.write() as unit:
        unit.conn.exec_driver_sql("PRAGMA busy_timeout=20")
        entered = unit.append("note", {"text": "x"}, at=now)
        assert entered.seq == head.seq + 1
    other.execute("COMMIT")
    other.close()
    assert book.record.head() == head


@pytest.mark.file
def test_an_unfinished_write_beside_the_file_is_looked_past(
    book: Any, tiny: Any, tmp_path: Path, now: Any
) -> None:
    """A copy taken in the middle of a write, as a power cut leaves it: verify mends nothing."""
    head = book.record.head()
    copy = tmp_path / "cut" / "station.db"
    copy.parent.mkdir()
    with pytest.raises(RuntimeError), book.record.write() as unit:
        unit.conn.exec_driver_sql("PRAGMA cache_size=1")  # pages go to the file before the commit
        for number in range(30):
            unit.append("note", {"text": f"{number}" + "x" * 4000}, at=now)
        for tail in ("", "-journal", "-wal"):
            if (one := book.path.with_name(book.path.name + tail)).exists():
                copy.with_name(copy.name + tail).write_bytes(one.read_bytes())
        raise RuntimeError
    before = {one: one.read_bytes() for one in copy.parent.iterdir()}
    assert len(before) == 2
    report = verify(copy, head, project=tiny)
    assert (report.problems, report.entries) == ([], head.seq)
    assert {one: one.read_bytes() for one in before} == before
    with Record.open(copy, readonly=True, project=tiny) as record:  # a reader sees past it too
        assert record.head() == head
    with Record.open(copy, project=tiny) as record:
        assert record.head() == head
