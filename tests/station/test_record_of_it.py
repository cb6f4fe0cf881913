"""The journal and the tables made from it say the same, and an edited table is found."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from blender.errors import RecordError
from blender.record.journal import Record
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import book, equipment
from tests.station.shop import Shop, dump


def busy(shop: Shop) -> None:
    """A day with something of everything in it."""
    equipment.add_supply(
        shop.station, shop.mara, name="o1", gas="oxygen99.5", size="50L", at="180bar"
    )
    fill, label = shop.accepted()
    shop.collect(fill, label)
    fill = shop.analysed(cylinder="C-1003")
    shop.accept(fill, "31.0")
    shop.analyse(fill, "32.0", serial="C-1003", analyser="A2")
    shop.accept(fill, "32.0")
    fill = shop.filling(cylinder="D-7", want="150bar:EAN32")
    shop.reading(fill, "70bar", "25C", kind="wall", gauge="left")
    shop.reading(fill, "90bar", "25C")
    shop.hold(fill, "Strom weg, 19:40 µ")
    shop.resume(fill, "10bar", serial="D-7")
    shop.quarantine(fill, "leak at the valve")
    shop.release(fill)
    shop.reject(fill)


def test_rebuild_gives_the_same_tables(shop: Shop) -> None:
    busy(shop)
    before = shop.tables()
    assert rebuild(shop.station.record).entries == len(shop.entries())
    assert shop.tables() == before


def test_a_busy_day_verifies(shop: Shop) -> None:
    busy(shop)
    report = verify(shop.path)
    assert report.problems == []
    assert report.entries == len(shop.entries())
    anchor = shop.station.record.head()
    assert verify(shop.path, anchor.text).ok


def test_every_entry_is_signed_by_somebody_in_the_record(shop: Shop) -> None:
    busy(shop)
    staff = {p.person for p in (shop.mara, shop.jo, shop.ada)}
    for entry in shop.entries()[1:]:
        assert entry.sig is not None
        assert entry.sig["person"] in staff
        assert entry.sig["meaning"]
        assert entry.sig["name"]
        assert entry.sig["role"] in ("manager", "blender")


def test_readings_and_analyses_are_the_journals(shop: Shop) -> None:
    busy(shop)
    tables = shop.tables()
    by_kind: dict[str, list[int]] = {}
    for entry in shop.entries():
        by_kind.setdefault(entry.kind, []).append(entry.seq)
    assert [row[0] for row in tables["reading"]] == by_kind["fill.reading"]
    analyses = sorted(
        seq
        for kind in ("fill.analysed", "fill.residual", "fill.disputed", "fill.accepted")
        for seq in by_kind.get(kind, [])
    )
    assert [row[0] for row in tables["analysis"]] == analyses
    assert len(tables["fill"]) == len(by_kind["fill.requested"])
    assert len(tables["person"]) == len(by_kind["person.added"])
    assert len(tables["cylinder"]) == len(by_kind["cylinder.added"])
    assert set(by_kind["fill.refused"]) <= {row[0] for row in tables["exception"]}


def test_the_story_tells_every_entry(shop: Shop) -> None:
    busy(shop)
    told: list[int] = []
    for fill in book.fills(shop.station.record)["fills"]:
        story = book.story(shop.station.record, fill["fill"])
        json.dumps(story, allow_nan=False)
        book.story_lines(story)
        told += [entry["seq"] for entry in story["entries"]]
    kept = [e.seq for e in shop.entries() if e.kind.startswith("fill.")]
    assert sorted(told) == kept
    exported = list(book.journal(shop.station.record))
    assert [line["digest"] for line in exported] == [e.digest.hex() for e in shop.entries()]


EDITS = [
    "UPDATE fill SET o2_ppm = 500000 WHERE fill = 1",
    "UPDATE fill SET state = 'accepted' WHERE fill = 3",
    "UPDATE fill SET contents_umol = '[1,1,1,1]' WHERE fill = 1",
    "UPDATE reading SET gauge_mbar = gauge_mbar + 1",
    "UPDATE analysis SET valid = 1 - valid",
    "UPDATE cylinder SET tested = '2026-09' WHERE serial = 'C-1001'",
    "UPDATE cylinder SET clean = 1 WHERE serial = 'C-1002'",
    "UPDATE person SET role = 'manager' WHERE role = 'blender'",
    "UPDATE analyser SET calibrated_us = calibrated_us + 1",
    "UPDATE supply SET content_umol = 1",
    "UPDATE fill_step SET to_mbar = 1 WHERE number = 0",
    "DELETE FROM exception",
    "DELETE FROM fill WHERE fill = 2",
    "INSERT INTO exception (seq, fill, kind, text, person, at_us) VALUES (9999, 1, 'x', '', '', 0)",
]


def test_an_edited_table_is_found_and_mended(shop: Shop, tmp_path: Path) -> None:
    busy(shop)
    before = shop.tables()
    for number, edit in enumerate(EDITS):
        copy = tmp_path / f"{number}.db"
        shutil.copy2(shop.path, copy)
        with closing(sqlite3.connect(copy)) as raw, raw:
            assert raw.execute(edit).rowcount > 0, edit
        report = verify(copy)
        assert {problem.kind for problem in report.problems} == {"read-model"}, edit
        with Record.open(copy) as record:
            rebuild(record)
            with record.read() as conn:
                assert dump(conn) == before, edit
    assert verify(copy).ok


def test_two_desks_on_one_file(shop: Shop) -> None:
    """Two terminals take turns; neither works from what it remembers."""
    other = Shop.open(shop.path)
    try:
        other.clock.us = shop.clock.us
        first, second = shop.request(), other.request(cylinder="C-1003")
        assert (first, second) == (1, 2)
        assert other.plan(first).done
        assert shop.start(first).done
        assert not other.start(first).done
        assert other.reading(first, "84.425bar").facts["closes"]
        assert shop.row(first).step == 1
    finally:
        other.station.record.close()
    assert verify(shop.path).ok


def test_a_disturbed_record_refuses_more(shop: Shop) -> None:
    with closing(sqlite3.connect(shop.path)) as raw, raw:
        raw.execute(
            "DROP TRIGGER "
            + raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchone()[0]
        )
    with pytest.raises(RecordError):
        Shop.open(shop.path)
