"""What a manager lets on at the terminal is asked of them: both numbers, a yes, and why."""

from __future__ import annotations

from typing import Any

from textual.widgets import Input

from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.dialogs.form import Form


async def asked(rig: Rig, pilot: Any, text: str) -> None:
    """Enter what a manager must be asked about; its act waits for their answer."""
    if text:
        await rig.put(pilot, text)
    await pilot.press("enter")
    await rig.until(pilot, lambda: isinstance(rig.terminal.screen, Form))
    await pilot.pause()


async def answered(rig: Rig, pilot: Any, yes: str, why: str) -> None:
    """Fill in the manager's form and enter it."""
    fields = list(rig.terminal.screen.query(Input))
    for field, text in zip(fields, (yes, why), strict=True):
        field.value = text
    fields[-1].focus()
    await pilot.press("enter")
    await pilot.pause()


def test_a_misplaced_analysis_is_said_and_a_manager_says_yes_before_it_is_signed(
    rig: Rig, shop: Shop
) -> None:
    fill = shop.rested()

    async def main() -> None:
        async with rig.run(size=(120, 40), who="manager") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "A1 25.4")
            kind, told = rig.said()
            assert kind == "mind"
            assert "analysed O2 25." in told
            assert "calculated from the gauge 32." in told
            assert "calculated from the gauge 32." in " ".join(rig.screen_text().split())
            await rig.enter(pilot, "")
            await asked(rig, pilot, "25.4")
            assert "calculated from the gauge" in " ".join(rig.screen_text().split())
            await answered(rig, pilot, "", "the gauge jumps")
            assert isinstance(rig.terminal.screen, Form)
            await pilot.press("escape")
            await rig.settle(pilot)
            assert "25.4" not in rig.prompt()
            assert rig.said()[0] == "refused"
            assert shop.row(fill).state == "analysed"
            await asked(rig, pilot, "25.4")
            await answered(rig, pilot, "yes", "oxygen gauge found stuck")
            await rig.settle(pilot)
            assert "Your name" in rig.prompt()
            await rig.enter(pilot, "Kai Diver")

    run(main)
    (accepted,) = [one for one in shop.entries() if one.kind == "fill.accepted"]
    (allowed,) = accepted.data["allowed"]
    assert allowed.endswith("allowed by Mara Linde: oxygen gauge found stuck")


def test_an_overdue_look_is_not_planned_over_with_one_enter(rig: Rig, shop: Shop) -> None:
    fill = shop.request(customer="Otto Luft")

    async def main() -> None:
        async with rig.run(size=(120, 40), who="manager") as pilot:
            await asked(rig, pilot, "")
            assert shop.row(fill).state == "requested"
            await answered(rig, pilot, "yes", "course dive")
            await rig.settle(pilot)
            assert shop.row(fill).state == "planned"

    run(main)
    assert shop.last().data["allowed"] == [
        "certification: certified for air only, this is nitrox; allowed by Mara Linde: course dive"
    ]
