"""The tablet as staff have it: handed something at the Counter, seen there, taken back."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import zxingcpp
from PIL import Image
from textual.widgets import Static

from blender.station import at_tablet, handing, handover, tablet
from tests.station.shop import Shop
from tests.tui.house import Rig, run, shop_at
from tui.dialogs.choice import Choice
from tui.dialogs.on_tablet import OnTablet
from tui.tablet.qr import code

URL = "http://192.168.100.200:8023"


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Iterator[Shop]:
    shop = shop_at(rig.location.parent)
    tablet.serve_at(shop.station, URL)
    yield shop
    shop.station.record.close()


def read_off(lines: list[str], side: int = 6) -> str:
    """What a camera reads off half blocks, dark on light."""
    image = Image.new("L", (len(lines[0]) * side, 2 * len(lines) * side), 255)
    for y, line in enumerate(lines):
        for x, block in enumerate(line):
            for half, blocks in enumerate(("▀█", "▄█")):
                if block in blocks:
                    place = (x * side, (2 * y + half) * side)
                    image.paste(0, (*place, place[0] + side, place[1] + side))
    (found,) = zxingcpp.read_barcodes(image)
    return found.text


def shown_code(rig: Rig) -> list[str]:
    """The code as it stands on the screen."""
    place = rig.terminal.screen.query_one("#code", Static).region
    rows = rig.screen_text().split("\n")[place.y : place.bottom]
    return [row[place.x : place.right] for row in rows]


def open_at_it(shop: Shop, url: str) -> at_tablet.Actor:
    seq = tablet.open_with(shop.station, url.partition("#")[2]).seq
    return at_tablet.stand_in(shop.station, seq)[0]


def test_a_code_is_read_back_as_what_it_says() -> None:
    text = f"{URL}/begin#123456-{'x' * 27}"
    assert read_off(code(text)) == text
    assert len(code(text)) <= 22  # with a line of keys below it in 24


def test_a_fill_is_handed_over_seen_and_its_label_printed(rig: Rig, shop: Shop) -> None:
    fill = shop.analysed()
    rig.clock.us = shop.clock.us

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await pilot.press("alt+q")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, Choice))
            assert f"1  Fill {fill}: Kai Diver reads and signs on the tablet" in rig.screen_text()
            await pilot.press("1")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, OnTablet))
            await pilot.pause()
            url = read_off(shown_code(rig))
            assert url.startswith(f"{URL}/begin#")
            assert "It waits for the tablet." in rig.screen_text()
            actor = open_at_it(shop, url)
            rig.terminal.screen._look()
            await rig.until(pilot, lambda: "It is open on the tablet." in rig.screen_text())
            facts = {"name": "Kai Diver", "reading": "31.8"}
            assert handover.accept(shop.station, actor, fill, **facts).done
            rig.terminal.screen._look()
            await rig.until(pilot, lambda: rig.papers)
            await rig.settle(pilot)
            kind, said = rig.said()
            assert (kind, said.startswith("Signed on the tablet by Kai Diver.")) == ("done", True)
            assert "scan the cylinder" in rig.prompt()

    run(main)


def test_what_the_tablet_has_is_taken_back(rig: Rig, shop: Shop) -> None:
    rig.clock.us = shop.clock.us

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await pilot.press("alt+q")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, Choice))
            await pilot.press("1")  # a new customer
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, OnTablet))
            await pilot.press("escape")
            await rig.until(pilot, lambda: "stays with the tablet" in rig.said()[1])
            await pilot.press("alt+q")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, Choice))
            assert "3  Take back: a customer registers" in rig.screen_text()
            await pilot.press("3")
            await rig.until(pilot, lambda: "Taken back" in rig.said()[1])

    run(main)
    assert tablet.with_tablet(shop.station)["handed"] == []


def test_the_code_is_taken_back_with_w(rig: Rig, shop: Shop) -> None:
    rig.clock.us = shop.clock.us

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await pilot.press("alt+q")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, Choice))
            await pilot.press("1")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, OnTablet))
            await pilot.press("w")
            await rig.until(pilot, lambda: "Taken back" in rig.said()[1])

    run(main)
    assert shop.last().kind == "tablet.withdrawn"


def test_where_no_tablet_is_served_it_is_said_how_to(rig: Rig, shop: Shop) -> None:
    tablet.serve_at(shop.station, "")

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await pilot.press("alt+q")
            await rig.until(pilot, lambda: "fillwright serve" in rig.said()[1])

    run(main)


def test_how_far_it_has_come(shop: Shop) -> None:
    fill = shop.analysed()
    handed = tablet.hand(shop.station, shop.jo, handing.SIGN, fill=fill)
    seq = handed["handed"]
    assert tablet.how_far(shop.station, seq) == tablet.WAITING
    actor = open_at_it(shop, handed["url"])
    assert tablet.how_far(shop.station, seq) == tablet.OPEN
    handover.accept(shop.station, actor, fill, name="Kai Diver", reading="31.8")
    assert tablet.how_far(shop.station, seq) == tablet.DONE
    other = tablet.hand(shop.station, shop.jo, handing.REGISTER)["handed"]
    shop.clock.turn(tablet.TOKEN_MINUTES + 1)
    assert tablet.how_far(shop.station, other) == tablet.OVER
