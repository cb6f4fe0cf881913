"""The door of the terminal: a wait after wrong secrets, and a secret that was given for once."""

from __future__ import annotations

from textual.widgets import Input

from blender.station import people
from tests.station.shop import CHEAP, NAMES, SECRET, Shop
from tests.tui.house import Rig, run

ONCE, OWN = "neap tide", "rising tide"


async def put(rig: Rig, pilot: object, *typed: str) -> None:
    for text in typed:
        rig.terminal.screen.query_one(Input).value = text
        await pilot.press("enter")
        await rig.settle(pilot)


def test_wrong_secrets_are_made_to_wait(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            await put(rig, pilot, NAMES["blender"], *["wrong"] * 5)
            assert "do not belong together" in rig.said()[1]
            await put(rig, pilot, SECRET)
            assert rig.terminal.floor.actor is None
            assert "wait" in rig.said()[1]
            rig.clock.turn(1)
            await put(rig, pilot, SECRET)
            assert rig.terminal.floor.actor is not None

    run(main)


def test_a_secret_given_for_once_is_replaced_before_anything(rig: Rig) -> None:
    shop = Shop.open(rig.location)
    people.reset_secret(
        shop.station, shop.mara, NAMES["blender"], reason="forgot", secret=ONCE, cost=CHEAP
    )
    shop.station.record.close()

    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            await put(rig, pilot, NAMES["blender"], ONCE)
            assert rig.terminal.floor.actor is None
            await pilot.press("alt+p")
            assert rig.terminal.current_mode == "door"
            await put(rig, pilot, OWN, "something else")  # they differ
            assert rig.terminal.floor.actor is None
            await put(rig, pilot, ONCE, ONCE)  # the one that was given
            assert rig.said()[0] == "refused"
            await put(rig, pilot, OWN, OWN)
            await rig.until(pilot, lambda: rig.terminal.floor.actor is not None)
            assert rig.terminal.current_mode == "panel"

    run(main)
