"""Compressors and prices: by the command line, in the Store, and in the recipes of the Panel."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from blender.station import compressors, equipment, pricing
from blender.station.planning import plan
from blender.station.recipes import recipes
from tests.station.shop import NAMES, Shop
from tests.tui.house import Rig, run, shop_at
from tests.tui.terminal import Terminal
from tui.dialogs.wayson import WaysOn
from tui.typed_options import options

BOSS = ("--as", NAMES["manager"])


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Iterator[Shop]:
    shop = shop_at(rig.location.parent)
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="50L", at="180bar")
    compressors.add_compressor(
        shop.station, shop.mara, name="K1", rated_intake="40%", maximum="330bar",
        delivery="200L/min",
    )  # fmt: skip
    pricing.set_price(shop.station, shop.mara, supply="o1", price="6.5")
    rig.clock.us = shop.clock.us + 60_000_000
    shop.clock = rig.clock
    yield shop
    shop.station.record.close()


def test_a_compressor_by_the_command_line(at: Terminal) -> None:
    made = at.ok("compressor", "add", "K1", "--rated-intake", "40%", "--maximum", "330bar", *BOSS)
    assert made == {
        "name": "K1", "rated_intake": 0.4, "maximum_bar": 330.0, "delivery_l_min": None,
        "retired": None,
    }  # fmt: skip
    at.ok("compressor", "change", "K1", "--delivery", "200L/min", *BOSS)
    listed = at("compressor", "list")
    assert "intake up to 40 % O2, to 330 bar, 200 L/min" in listed.out
    assert at("compressor", "add", "K2", "--rated-intake", "40%").code == 5  # Jo is no manager
    assert at("compressor", "add", "K1", "--rated-intake", "32%", *BOSS).code == 2
    at.ok("compressor", "retire", "K1", "--reason", "sold", *BOSS)
    assert "retired: sold" in at("compressor", "list").out


def test_a_price_by_the_command_line(at: Terminal) -> None:
    assert at.ok("price", "set", "oxygen", "6.50", *BOSS) == {"supply": "oxygen", "price_m3": 6.5}
    assert at("price", "set", "oxygen", "6.50").code == 5
    assert at("price", "set", "argon", "6.50", *BOSS).code == 2
    said = at("price", "list").out
    assert "6.5 a m3 of free gas" in said
    assert "not set" in said


def test_the_store_has_its_line(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            said = rig.screen_text()
            assert "Compressors" in said
            assert "intake up to 40 % O2, to 330 bar, 200 L/min" in said
            await pilot.press("alt+u")
            await rig.settle(pilot)
            assert "to 4786 psi" in rig.screen_text()

    run(main)


def test_the_panels_recipes_include_flow_and_say_what_they_cost(rig: Rig, shop: Shop) -> None:
    fill = shop.request()

    async def main() -> None:
        async with rig.run(size=(120, 40)) as pilot:
            await pilot.press("alt+v")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, WaysOn))
            said = rig.screen_text()
            assert "Continuous flow" in said
            assert "costs 1.9" in said  # 0.305 m3 of oxygen at 6.5
            await pilot.press("escape")
            await rig.settle(pilot)
            await rig.enter(pilot, "flow rated")
            assert shop.row(fill).method == "continuous-flow", rig.said()

    run(main)
    assert shop.last().data["rated_ppm"] == 400_000


def test_a_tower_typed_counts_in_the_recipe_of_a_run(shop: Shop) -> None:
    fill = shop.request(have="45bar@20C:air", want="220bar:EAN32")
    asked = options("flow rated tower 3L@150bar:air")
    found = {way.text.partition(":")[0]: way for way in recipes(shop.station.record, fill, asked)}
    assert found["Continuous flow"].options.tower == "3L@150bar:air"
    assert found["Partial pressure"].options.tower is None
    plan(shop.station, shop.jo, fill, found["Continuous flow"].options)
    assert shop.last().data["steps"][0]["supply"] == "tower"


def test_the_word_rated_leaves_it_to_the_record() -> None:
    assert options("flow rated").rated_intake is None
    assert options("flow 32%").rated_intake == "32%"
    assert options("mass rated").scale == "rated"  # belongs to the compressor alone
