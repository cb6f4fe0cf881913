"""A rest that is a rule, at the Panel: who must wait, and who may waive it with a reason."""

from __future__ import annotations

from typing import Any

import pytest
from textual.widgets import Input

from blender.station import ruling
from tests.station.shop import Shop
from tests.tui.house import Rig, run, shop_at


@pytest.fixture(name="resting")
def _resting(rig: Rig) -> Any:
    """A station whose rule is ten minutes, and a fill whose last gas went in just now."""
    shop = shop_at(rig.location.parent)
    ruling.set_rule(shop.station, shop.mara, "rest", "10min", reason="the insurer asks for it")
    fill = shop.rested()
    rig.clock.us = shop.clock.us + 60_000_000
    shop.clock = rig.clock
    yield shop, fill
    shop.station.record.close()


def test_a_manager_waives_it_with_a_reason(rig: Rig, resting: tuple[Shop, int]) -> None:
    shop, fill = resting

    async def main() -> None:
        async with rig.run(who="manager") as pilot:
            for text in ("C-1001", "A1 32.1"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"
            assert "let it rest 10 min" in rig.said()[1]
            assert "why need it not rest?" in rig.prompt()
            await rig.enter(pilot, "")
            assert rig.said()[0] == "refused"
            await rig.enter(pilot, "rolled for a minute")
            assert shop.row(fill).state == "analysed", rig.said()
            assert rig.terminal.screen.query_one(Input).value == ""

    run(main)
    allowed = [row.text for row in shop.exceptions(fill) if row.kind == "allowed"]
    assert allowed[-1].endswith("waived: rolled for a minute")


def test_esc_lets_it_rest_and_keeps_what_was_typed(rig: Rig, resting: tuple[Shop, int]) -> None:
    shop, fill = resting

    async def main() -> None:
        async with rig.run(who="manager") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "A1 32.1")
            await rig.put(pilot, "rolled for a")
            await pilot.press("escape")
            await rig.settle(pilot)
            await rig.enter(pilot, "C-1001")
            assert rig.terminal.screen.query_one(Input).value == "A1 32.1"
            await pilot.press("enter")
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one(Input).value == "rolled for a"
            await pilot.press("escape")
            rig.clock.turn(10)
            await rig.enter(pilot, "C-1001")
            await pilot.press("enter")
            await rig.settle(pilot)
            assert shop.row(fill).state == "analysed", rig.said()

    run(main)


def test_a_blender_must_wait_and_is_told_who_need_not(rig: Rig, resting: tuple[Shop, int]) -> None:
    shop, fill = resting

    async def main() -> None:
        async with rig.run() as pilot:
            for text in ("C-1001", "A1 32.1"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"
            assert "a manager may waive that" in rig.said()[1]
            assert "serial" in rig.prompt()

    run(main)
    assert shop.row(fill).state == "resting"


def test_a_reading_is_waived_too_and_leaves_nothing_in_the_field(
    rig: Rig, resting: tuple[Shop, int]
) -> None:
    shop, fill = resting

    async def main() -> None:
        async with rig.run(who="manager") as pilot:
            await pilot.press("alt+n")
            await rig.settle(pilot)
            await rig.enter(pilot, "229 20")
            assert "why need it not rest?" in rig.prompt()
            await rig.enter(pilot, "to see how it cools")
            assert rig.said()[0] in ("done", "mind")
            await pilot.press("alt+n")
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one(Input).value == ""

    run(main)
    assert shop.row(fill).gauge_mbar == 229_000
