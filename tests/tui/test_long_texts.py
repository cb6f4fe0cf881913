"""Three hundred letters in the field are never said back whole."""

from __future__ import annotations

import re

import pytest
from textual.widgets import Input

from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.widgets.asking import AskField

LONG = "x" * 300


@pytest.mark.parametrize(
    ("place", "before"),
    [
        ("counter", ()),
        ("counter", ("C-1001",)),
        ("counter", ("C-1001", "60 EAN28")),
        ("counter", ("C-1001", "60 EAN28", "Kai")),
        ("counter", ("C-1003",)),
        ("panel", ()),
        ("store", ()),
    ],
)
def test_what_is_refused_is_quoted_by_its_beginning(
    rig: Rig, shop: Shop, place: str, before: tuple[str, ...]
) -> None:
    shop.analysed(cylinder="C-1003")

    async def main() -> None:
        async with rig.run(place=place) as pilot:
            for text in before:
                await rig.enter(pilot, text)
            asking = rig.terminal.screen.query_one(AskField)
            for typed in (LONG, f"60 {LONG}", f"{LONG} 20"):
                rig.terminal.screen.query_one(Input).value = typed
                await pilot.pause()
                echo = str(asking.query_one("#echo").render())
                await pilot.press("enter")
                await rig.settle(pilot)
                said = [echo, rig.said()[1], str(asking.query_one("#echo").render()), rig.prompt()]
                assert max(len(run) for text in said for run in re.findall("x*", text)) <= 120

    run(main)
