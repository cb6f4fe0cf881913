"""Past a stop the Panel's next step is to plan again, whatever is looked at meanwhile."""

from __future__ import annotations

from typing import Any

import pytest
from textual.widgets import Digits

from tests.station.shop import Shop
from tests.tui.house import Rig, run, shop_at


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Any:
    shop = shop_at(rig.location.parent)
    rig.clock.us = shop.clock.us + 60_000_000
    shop.clock = rig.clock
    yield shop
    shop.station.record.close()


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
