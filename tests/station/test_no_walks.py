"""A fill costs the same in a long record as in a short one: no act of it walks through a table
that grows with the fills.  SQLite itself says how it would answer each question that is asked."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.engine import Engine

from blender.record import dialect
from blender.record.kept import Kept
from blender.station import book, lookup, panel, printing
from tests.station.shop import Shop

GROWS = ("entry", "fill", "fill_entry", "step", "reading", "analysis", "exception", "departure")
# How the end of a chain is found: from its last entry backwards, one of them.
ENDS = re.compile(r"max\(|ORDER BY \S+ DESC\s+LIMIT", re.IGNORECASE)


@contextmanager
def asked() -> Iterator[dict[str, Any]]:
    """Keep every question asked of a database meanwhile, with values it was asked with.

    By SQLAlchemy or by the driver; and each of them is asked, whatever was answered before.
    """
    kept: dict[str, Any] = {}

    def keep(_: Any, __: Any, statement: str, values: Any, *___: Any) -> None:
        if statement.startswith(("SELECT", "UPDATE", "DELETE")):
            kept.setdefault(statement, values)

    def by_driver(conn: Any, statement: str, values: Any) -> Any:
        keep(conn, None, statement, values)
        return told(conn, statement, values)

    told = dialect.by_driver
    event.listen(Engine, "before_cursor_execute", keep)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(dialect, "by_driver", by_driver)
        patch.setattr(Kept, "once", lambda _, __, ___, ask: ask())
        try:
            yield kept
        finally:
            event.remove(Engine, "before_cursor_execute", keep)


def walks(shop: Shop, kept: dict[str, Any]) -> list[str]:
    """Return the questions for which SQLite would walk through a growing table."""
    raw = sqlite3.connect(shop.path)
    try:
        return [
            f"{told}: {statement}"
            for statement, values in kept.items()
            for *_, told in raw.execute(f"EXPLAIN QUERY PLAN {statement}", values)
            if _walks(told) and not ENDS.search(statement)
        ]
    finally:
        raw.close()


def _walks(told: str) -> bool:
    whole = [f"SCAN {name}" for name in GROWS]
    chain = "SEARCH entry USING PRIMARY KEY (station=?)"
    return told.split(" USING", maxsplit=1)[0] in whole or told == chain


def test_no_act_of_a_fill(shop: Shop) -> None:
    with asked() as kept:
        fill, label = shop.accepted()
        shop.hold(shop.filling(cylinder="C-1003", customer="Lena Tief"))
        printing.print_label(shop.station.record, fill, shop.clock(), lambda _: "", None)
        assert shop.collect(fill, label).done
        assert shop.amend(fill).done
        assert shop.void(fill).done
    assert len(kept) > 40
    assert walks(shop, kept) == []


def test_nor_what_a_terminal_shows_meanwhile(shop: Shop) -> None:
    fill, _ = shop.accepted()
    record = shop.station.record
    with asked() as kept:
        panel.panel_fill(record, fill)
        lookup.find(record, "C-100")
        lookup.known(record, "C-1001", shop.clock())
        book.story(record, fill)
    assert len(kept) > 10
    assert walks(shop, kept) == []


@pytest.mark.parametrize(
    "query",
    ["SELECT * FROM fill WHERE have_typed = ?",
     "SELECT * FROM entry JOIN fill_entry ON fill_entry.seq = entry.seq"
     " WHERE entry.station = 'QUAY-1' AND fill_entry.fill = ? ORDER BY entry.seq"],
)  # fmt: skip
def test_a_walk_would_be_found(shop: Shop, query: str) -> None:
    assert walks(shop, {query: (1,)})
