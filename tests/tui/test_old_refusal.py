"""A refusal leads to the next question, and is gone before the one after that."""

from __future__ import annotations

from tests.station.shop import Shop
from tests.tui.house import Rig, run


def test_it_stays_with_what_it_leads_to_and_no_longer(rig: Rig, shop: Shop) -> None:
    shop.request(have="60bar@20C:EAN40", residual="unknown")

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "")  # what is in it must be analysed first
            assert rig.said()[0] == "refused"
            assert "to start" not in rig.prompt()
            assert rig.said()[1]
            await rig.enter(pilot, "C-1001")  # the cylinder whose gas is analysed: nothing is said
            assert "reading" in rig.prompt()
            assert rig.said() == ("note", "")

    run(main)


def test_a_question_of_ones_own_takes_it_away(rig: Rig, shop: Shop) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "lots")
            assert rig.said()[0] == "refused"
            await pilot.press("alt+h")
            await rig.settle(pilot)
            assert "Why is it held" in rig.prompt()
            assert rig.said() == ("note", "")
            await rig.enter(pilot, " ")
            assert rig.said()[0] == "refused"
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.said() == ("note", "")

    run(main)


def test_with_the_same_question_it_stays(rig: Rig, shop: Shop) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "lots")
            rig.terminal.screen.renew()
            await rig.settle(pilot)
            assert rig.said()[0] == "refused"

    run(main)
