"""Compressors, their air and what gas costs, in the Store by its keys."""

from __future__ import annotations

from typing import Any

import pytest

from blender.station import compressors, equipment, items, plant, pricing
from tests.station.shop import Shop
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run, shop_at
from tui.widgets.roll import Roll


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Any:
    shop = shop_at(rig.location.parent)
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen")
    compressors.add_compressor(shop.station, shop.mara, name="K1", rated_intake="40%")
    rig.clock.us = shop.clock.us + 60_000_000
    yield shop
    shop.station.record.close()


async def mark(rig: Rig, pilot: Any, key: str) -> None:
    """Mark a line of the Store."""
    roll = rig.terminal.screen.query_one(Roll)
    for _ in range(20):
        if roll.current is not None and roll.current.key == key:
            break
        await pilot.press("down")
        await rig.settle(pilot)
    assert roll.current is not None
    assert roll.current.key == key


def test_a_compressor_is_added_changed_read_and_retired(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", who="manager", size=(120, 40)) as pilot:
            await pilot.press("alt+m")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "K2", "32%", "300", "")
            assert "intake up to 32 % O2, to 300 bar" in rig.said()[1]
            await mark(rig, pilot, "compressor/K1")
            await pilot.press("alt+x")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "36%", "330bar", "200L/min")
            assert "36 % O2, to 330 bar, 200 L/min" in rig.screen_text()
            for text, kind in (("412,5", "done"), ("411", "refused"), ("", "refused")):
                await rig.enter(pilot, text)
                assert rig.said()[0] == kind, rig.said()
            assert "412.5 h on 2026-11-25" in rig.screen_text()
            await pilot.press("escape")
            await mark(rig, pilot, "compressor/K2")
            await pilot.press("alt+j")
            await rig.settle(pilot)
            await rig.enter(pilot, "sold")
            assert rig.said()[0] == "done", rig.said()
            assert "K2" not in rig.terminal.screen.query_one(Roll).rows[-1].words

    run(main)
    (one,) = [c for c in compressors.listing(shop.station.record)["compressors"]
              if not c["retired"]]  # fmt: skip
    assert one["rated_intake"] == 0.36
    assert plant.hours_of(shop.station.record)["K1"]["hours"] == 412.5


def test_a_blender_reads_hours_and_changes_no_compressor(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await mark(rig, pilot, "compressor/K1")
            await rig.enter(pilot, "100")
            assert rig.said()[0] == "done"
            await pilot.press("alt+x")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "60%", "", "")
            assert rig.said()[0] == "refused"
            assert "manager" in rig.said()[1]

    run(main)
    assert compressors.listing(shop.station.record)["compressors"][0]["rated_intake"] == 0.4


def test_hours_read_at_the_store_use_a_filter_up(rig: Rig, shop: Shop) -> None:
    """What the Store's field enters is what filters and service count by."""
    items.add(shop.station, shop.mara, "filter", "F1", on="K1", life="40h")

    async def main() -> None:
        async with rig.run(place="store", size=(120, 40)) as pilot:
            await mark(rig, pilot, "compressor/K1")
            for text in ("400", "436 20"):
                await rig.enter(pilot, text)
                assert rig.said()[0] == "done", rig.said()
            await pilot.press("alt+v")
            await rig.settle(pilot)
            assert "filter F1: changed: 90% used, 4.0 h left at 20 °C intake" in rig.screen_text()

    run(main)


def test_the_air_is_read_and_its_test_entered(rig: Rig, shop: Shop) -> None:
    """5 ppm carbon monoxide is the limit of EN 12021 for breathing air (from memory)."""

    async def main() -> None:
        async with rig.run(place="store", size=(120, 40)) as pilot:
            await mark(rig, pilot, "air/co")
            for text, kind in (("0.5", "done"), ("31ppm", "mind"), ("some", "refused")):
                await rig.enter(pilot, text)
                assert rig.said()[0] == kind, rig.said()
            assert "TOO MUCH: stop the compressor" in rig.screen_text()
            await mark(rig, pilot, "air/test")
            await rig.enter(pilot, "")
            await fill_form(
                rig, pilot, "2026-02-10", "0.5ppm", "420ppm", "0.05mg/m3", "20mg/m3",
                "coast laboratory, report 17",
            )  # fmt: skip
            assert rig.said()[0] == "done", rig.said()
            assert "sampled 2026-02-10, within the limits, oxygen-compatible" in rig.screen_text()

    run(main)


def test_prices_of_gas_and_of_air(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", who="manager") as pilot:
            await pilot.press("alt+w")
            await rig.settle(pilot)
            await rig.enter(pilot, "6.50")
            await mark(rig, pilot, "compressor/K1")
            await pilot.press("alt+w")
            await rig.settle(pilot)
            await rig.enter(pilot, "0.30")
            assert "top: 0.3 a cubic metre" in rig.said()[1]

    run(main)
    known = {
        one["supply"]: one["price_m3"] for one in pricing.listing(shop.station.record)["prices"]
    }
    assert known == {"o1": 6.5, "top": 0.3}
