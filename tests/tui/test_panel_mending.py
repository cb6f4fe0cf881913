"""At the Panel alt+m corrects an analysis or what was left, as it does a reading."""

from __future__ import annotations

from typing import Any

from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tests.tui.terminal import Terminal
from tests.tui.terminal import run as fillwright


async def mend(rig: Rig, pilot: Any, text: str) -> tuple[str, str]:
    await pilot.press("alt+m")
    await rig.settle(pilot)
    await rig.enter(pilot, text)
    return rig.said()


def test_an_analysis_of_the_mix(rig: Rig, shop: Shop) -> None:
    fill = shop.rested()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "A1 23.1")
            assert shop.row(fill).decision != "accept"
            kind, told = await mend(rig, pilot, "32.1")
            assert kind in ("done", "mind"), told
            assert "23.1 (entry" in told

    run(main)
    assert shop.row(fill).decision == "accept"
    assert shop.last().kind == "fill.analysis-corrected"


def test_what_is_left_and_then_its_analysis(rig: Rig, shop: Shop) -> None:
    fill = shop.request(have="60bar@20C:EAN82", residual="stated")

    async def main() -> None:
        async with rig.run() as pilot:
            kind, told = await mend(rig, pilot, "60 28.0")  # an analysis is no correction of it
            assert kind == "refused"
            assert "alt+n" in told
            await rig.type(pilot, "60 EAN28 label")
            await rig.enter(pilot, "")
            assert shop.row(fill).residual == "label", rig.said()
            shop.analyse(fill, "82.0")
            await pilot.press("f1", "escape")
            rig.terminal.screen.renew()
            await rig.settle(pilot)
            kind, told = await mend(rig, pilot, "28.0")
            assert kind in ("done", "mind"), told
            kind, told = await mend(rig, pilot, "61bar 20C")
            assert kind in ("done", "mind"), told

    run(main)
    assert shop.row(fill).gauge_mbar == 61_000
    assert shop.row(fill).residual == "analysed"


def test_where_nothing_can_be_corrected_it_says_so(rig: Rig, shop: Shop) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            before = rig.prompt()
            await pilot.press("alt+m")
            await rig.settle(pilot)
            assert rig.said() == ("note", "There is nothing to correct in this fill any more.")
            assert rig.prompt() == before

    run(main)


def test_from_the_command_line(at: Terminal) -> None:
    fill = at.request("--residual", "stated", "--have", "60bar@20C:EAN82")
    answer = at.ok("fill", "correct", fill, "--have", "60bar@20C:EAN28", "--residual", "label")
    assert answer["state"] == "requested"
    done = at.analysed(cylinder="C-1001")
    first = at.ok("fill", "correct", done, "--reading", "31.9", "--key", "k")
    again = at.ok("fill", "correct", done, "--reading", "31.9", "--key", "k")
    assert (first["state"], again["repeated"]) == ("analysed", True)
    kinds = [one["kind"] for one in at.ok("book", "show", done)["exceptions"]]
    assert kinds == ["analysis-corrected"]
    both = fillwright("fill", "correct", done, "--reading", "31.9", "--have", "60bar:air", "--json")
    assert both.code == 2
    assert "one thing at a time" in both.json["error"]["text"]
