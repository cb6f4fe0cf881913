"""Answers that are kept: given again while nothing changed, asked anew once something may have."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import takewhile
from typing import Any

import pytest
from sqlalchemy import event, update
from sqlalchemy.engine import Engine

from blender.record import dialect, engine, read
from blender.record.journal import Record
from blender.record.models import CylinderRow
from blender.record.projection import table
from blender.record.roll import Roll
from tests.station.shop import Shop

SERIAL = "C-1001"


@contextmanager
def counted(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Keep what the driver is asked meanwhile."""
    asked, real = list[str](), dialect.by_driver

    def by_driver(conn: Any, query: str, values: Any) -> Any:
        if query.startswith("SELECT"):
            asked.append(query)
        return real(conn, query, values)

    with monkeypatch.context() as patch:
        patch.setattr(dialect, "by_driver", by_driver)
        yield asked


def size_ml(shop: Shop) -> int:
    with shop.station.record.write() as unit:
        return read.cylinder(unit.conn, SERIAL).size_ml


def test_what_cannot_have_changed_is_asked_once(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    with counted(monkeypatch) as asked:
        with shop.station.record.write() as unit:
            read.cylinder(unit.conn, SERIAL)
            assert len(asked) == 1
            assert read.cylinder(unit.conn, SERIAL).size_ml == 12_000
        assert len(asked) == 1
        size_ml(shop)
    # A connection that is opened anew for every use starts with no answers.
    assert len(asked) == (1 if engine._may_keep(readonly=False) else 2)


def test_another_connections_write_is_seen_by_the_next_transaction(shop: Shop) -> None:
    """As when another terminal rebuilds the tables, which enters nothing."""
    assert size_ml(shop) == 12_000
    other = sqlite3.connect(shop.path)
    other.execute("UPDATE cylinder SET size_ml = 7000 WHERE serial = ?", (SERIAL,))
    other.commit()
    assert size_ml(shop) == 7000
    other.execute("UPDATE cylinder SET size_ml = 8000 WHERE serial = ?", (SERIAL,))
    other.commit()
    other.close()
    assert size_ml(shop) == 8000


def test_an_own_write_is_seen_at_once_and_its_undoing_too(shop: Shop) -> None:
    columns = table(CylinderRow).c
    assert size_ml(shop) == 12_000

    def change() -> None:
        with shop.station.record.write() as unit:
            smaller = update(table(CylinderRow)).where(columns.serial == SERIAL)
            unit.conn.execute(smaller.values(size_ml=3000))
            assert read.cylinder(unit.conn, SERIAL).size_ml == 3000
            raise LookupError

    with pytest.raises(LookupError):
        change()
    assert size_ml(shop) == 12_000


def test_a_write_nobody_can_look_into_makes_all_be_asked_anew(shop: Shop) -> None:
    with shop.station.record.write() as unit:
        assert read.cylinder(unit.conn, SERIAL).size_ml == 12_000
        unit.conn.exec_driver_sql("UPDATE cylinder SET size_ml = 4000")
        assert read.cylinder(unit.conn, SERIAL).size_ml == 4000


def test_two_terminals_see_each_others_acts(shop: Shop) -> None:
    """Each keeps its own answers; what one enters, the other's next act knows."""
    with Record.open(shop.path) as record:
        there = replace(shop, station=replace(shop.station, record=record, roll=Roll()))
        fill = shop.request()
        assert there.plan(fill).done
        assert shop.start(fill).done
        assert there.hold(fill).state == "held"
        assert shop.reading(fill, "80bar").state == "held"  # refused: not while it is held


def test_no_act_of_a_fill_asks_the_same_twice_before_it_enters(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of the driver or through SQLAlchemy: whatever a gate asked, the next one is told."""
    acts, real = list[list[str]](), dialect.by_driver

    def see(statement: str, values: Any) -> None:
        if statement.startswith("BEGIN"):
            acts.append([])
        elif acts and not statement.startswith("PRAGMA"):
            acts[-1].append(f"{statement} {values}")

    def by_driver(conn: Any, query: str, values: Any) -> Any:
        see(query, values)
        return real(conn, query, values)

    def by_core(_: Any, __: Any, statement: str, values: Any, *___: Any) -> None:
        see(statement, values)

    monkeypatch.setattr(dialect, "by_driver", by_driver)
    monkeypatch.setattr(engine, "by_driver", by_driver)
    event.listen(Engine, "before_cursor_execute", by_core)
    try:
        fill, label = shop.accepted()
        assert shop.collect(fill, label).done
    finally:
        event.remove(Engine, "before_cursor_execute", by_core)
    asked = [list(takewhile(lambda one: one.startswith("SELECT"), act)) for act in acts]
    assert sum(map(len, asked)) > 50
    assert [act for act in asked if len(act) != len(set(act))] == []
    # Some 350 statements before answers were kept, with those that enter.
    assert sum(map(len, acts)) < 200, sum(map(len, acts))
