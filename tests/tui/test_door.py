"""The door of the terminal: a wait after wrong secrets, and a secret that was given for once."""

from __future__ import annotations

import pytest
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


def _add(rig: Rig, *names: str) -> None:
    shop = Shop.open(rig.location)
    for name in names:
        people.add_person(
            shop.station, shop.mara, name=name, role="blender", secret=SECRET, cost=CHEAP
        )
    shop.station.record.close()


@pytest.mark.parametrize("typed", ["jo", "BLEND", "  jo b", "Jo Blend"])
def test_a_part_of_a_name_will_do_and_is_shown_whole_before_the_secret(
    rig: Rig, typed: str
) -> None:
    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            await put(rig, pilot, typed)
            assert f"Secret of {NAMES['blender']} " in rig.prompt()
            await put(rig, pilot, SECRET)
            await rig.until(pilot, lambda: rig.terminal.floor.actor is not None)
            assert rig.terminal.floor.actor.name == NAMES["blender"]

    run(main)


def test_where_a_part_is_several_peoples_they_are_named_and_no_secret_is_tried(rig: Rig) -> None:
    _add(rig, "José Blendt", "Ada Ruef")

    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            await put(rig, pilot, "jo")
            told = "jo may be Jo Blend or José Blendt: type more of the name"
            assert rig.said() == ("refused", told)
            assert "Who is there" in rig.prompt()
            await put(rig, pilot, "jose")
            assert "Secret of José Blendt" in rig.prompt()
            await put(rig, pilot, "wrong")  # not a word of whose else it might have been
            assert rig.said()[1].startswith("name and secret do not belong together; try again")

    run(main)
