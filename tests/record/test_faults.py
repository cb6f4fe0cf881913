"""Power cuts, failing calls and full disks, at every point of an append: nothing said to be saved
is lost, and nothing is said to be saved that is not.

A disk of our own (`faulty`) stands under another build of SQLite.  With settings that are known not
to keep every commit (SQLite's documentation of PRAGMA synchronous) it must lose some: else the
tests could not fail.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

apsw = pytest.importorskip("apsw", reason="needs apsw, a SQLite that can work on a disk in Python")

from blender.errors import FillwrightError, StorageError  # noqa: E402 - where apsw is
from blender.record import engine  # noqa: E402 - where apsw is
from blender.record.journal import Record  # noqa: E402 - where apsw is
from blender.record.keys import StationKeys  # noqa: E402 - where apsw is
from blender.record.walk import Stored, link_problem  # noqa: E402 - where apsw is
from tests.record.faulty import Disk, DiskVFS, Image  # noqa: E402 - where apsw is
from tests.record.otherlite import Connection  # noqa: E402 - where apsw is

OFF, NORMAL, FULL, EXTRA = range(4)
SHIPPED = [("wal", FULL), ("delete", EXTRA)]
Acked = dict[int, bytes]


class Nothing:
    TABLES = ()

    @staticmethod
    def apply(conn: Any, entry: Any, private: Any) -> None:
        pass


class Rig:
    """A record on a disk that can fail."""

    def __init__(self, path: Path, monkeypatch: pytest.MonkeyPatch, now: Any) -> None:
        self.path, self.now, self.patch = path, now, monkeypatch
        self.disk = Disk()
        self.vfs = DiskVFS(self.disk)
        self.acked: Acked = {}
        self.journal = ""
        monkeypatch.setattr(engine, "_connect", self.connect)

    def connect(self, path: Path, mode: str, *, readonly: bool, draft: bool = False) -> Any:
        raw = Connection(str(path))
        raw.file_id = engine._file_id(path)
        try:
            if self.journal == "wal":  # a log's index needs shared memory else
                raw.execute("PRAGMA locking_mode=EXCLUSIVE")
            engine._configure(raw, readonly=readonly)
            if not readonly:
                assert engine._journal_switched(raw, wait=False)
        except BaseException:
            raw.close()
            raise
        return raw

    def found(self, journal: str, synchronous: int) -> None:
        self.journal = journal
        self.patch.setattr(engine, "journal_settings", lambda _: (journal, synchronous))
        keys = StationKeys.create(self.path.with_suffix(".keys"))
        Record.found(
            self.path, keys=keys, station="QUAY-2", data={}, at=self.now, project=Nothing
        ).close()
        self.disk.sync()

    def open(self) -> Record:
        return Record.open(self.path, project=Nothing)

    def append(self, record: Record, number: int) -> None:
        """Append, and count it as acknowledged only once the block is left."""
        with record.write() as unit:
            data = {"number": number, "text": "x" * 1500}
            entry = unit.append("note", data, at=self.now)
        self.acked[entry.seq] = entry.digest

    def put(self, image: Image) -> None:
        """Start again from what a power cut left."""
        self.disk.__init__(image)

    def lost(self, acked: Acked) -> str:
        """Say what is wrong with the disk's record: lost, broken or corrupt; empty if nothing."""
        try:
            raw = Connection(str(self.path))
            try:
                if self.journal == "wal":
                    raw.execute("PRAGMA locking_mode=EXCLUSIVE")
                query = "SELECT station, seq, prev, digest, body, step FROM entry ORDER BY seq"
                rows = [Stored(*row) for row in raw.execute(query).fetchall()]
                if raw.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
                    return "corrupt"
            finally:
                raw.close()
        except engine.sqlite3.Error:
            return "corrupt"
        before = None
        for row in rows:
            if link_problem(row, before):
                return "broken"
            before = row.digest
        kept = {row.seq: row.digest for row in rows}
        return "" if all(kept.get(seq) == own for seq, own in acked.items()) else "lost"


@pytest.fixture(name="rig")
def _rig(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, now: Any) -> Iterator[Rig]:
    rig = Rig(tmp_path / "station.db", monkeypatch, now)
    yield rig
    rig.vfs.unregister()


