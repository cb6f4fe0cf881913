"""Past a stop the Panel's next step is to plan again, whatever is looked at meanwhile."""

from __future__ import annotations

import pytest
from textual.widgets import Digits

from blender.record.glance import glance
from blender.record.trouble import Trouble
from blender.station import batch
from tests.station.shop import Shop
from tests.tui.house import Rig, run


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_no_stop_is_shown_after_one_was_passed(rig: Rig, shop: Shop, size: tuple[int, int]) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run(size=size) as pilot:
            await rig.enter(pilot, "92 20")
            await pilot.press("escape")
            await rig.settle(pilot)
            shown = " ".join(rig.screen_text().split())
            assert "PLAN AGAIN: 92.0 bar is" in shown
            assert "Let in air" not in shown
            assert not rig.terminal.screen.query_one("#digits", Digits).parent.display
            assert "Enter plans" in rig.prompt()
            await pilot.press("alt+n")  # a decision: it goes on as it was planned
            await rig.settle(pilot)
            await rig.enter(pilot, "120 20")
            assert "Let in air" in " ".join(rig.screen_text().split())

    run(main)
    assert shop.row(fill).gauge_mbar == 120_000


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
@pytest.mark.parametrize(
    ("want", "told"),
    [
        ("230bar:EAN32", "O2 stop 84.4 bar: 7.6 over"),
        ("3000psi:EAN32", "O2 stop 1186 psi: 148 over"),
    ],
)
def test_the_list_says_which_stop_was_passed_by_how_much_and_what_to_do(
    rig: Rig, shop: Shop, size: tuple[int, int], want: str, told: str
) -> None:
    fills = [shop.filling(cylinder=serial, want=want) for serial in ("C-1001", "C-1003")]
    shop.reading(fills[0], "92bar")

    async def main() -> None:
        async with rig.run(size=size) as pilot:
            if "psi" in want:
                rig.terminal.action_units()
            await rig.settle(pilot)
            await pilot.press("f3")  # one stands at the other cylinder
            await rig.settle(pilot)
            rack = [line[:30] for line in rig.screen_text().splitlines()[1:6]]
            assert "PLAN AGAIN" in rack[1]
            assert told in rack[2]
            assert "C-1003" in rack[3]
            await pilot.click("#rack", offset=(2, 2))  # its third line is its own
            await rig.settle(pilot)
            assert rig.terminal.screen.focused_fill == fills[0]
            shop.reading(fills[0], "120bar")  # gone on with as it was planned
            await pilot.press("f3", "f2")
            await rig.settle(pilot)
            assert told not in rig.screen_text()

    run(main)


def test_a_batchs_board_does_not_name_the_next_stop_either(rig: Rig, shop: Shop) -> None:
    one = batch.BatchCylinder("C-1001", "60bar@20C:EAN28", "analysed")
    batch.request_batch(
        shop.station, shop.jo, cylinders=[one], customer="Kai Diver", want="230bar:EAN32"
    )
    shop.plan(1)
    shop.start(1)
    assert batch.board(shop.station.record, 1)["lines"][0]["beyond_stop"] is None
    shop.reading(1, "92bar")
    assert "beyond the stop" in batch.board(shop.station.record, 1)["lines"][0]["beyond_stop"]
    told = glance(str(rig.location)).fills[0].trouble  # the figures the sentence has
    assert told == Trouble("beyond-stop", 84.4, 92.0, "oxygen")


def test_analysed_while_it_is_held_it_is_planned_again_before_it_goes_on(
    rig: Rig, shop: Shop
) -> None:
    fill = shop.filling()
    shop.reading(fill, "92bar")
    shop.hold(fill)

    async def main() -> None:
        async with rig.run() as pilot:
            assert "to go on with it" in rig.prompt()
            shop.analyse(fill, "53.4")
            await pilot.press("f2")
            await rig.settle(pilot)
            assert "Enter plans" in rig.prompt()
            shown = " ".join(line[46:].strip() for line in rig.screen_text().splitlines())
            assert "plan again from what was analysed, then resume" in shown
            await rig.enter(pilot, "")
            assert "to go on with it" in rig.prompt()

    run(main)
