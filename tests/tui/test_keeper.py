"""What the open terminal does for its record by itself."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import pytest

from blender.errors import StorageError
from blender.record.checkpoint import load
from blender.station import ruling
from tests.station.shop import Shop
from tests.tui.house import Rig, run, shop_at
from tui.floor import Floor
from tui.keeper import Keeper


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Any:
    """The station, with a clock of its own: the keeper's goes on by itself."""
    shop = shop_at(rig.location.parent)
    rig.clock.us = shop.clock.us + 60_000_000
    yield shop
    shop.station.record.close()


@pytest.fixture(name="keeper")
def _keeper(rig: Rig, shop: Shop) -> Keeper:
    floor = Floor(rig.house)
    floor._station = shop.station
    return Keeper(floor)


def test_a_first_round_verifies_all_and_remembers_how_far(keeper: Keeper, shop: Shop) -> None:
    assert keeper.round() is None
    known = load(shop.station.record.location, shop.station.keys.public)
    assert known is not None
    assert known.seq == shop.station.record.head().seq


def test_damage_is_said_once_and_nothing_more_is_entered(keeper: Keeper, shop: Shop) -> None:
    raw = sqlite3.connect(shop.station.record.location)
    raw.execute("UPDATE cylinder SET wp_mbar = 300000")
    raw.commit()
    raw.close()
    said = keeper.round()
    assert said is not None
    assert (said[0], "wp_mbar" in said[1]) == ("refused", True)
    with pytest.raises(StorageError, match="read only"):
        shop.request()
    assert keeper.round() is None


def test_a_copy_is_made_when_it_is_due(keeper: Keeper, shop: Shop, tmp_path: Path) -> None:
    for name, value in (("copy-to", str(tmp_path / "copies")), ("copy-every", "30min")):
        ruling.set_rule(shop.station, shop.mara, name, value, reason="so that nothing is lost")
    for minutes, copies in ((0, 1), (10, 1), (31, 2)):
        shop.clock.turn(minutes)
        shop.request()
        assert keeper.round() is None
        assert len(list((tmp_path / "copies").glob("*.copy.db"))) == copies


def test_a_copy_that_fails_is_said(keeper: Keeper, shop: Shop, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for name, value in (("copy-to", str(tmp_path / "file" / "x")), ("copy-every", "30min")):
        ruling.set_rule(shop.station, shop.mara, name, value, reason="a mistake")
    said = keeper.round()
    assert said is not None
    assert said[1].startswith("Copy of the record: ")
    assert keeper.round() is None  # the same is not said again
    shop.request()  # and work goes on


def test_a_disk_that_fills_up_is_said(keeper: Keeper, monkeypatch: pytest.MonkeyPatch) -> None:
    left = [100_000_000, 10**10, 100_000_000]
    monkeypatch.setattr("blender.station.safekeeping.free_bytes", lambda _: left[0])
    for wanted in ("mind", None, "mind"):
        said = keeper.round()
        assert (said[0] if said else None) == wanted
        left.pop(0)


def test_leaving_stops_a_verification(keeper: Keeper, shop: Shop) -> None:
    keeper.stop()
    assert keeper.round() is None
    assert load(shop.station.record.location, shop.station.keys.public) is None


def test_the_office_says_when_the_last_copy_was_made(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="auditor") as pilot:
            for _ in range(3):
                await pilot.press("right")
                await rig.settle(pilot)
            await rig.settle(pilot)
            await pilot.press("end")
            await rig.settle(pilot)
            assert "No copy of this record was ever made" in rig.screen_text()

    run(main)


def test_a_record_damaged_at_the_start_is_exit_4(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="auditor") as pilot:
            raw = sqlite3.connect(shop.station.record.location)
            raw.execute("UPDATE cylinder SET wp_mbar = 300000")
            raw.commit()
            raw.close()
            rig.terminal._look_after()
            await rig.settle(pilot)
            assert "damaged" in rig.screen_text()
            rig.terminal.action_leave()
            await pilot.pause()
        assert rig.terminal.return_value == 4

    run(main)
