"""Gas in hand, in the Store by its keys: deliveries, a bank against its doubt, a suit bottle."""

from __future__ import annotations

from typing import Any

import pytest

from blender.station import deliveries, equipment
from blender.station.receipt import free_gas_m3
from tests.station.shop import Shop
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run, shop_at
from tui.dialogs.page import Page
from tui.places.store_gas_lines import free_gas
from tui.shown import Units


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Any:
    shop = shop_at(rig.location.parent)
    equipment.add_supply(
        shop.station, shop.mara, name="o1", gas="oxygen", size="50L", at="200bar"
    )  # fmt: skip
    rig.clock.us = shop.clock.us + 60_000_000
    yield shop
    shop.station.record.close()


def test_a_delivery_comes_and_a_bottle_of_it_is_connected(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", size=(120, 40)) as pilot:
            await pilot.press("alt+g")
            await rig.settle(pilot)
            assert "a week of use is needed to tell" in rig.screen_text()
            await pilot.press("d")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "oxygen99.5", "50L", "2", "200", "LOT-77", "", "", "")
            assert "LOT-77, 2 left in the store" in rig.screen_text()
            await pilot.press("c")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "o1", "1", "")
            assert isinstance(rig.terminal.screen, Page)
            assert "LOT-77, 1 left in the store" in rig.screen_text()
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.said() == ("done", "o1: another bottle of oxygen99.5.")

    run(main)
    with shop.station.record.read() as conn:
        (one,) = deliveries.listing(conn)["deliveries"]
    assert (one["remaining"], one["lot"]) == (1, "LOT-77")


def test_a_delivery_that_is_none_is_refused_and_kept(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("alt+g")
            await rig.settle(pilot)
            await pilot.press("c")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "o1", "7", "")
            kind, told = rig.said()
            assert (kind, "in the store are none" in told) == ("refused", True), told
            assert rig.terminal.drafts["Connect a bottle from the store"]["delivery"] == "7"

    run(main)


@pytest.mark.parametrize(
    ("shown", "kind", "words"),
    [
        ("199", "done", "by the record 200.0 bar ± "),
        ("150", "mind", "a leak, or gas used that nobody entered. It is an exception now."),
        ("240", "mind", "a mis-entry, or another bottle was connected. It is an exception now."),
    ],
)
def test_a_bank_is_held_against_its_doubt(
    rig: Rig, shop: Shop, shown: str, kind: str, words: str
) -> None:
    """A class 1.6 gauge of 315 bar, twice (k = 2): about 8 bar; 50 bar is a leak."""

    async def main() -> None:
        async with rig.run(place="store", size=(120, 40)) as pilot:
            await rig.enter(pilot, shown)
            assert rig.said()[0] == kind, rig.said()
            assert words in rig.said()[1]

    run(main)


def test_the_tag_of_a_suit_bottle_is_printed_but_not_of_a_cylinder(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            for serial, kind in (("SUIT-4", "mind"), ("C-1001", "refused")):
                await pilot.press("alt+q")
                await rig.settle(pilot)
                await fill_form(rig, pilot, serial, "50")
                assert rig.said()[0] == kind, rig.said()

    run(main)
    assert list(rig.papers) == ["argon-SUIT-4.pdf"]


def test_free_gas_in_both_units() -> None:
    """One mole of ideal gas at 0 degC and 1 atm is 22.414 L (CODATA); 1 cu ft is 28.3168 L."""
    assert free_gas_m3(1.0) * 1000.0 == pytest.approx(22.414, abs=1e-3)
    assert free_gas(1000.0, Units()) == "22.4 m³"
    assert free_gas(1000.0, Units(imperial=True)) == "792 cu ft"
