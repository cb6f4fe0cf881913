"""A whole station of the first released format: it verifies for ever.

The file was written once, by the release named in it, and is never made again: no code
here or anywhere can regenerate it.  A later release may change the read models; then it
makes them anew, and the journal must still stand.
"""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

from blender.record.inspector import Inspector
from blender.record.journal import Record
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import takeaway
from blender.station.recomputing import recompute

GOLDEN = Path(__file__).parent / "golden" / "station-1.db"
SHA256 = "42bffad2b583783b98e278249ca1a16211bcc5eb533f356986a0e2c49d3e70b1"
HEAD = "TTBJGGAJWAMIVKMXXAPSSQAILUWKBAICC2DJ2ROHEMBBGTFUFJXQ"
ANCHORS = (
    "FILLWRIGHT1 TARN-LEDGE-DEMO 1 35 6PR7NOU7KHGNKXCENFGZYEQ23ZCP5FGYOAVZA6UWFD32WFBB4EAA",
    f"FILLWRIGHT1 TARN-LEDGE-DEMO 1 170 {HEAD}",
)


@pytest.fixture
def station(tmp_path: Path) -> Path:
    copy = tmp_path / "station.db"
    shutil.copyfile(GOLDEN, copy)
    with Record.open(copy, check=False) as record:
        assert rebuild(record).entries == 170
    return copy


def test_the_file_is_the_one_that_was_written() -> None:
    assert hashlib.sha256(GOLDEN.read_bytes()).hexdigest() == SHA256


@pytest.mark.parametrize("anchor", [None, *ANCHORS])
def test_format_1_verifies_for_ever(station: Path, anchor: str | None) -> None:
    report = verify(station, anchor)
    assert report.problems == []
    assert (report.station, report.incarnation) == ("TARN-LEDGE-DEMO", 1)
    assert (report.entries, report.head) == (170, HEAD)


def test_an_anchor_of_another_history_is_found(station: Path) -> None:
    forged = ANCHORS[0].replace("6PR7", "7PR6")
    assert [problem.kind for problem in verify(station, forged).problems] == ["anchor"]


def test_d2_what_was_recorded_then_is_verified_and_taken_away_now(station: Path) -> None:
    """Retrievable for the whole time it is kept: by us, and without us."""
    assert verify(station, anchor=ANCHORS[0]).ok
    with Record.open(station, readonly=True) as record:
        heading, *lines = [line.decode() for line in takeaway.journal_lines(record)]
        said = recompute(record)
    inspector = Inspector()
    for line in lines:
        inspector.take(line.removesuffix("\n"))
    inspector.held_against(heading.removesuffix("\n"), ANCHORS[1], None)
    assert (inspector.flaws, inspector.seq) == ([], 170)
    assert said["differences"] == []
    assert said["analyses"] > 5
