"""A disk that is really full: a small one in memory, mounted for the test alone.

Mounting needs an administrator's rights; without them the same is tried with a file that may grow
no more (`test_durability`) and on a disk made in Python (`test_faults`).
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from blender.errors import StorageError
from blender.record import engine
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.verify import verify
from tests.record.child import Nothing


def mount(*words: str) -> None:
    """Mount something, or skip the test and say why."""
    if sys.platform != "linux" or shutil.which("mount") is None:
        pytest.skip("small disks in memory are mounted on Linux only")
    said = subprocess.run(["mount", *words], capture_output=True, text=True, check=False)
    if said.returncode:
        pytest.skip(f"mounting is not permitted here: {said.stderr.strip()}")


@pytest.fixture(name="disk")
def _disk(tmp_path: Path) -> Iterator[Path]:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount("-t", "tmpfs", "-o", "size=600k,mode=0700", "tmpfs", str(disk))
    try:
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=True)


@pytest.mark.parametrize("mode", [("delete", 3), ("wal", 2)])
def test_a_disk_that_is_really_full_loses_nothing_and_says_so(
    disk: Path, mode: tuple[str, int], now: Any, monkeypatch: pytest.MonkeyPatch,
    figures: Callable[..., None],
) -> None:  # fmt: skip
    monkeypatch.setattr(engine, "journal_settings", lambda _: mode)
    path, keys = disk / "station.db", StationKeys.create(disk / "station.keys")
    Record.found(path, keys=keys, station="QUAY-2", data={}, at=now, project=Nothing).close()
    said: dict[int, bytes] = {}
    refused = 0

    def append(number: int) -> None:
        with record.write() as unit:
            data = {"number": number, "text": "x" * 3000}
            entry = unit.append("note", data, at=now)
        said[entry.seq] = entry.digest

    with Record.open(path, project=Nothing) as record:
        for number in range(400):
            try:
                append(number)
            except StorageError as error:
                assert "full" in error.text
                refused += 1
        assert refused > 100
        assert len(said) > 5
        assert kept(record) == said
        mount("-o", "remount,size=8m", str(disk))
        append(400)
        assert kept(record) == said
    report = verify(path, project=Nothing)
    assert (report.ok, report.entries) == (True, 1 + len(said))
    figures(f"disk really full, {mode[0]}", saved=len(said), refused=refused, lost=0)


def kept(record: Record) -> dict[int, bytes]:
    with record.read() as conn:
        rows = conn.exec_driver_sql("SELECT seq, digest FROM entry WHERE seq > 1").all()
    return dict(tuple(row) for row in rows)
