"""Choosing a recipe at the Panel, and the words a plan takes there."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.dialogs.wayson import WaysOn
from tui.typed_options import options
from tui.widgets.asking import AskField


def test_a_recipe_is_chosen_by_its_number(rig: Rig, shop: Shop) -> None:
    fill = shop.request()
    before = shop.seq()

    async def main() -> None:
        async with rig.run() as pilot:
            rig.terminal.screen.query_one(AskField).field.value = "flow 40%"
            await pilot.press("alt+v")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, WaysOn))
            said = rig.screen_text()
            assert "Continuous flow" in said
            assert "Partial pressure" in said
            assert shop.seq() == before
            await pilot.press("1")
            await rig.until(pilot, lambda: shop.row(fill).state == "planned")

    run(main)
    assert shop.last().data["result"]["o2_ppm"] == 320_000


def test_what_is_typed_for_a_new_plan_counts_and_a_scan_does_not(rig: Rig, shop: Shop) -> None:
    fill = shop.request()
    assert shop.plan(fill).done

    async def main() -> None:
        async with rig.run() as pilot:
            field = rig.terminal.screen.query_one(AskField).field
            for other, flows in ((False, False), (True, True)):
                if other:
                    await pilot.press("alt+n")
                    await rig.settle(pilot)
                field.value = "flow 40%"
                await pilot.press("alt+v")
                await rig.until(pilot, lambda: isinstance(rig.terminal.screen, WaysOn))
                assert ("Continuous flow" in rig.screen_text()) is flows
                await pilot.press("escape")
                await rig.settle(pilot)

    run(main)


def test_a_refusal_is_not_said_twice(rig: Rig, shop: Shop) -> None:
    shop.request()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "sideways")
            assert rig.said()[0] == "refused"
            assert rig.screen_text().count("words with a value after each") == 1

    run(main)


def test_the_words_of_every_method() -> None:
    assert options("mass 5g").method == "mass"
    assert options("banked 40% from b1").supply == ("b1",)
    found = options(
        "gauge 1.6@400bar kind wall whip 0.1L booster 10bar/30/250bar compressor 232bar"
    )
    assert (found.gauge, found.temperature_kind, found.whip) == ("1.6@400bar", "wall", "0.1L")
    assert options("air-first 100psi draw b2,b1").draw == "b2,b1"
    with pytest.raises(InputError, match="one method"):
        options("flow 40% mass 5g")
