"""The open fills at once: with the standard library alone, and the same as the rest says."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from blender.errors import InputError, RecordError
from blender.record.glance import glance
from blender.station import book
from tests.station.shop import Shop, found
from tests.test_rooms import HEAVY, loaded


@pytest.fixture(name="shop")
def _shop(place: Any, tmp_path: Path) -> Iterator[Shop]:
    found(tmp_path, place)
    shop = Shop.open(place, tmp_path / "station.keys")
    yield shop
    shop.station.record.close()


def test_it_loads_nothing_heavy() -> None:
    found_ = loaded("import blender.record.glance")
    assert not found_ & (HEAVY - {"sqlite3"})
    assert "numpy" not in found_


def test_it_says_what_the_book_says(shop: Shop) -> None:
    shop.filling()
    shop.rested(cylinder="C-1003", customer="Uma Neu")
    held = shop.filling(cylinder="D-7", want="200bar:EAN32")
    shop.hold(held)
    shop.reject(shop.request(cylinder="T-1+T-2", have="0bar:air"))
    seen = glance(str(shop.path))
    listed = book.fills(shop.station.record)["fills"]
    told = [line for line in listed if line["state"] != "rejected"]
    assert [fill.fill for fill in seen.fills] == [line["fill"] for line in told]
    for fill, line in zip(seen.fills, told, strict=True):
        assert (fill.state, fill.serial, fill.customer) == (
            line["state"], line["cylinder"], line["customer"],
        )  # fmt: skip
        assert fill.do_not_breathe == line["do_not_breathe"]
        if line["do_not_breathe"]:
            assert line["holds_text"].startswith(fill.gas_text)
    first = seen.fills[0]
    step = shop.steps(first.fill)[0]
    assert (first.action, first.stop_mbar) == (step.action, step.to_mbar)
    assert seen.station == "QUAY-1"
    shop.station.record.close()


def test_once_analysed_it_shows_what_was_analysed(shop: Shop) -> None:
    """The list at the Panel is read at arm's length: 3.6 points off was the dangerous way."""
    fill = shop.analysed("33.4")
    (seen,) = glance(str(shop.path)).fills
    assert seen.holds[0] == pytest.approx(shop.row(fill).o2_ppm / 1e6)
    assert seen.gas_text.startswith("O2 33.")


@pytest.mark.file
def test_a_crash_left_in_the_file_does_not_stop_it(shop: Shop, tmp_path: Path) -> None:
    """A rollback journal beside the file is what a power cut leaves of an unfinished write."""
    shop.filling()
    shop.station.record.close()
    raw = sqlite3.connect(shop.path, isolation_level=None)
    raw.execute("PRAGMA cache_size=1")
    raw.execute("BEGIN IMMEDIATE")
    raw.execute("UPDATE fill SET have_typed = hex(zeroblob(20000))")
    crashed = tmp_path / "crashed"
    crashed.mkdir()
    for name in ("station.db", "station.db-journal", "station.db-wal"):
        if (tmp_path / name).exists():
            shutil.copyfile(tmp_path / name, crashed / name)
    raw.execute("ROLLBACK")
    raw.close()
    assert [fill.want_text for fill in glance(str(crashed / "station.db")).fills]


def test_what_is_no_record_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        glance(str(tmp_path / "nothing.db"))
    (tmp_path / "other.db").write_bytes(b"no database at all" * 100)
    with pytest.raises(RecordError):
        glance(str(tmp_path / "other.db"))


def test_an_erased_customer_is_said_to_be_erased(shop: Shop) -> None:
    shop.filling()
    with shop.station.record.write() as unit:
        unit.conn.exec_driver_sql("UPDATE person SET name = NULL WHERE name = 'Kai Diver'")
    (fill,) = glance(str(shop.path)).fills
    (line,) = book.fills(shop.station.record)["fills"]
    assert fill.customer == line["customer"]
    assert fill.customer.startswith("erased (P-")
    shop.station.record.close()