def power_cuts(rig: Rig, mode: tuple[str, int], wanted: int, seed: int) -> dict[str, int]:
    """Cut the power at any call of some appends, half of the times just after one was said to be
    saved; count what became of the record."""
    dice, taken = random.Random(seed), list[tuple[Image, Acked]]()
    rig.found(*mode)

    def now_and_then(_: str) -> None:
        if dice.random() < 0.1:
            taken.append((rig.disk.cut(dice), dict(rig.acked)))

    rig.disk.seen = now_and_then
    number = 0
    while len(taken) < wanted:
        with rig.open() as record:
            for _ in range(4):
                rig.append(record, number)
                number += 1
                taken += [(rig.disk.cut(dice), dict(rig.acked)) for _ in range(3)]
        if number % 40 == 0:  # a small file again: the whole of it is looked at after each cut
            rig.acked.clear()
            break_off(rig, mode)
            rig.disk.seen = now_and_then
    count = {"": 0, "lost": 0, "broken": 0, "corrupt": 0}
    for image, acked in taken[:wanted]:
        rig.put(image)
        count[rig.lost(acked)] += 1
    return count


def break_off(rig: Rig, mode: tuple[str, int]) -> None:
    rig.put({})
    rig.path.unlink()
    rig.path.with_suffix(".keys").unlink()
    rig.found(*mode)


@pytest.mark.parametrize("mode", SHIPPED)
def test_a_power_cut_loses_nothing_that_was_said_to_be_saved(
    rig: Rig, mode: tuple[str, int]
) -> None:
    assert power_cuts(rig, mode, 200, 1) == {"": 200, "lost": 0, "broken": 0, "corrupt": 0}


@pytest.mark.parametrize("mode", [("delete", FULL), ("wal", OFF), ("delete", OFF)])
def test_control_settings_known_to_lose_do_lose(rig: Rig, mode: tuple[str, int]) -> None:
    """A log with synchronous NORMAL is none of them: closing a connection brings it to the disk,
    and the record closes its own before it says that anything is saved.
    """
    found = power_cuts(rig, mode, 200, 2)
    assert found["lost"] > 10
    if mode == ("delete", OFF):
        assert found["corrupt"] > 0


@pytest.mark.soak
@pytest.mark.parametrize("mode", [*SHIPPED, ("truncate", FULL)])
def test_ten_thousand_power_cuts_lose_nothing(
    rig: Rig, mode: tuple[str, int], figures: Callable[..., None]
) -> None:
    found = power_cuts(rig, mode, 10_000, 3)
    assert found == {"": 10_000, "lost": 0, "broken": 0, "corrupt": 0}
    figures(f"power cuts, {mode[0]} {mode[1]}", whole=found.pop(""), **found)


@pytest.mark.soak
@pytest.mark.parametrize("mode", [("delete", FULL), ("wal", OFF), ("delete", OFF)])
def test_of_ten_thousand_power_cuts_the_controls_lose_many(
    rig: Rig, mode: tuple[str, int], figures: Callable[..., None]
) -> None:
    found = power_cuts(rig, mode, 10_000, 4)
    assert found["lost"] > 500
    figures(f"power cuts, control {mode[0]} {mode[1]}", whole=found.pop(""), **found)


@pytest.mark.parametrize("failure", ["IOError", "FullError"])
@pytest.mark.parametrize("mode", SHIPPED)
def test_each_call_of_an_append_fails_once(rig: Rig, mode: tuple[str, int], failure: str) -> None:
    """Write, sync, truncate, create, delete: at the first call, the second, until none fails."""
    rig.found(*mode)
    rig.disk.failure = getattr(apsw, failure)
    refused = 0
    for number in range(1, 200):
        rig.disk.calls, rig.disk.fail_at = 0, number
        try:
            with rig.open() as record:
                rig.append(record, number)
        except StorageError:
            refused += 1
        was_reached = rig.disk.calls >= number
        rig.disk.fail_at = -1
        assert rig.lost(rig.acked) == ""
        if not was_reached:
            break
    else:
        pytest.fail("an append never came to its end")
    assert refused >= 4
    with rig.open() as record:
        rig.append(record, 0)
    assert rig.lost(rig.acked) == ""


@pytest.mark.parametrize("mode", SHIPPED)
def test_a_failing_founding_leaves_no_station(rig: Rig, mode: tuple[str, int]) -> None:
    for number in range(1, 8):
        rig.put({})
        rig.disk.fail_at = number
        with pytest.raises(FillwrightError):
            rig.found(*mode)
        assert not rig.path.exists()
        rig.path.with_suffix(".keys").unlink()
    rig.put({})
    rig.found(*mode)
    assert rig.lost({}) == ""


@pytest.mark.parametrize("mode", SHIPPED)
def test_a_full_disk_refuses_and_goes_on_with_room_again(rig: Rig, mode: tuple[str, int]) -> None:
    rig.found(*mode)
    rig.disk.room = 90_000
    refused = 0
    with rig.open() as record:
        for number in range(60):
            try:
                rig.append(record, number)
            except StorageError as error:
                assert "disk is full" in error.text
                refused += 1
        assert refused > 10
        assert rig.acked
        rig.disk.room = 1 << 30
        rig.append(record, 60)
    assert rig.lost(rig.acked) == ""
