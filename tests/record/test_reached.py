"""What is asked most is reached by an index, and what it gives is what a walk would give."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, delete

from blender.record import finding, read
from blender.record import glance as glancing
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.record.projection import table
from blender.record.states import OPEN
from blender.station import book, search
from tests.bench.million import million
from tests.station.shop import Shop, found


@pytest.fixture(name="shop")
def _shop(place: Any, tmp_path: Path) -> Iterator[Shop]:
    found(tmp_path, place)
    shop = Shop.open(place, tmp_path / "station.keys")
    label = shop.accepted()
    shop.collect(*label)
    shop.hold(shop.filling(cylinder="C-1003"))
    shop.quarantine(shop.request(cylinder="D-7"))
    yield shop
    shop.station.record.close()


def test_a_fills_entries_are_those_a_walk_finds(shop: Shop) -> None:
    walked: dict[int, list[int]] = {}
    for entry in shop.entries():
        if entry.kind.startswith("fill."):
            walked.setdefault(entry.data["fill"], []).append(entry.seq)
    assert set(walked) == {1, 2, 3}
    with shop.station.record.read() as conn:
        for number, seqs in walked.items():
            assert [e.seq for e in read.entries_of_fill(conn, "QUAY-1", number)] == seqs
        assert read.entries_of_fill(conn, "QUAY-1", 99) == []
        assert read.entries_of_fill(conn, "QUAY-9", 1) == []


def test_the_open_fills_are_those_not_ended(shop: Shop) -> None:
    assert set(OPEN) & {"collected", "rejected"} == set()
    assert [fill.fill for fill in glancing.glance(str(shop.path)).fills] == [2, 3]


@pytest.mark.file
def test_a_glance_never_walks_through_the_fills(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    real = glancing.sqlite3.connect

    def connect(*args: Any, **options: Any) -> sqlite3.Connection:
        conn = real(*args, **options)
        conn.set_trace_callback(asked.append)
        return conn

    monkeypatch.setattr(glancing.sqlite3, "connect", connect)
    glancing.glance(str(shop.path))
    queries = [text for text in asked if "FROM fill f" in text]
    assert len(queries) == 2  # what is open, and what of it lost its gas
    with closing(real(shop.path)) as raw:
        for query in queries:
            steps = [row[3] for row in raw.execute(f"EXPLAIN QUERY PLAN {query}")]
            assert any("USING INDEX ix_fill_state" in step for step in steps)
            assert not [step for step in steps if step.startswith("SCAN")]


def numbers(conn: Connection, *words: list[finding.Hits]) -> list[int]:
    return list(finding.numbers(conn, words, lambda: False))


def test_numbers_with_a_gap_are_found_too(shop: Shop) -> None:
    """They are given without one; a file that was tampered with must not mislead or crash."""
    with shop.station.record.read() as conn:
        assert numbers(conn) == [3, 2, 1]
    with shop.station.record.write() as unit:
        unit.conn.execute(delete(table(FillRow)).where(table(FillRow).c.fill == 2))
    with shop.station.record.read() as conn:
        assert numbers(conn) == [3, 1]
        assert numbers(conn, finding.is_fill(2)) == []
        assert numbers(conn, [*finding.is_fill(1), *finding.is_fill(3)]) == [3, 1]
        assert numbers(conn, finding.stands(["collected"], [*OPEN, "rejected"])) == [1]
        assert numbers(conn, [finding.EVERY]) == [3, 1]
        assert numbers(conn, finding.analyser_has(conn, "a1")[0]) == [1]


def test_no_fill_at_all_is_no_number(place: Any, tmp_path: Path) -> None:
    found(tmp_path, place)
    shop = Shop.open(place, tmp_path / "station.keys")
    with shop.station.record.read() as conn:
        assert numbers(conn) == []
        assert numbers(conn, finding.stands(["collected"], OPEN)) == []
    shop.station.record.close()


def test_a_book_made_in_bulk_is_searched_like_any_other(tmp_path: Path) -> None:
    path = million(tmp_path, fills=300)
    assert million(tmp_path, fills=300) == path
    assert [fill.fill for fill in glancing.glance(str(path)).fills] == list(range(271, 301))
    with Record.open(path, readonly=True) as record:
        assert list(search.find(record, "")) == list(range(300, 0, -1))
        lines = search.lines(record, search.find(record, "alba"))
        every = book.fills(record)["fills"]
    by_hand = [fill for fill in every if "Alba" in fill["blender"] + fill["customer"]]
    assert 20 < len(by_hand) < 280
    assert lines == by_hand[::-1]
