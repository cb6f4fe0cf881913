"""At a terminal a name alike another's is asked about before anybody is added."""

from __future__ import annotations

from blender.record import read
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run, shop_at
from tests.tui.terminal import Terminal
from tui.dialogs.confirm import Confirm


def test_a_customer_alike_is_added_only_on_a_yes(rig: Rig) -> None:
    shop = shop_at(rig.location.parent)
    rig.clock.us = shop.clock.us + 60_000_000

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            for key, added in (("n", False), ("y", True)):
                await pilot.press("alt+d")
                await rig.settle(pilot)
                await fill_form(rig, pilot, "Kai Dyver", "nitrox")
                assert isinstance(rig.terminal.screen, Confirm)
                assert "Kai Diver (customer" in rig.screen_text().replace("\n", " ")
                await pilot.press(key)
                await rig.settle(pilot)
                assert (rig.said()[1] == "Kai Dyver is added.") is added, rig.said()

    run(main)
    with shop.station.record.read() as conn:
        assert [row.name for row in read.people(conn)].count("Kai Dyver") == 1
    shop.station.record.close()


def test_a_script_reads_it_in_the_answer(at: Terminal) -> None:
    made = at.ok("person", "add", "KAI DIVER", "--role", "customer")
    assert made["alike"][0]["name"] == "Kai Diver"
    assert made["cautions"]
