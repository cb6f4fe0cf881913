"""The customer's view of one thing: what it shows, what it can do, and that it can do no more."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Button, Input, Static

from blender.station import handing, tablet
from tests.station.shop import Shop
from tests.tui.house import Rig, run, shop_at
from tui.tablet.customer import Customer
from tui.tablet.keypad import Keypad
from tui.tablet.step import Over, Step
from tui.widgets.signpad import SignPad

SIZES = [(85, 29), (64, 39), (85, 25)]  # a tablet lying, upright, and lying below a browser's bars


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Iterator[Shop]:
    shop = shop_at(rig.location.parent)
    tablet.serve_at(shop.station, "http://127.0.0.1:8023")
    yield shop
    shop.station.record.close()


class Hand:
    """Somebody who uses a customer's view by its buttons alone."""

    def __init__(self, app: Customer, pilot: Pilot[int]) -> None:
        self.app, self.pilot = app, pilot

    @property
    def head(self) -> str:
        return self.app.screen.HEAD if isinstance(self.app.screen, Step) else ""

    async def tap(self, *names: str) -> None:
        for name in names:
            button = self.app.screen.query_one(f"#{name}", Button)
            while button.has_class("-active"):  # a button tapped twice at once is tapped once
                await self.pilot.pause(0.02)
            await self.pilot.click(f"#{name}")
            await self.settle()

    async def keys(self, typed: str) -> None:
        for key in typed:
            (button,) = [one for one in self.app.screen.query(Keypad).first().query(Button)
                         if one.name == key]  # fmt: skip
            await self.pilot.click(button)
        await self.settle()

    async def put(self, field: str, text: str) -> None:
        self.app.screen.query_one(f"#{field}", Input).value = text
        await self.settle()

    async def draw(self) -> None:
        await self.pilot.mouse_down(SignPad, offset=(4, 2))
        for x in (10, 20, 30):
            await self.pilot.hover(SignPad, offset=(x, 1 + x // 10))
        await self.pilot.mouse_up(SignPad, offset=(30, 4))

    async def settle(self) -> None:
        for _ in range(3):
            await self.pilot.pause()
            await self.app.workers.wait_for_complete()

    def text(self) -> str:
        strips = self.app.screen._compositor.render_strips()
        return "\n".join("".join(part.text for part in strip) for strip in strips)

    def word(self) -> str:
        return str(self.app.screen.query_one("#word", Static).render())


@asynccontextmanager
async def at_it(
    shop: Shop, rig: Rig, purpose: str, size: tuple[int, int] = SIZES[0], **about: Any
) -> AsyncIterator[Hand]:
    handed = tablet.hand(shop.station, shop.jo, purpose, **about)
    rig.clock.us = shop.clock.us
    app = Customer(rig.house(), handed["handed"])
    async with app.run_test(size=size, notifications=True) as pilot:
        hand = Hand(app, pilot)
        await hand.settle()
        yield hand
        if hasattr(app, "matter"):
            app.matter.station.record.close()


@pytest.mark.parametrize("size", SIZES)
def test_every_button_can_be_hit_and_nothing_is_cut_off(
    shop: Shop, rig: Rig, size: tuple[int, int]
) -> None:
    fill = shop.analysed()

    async def look(hand: Hand) -> None:
        for button in hand.app.screen.query(Button):
            if button.display and button.region:
                assert button.region.height >= 3, button
                assert button.region.width >= 10, button
                assert hand.app.screen.region.contains_region(button.region), button
        assert not hand.app.screen.query_one("#body").allow_vertical_scroll, hand.text()

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, size, fill=fill) as hand:
            await look(hand)
            await hand.tap("on")
            await look(hand)
            await hand.keys("31.8")
            await hand.tap("on")
            assert hand.head == "This is what you sign for"
            await look(hand)
            await hand.tap("on")
            await look(hand)
            assert hand.app.screen.query_one(SignPad).size.height >= 8
        async with at_it(shop, rig, handing.REGISTER, size) as hand:
            await look(hand)
            await hand.put("name", "Yara Quist")
            await hand.tap("on")
            await look(hand)

    run(main)


def test_both_units_at_every_step(shop: Shop, rig: Rig) -> None:
    fill = shop.analysed()

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            assert "230 bar at 20 °C" in hand.text()
            assert "33 m / 108 ft" in hand.text()
            await hand.tap("units")
            assert "3336 psi at 68 °F (on the label 230 bar at 20 °C)" in hand.text()
            assert "108 ft / 33 m" in hand.text()
            assert "use bar, m" in hand.text()

    run(main)


def test_another_name_is_asked_once_and_recorded_as_representative(shop: Shop, rig: Rig) -> None:
    fill = shop.analysed()

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            await hand.tap("on")
            await hand.keys("31.8")
            await hand.tap("on", "on", "sign")
            assert "Type your name first" in hand.word()
            await hand.put("name", "Uma Neu")
            await hand.tap("sign")
            assert "Nothing is drawn" in hand.word()
            await hand.tap("sign")
            assert "Uma Neu is not the name this fill is for, Kai Diver" in hand.word()
            assert shop.row(fill).state == "analysed"
            await hand.tap("sign")
            assert hand.head == "Thank you"

    run(main)
    assert shop.last().data["representative"] is True


def test_what_a_check_refuses_is_said_and_nothing_is_signed(shop: Shop, rig: Rig) -> None:
    from blender.station import people

    fill = shop.analysed()
    people.see_card(shop.station, shop.jo, shop.row(fill).customer, "air")

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            await hand.tap("on")
            await hand.keys("31.8")
            await hand.tap("on", "on")
            await hand.put("name", "Kai Diver")
            await hand.draw()
            await hand.tap("sign")
            assert "ask the staff" in hand.word()
            assert hand.head == "Sign here"

    run(main)
    assert shop.row(fill).state == "analysed"


def test_undo_and_clear_and_back_keep_what_they_should(shop: Shop, rig: Rig) -> None:
    async def main() -> None:
        async with at_it(shop, rig, handing.REGISTER, customer="Uma Neu") as hand:
            await hand.tap("on")
            await hand.draw()
            await hand.draw()
            await hand.tap("undo")
            assert len(hand.app.screen.query_one(SignPad).drawn) == 1
            await hand.tap("back", "on")
            assert len(hand.app.screen.query_one(SignPad).drawn) == 1
            assert hand.app.screen.query_one("#name", Input).value == "Uma Neu"
            await hand.tap("clear")
            assert hand.app.screen.query_one(SignPad).drawn == []
            await hand.put("name", "Somebody Else")
            await hand.draw()
            await hand.tap("sign")
            assert "this is for Uma Neu" in hand.word()

    run(main)


@pytest.mark.parametrize("name", ["[/]", "[@click=app.exit]x[/]", "x" * 80, "محمد علي", "=1+1"])
def test_a_name_is_shown_and_kept_letter_by_letter(shop: Shop, rig: Rig, name: str) -> None:
    async def main() -> None:
        async with at_it(shop, rig, handing.REGISTER) as hand:
            await hand.put("name", name)
            await hand.tap("on", "on")
            await hand.draw()
            await hand.tap("sign")
            assert hand.head == "Thank you"
            assert "".join(name.split())[:20] in "".join(hand.text().split())

    run(main)


@pytest.mark.parametrize("name", ["", "  ", "a\u202eb", "a\x07b"])
def test_what_is_no_name_is_refused_in_words(shop: Shop, rig: Rig, name: str) -> None:
    async def main() -> None:
        async with at_it(shop, rig, handing.REGISTER) as hand:
            await hand.put("name", name)
            await hand.tap("on")
            assert hand.word().startswith(" NO ")
            assert hand.head == "Welcome. Who are you?"

    run(main)


def test_no_key_leads_anywhere_else(shop: Shop, rig: Rig) -> None:
    fill = shop.analysed()

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            before = hand.text()
            for key in ("ctrl+p", "ctrl+q", "ctrl+c", "f1", "alt+o", "alt+c", "escape", "ctrl+g",
                        "ctrl+backslash", "f12", "ctrl+s"):  # fmt: skip
                await hand.pilot.press(key)
            await hand.settle()
            assert hand.app.is_running
            assert hand.text() == before
            for name in ("Lena Tief", "Otto Luft", "Mara Linde", "C-1002"):
                assert name not in hand.text()

    run(main)


def test_it_ends_when_it_is_withdrawn_or_its_time_is_over(shop: Shop, rig: Rig) -> None:
    fill = shop.analysed()

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            tablet.withdraw(shop.station, shop.jo)
            hand.app._look()
            await hand.settle()
            assert isinstance(hand.app.screen, Over)
            assert "withdrawn" in hand.text()
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            rig.clock.turn(tablet.LONGEST_MINUTES[handing.SIGN] + 1)
            hand.app._look()
            await hand.settle()
            assert "The time for this is over" in hand.text()
            await hand.tap("close")
            assert hand.app.return_value == 0

    run(main)


def test_an_entry_that_hands_nothing_over_opens_nothing(shop: Shop, rig: Rig) -> None:
    async def main() -> None:
        app = Customer(rig.house(), 2)
        async with app.run_test(size=SIZES[0]) as pilot:
            hand = Hand(app, pilot)
            await hand.settle()
            assert hand.head == "This is over"

    run(main)


def test_helium_is_asked_for_where_there_is_some(shop: Shop, rig: Rig) -> None:
    fill = shop.filling(customer="Lena Tief", want="200bar:21/35", have="0bar:air")
    for step in shop.steps(fill):
        if step.action == "add":
            shop.reading(fill, f"{step.to_mbar / 1000}bar")
    o2, he = (shop.moles(fill)[at] / sum(shop.moles(fill)) * 100 for at in (0, 1))
    assert shop.analyse(fill, f"{o2:.1f}", f"{he:.1f}").state == "analysed"

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            await hand.tap("on")
            await hand.keys(f"{o2:.1f}")
            await hand.tap("field-he")
            await hand.keys(f"{he:.1f}")
            await hand.tap("on")
            assert f"You read         oxygen {o2:.1f} %, helium {he:.1f} %" in hand.text()

    run(main)


def test_readings_that_differ_are_said_at_the_keypad_and_nobody_signs(shop: Shop, rig: Rig) -> None:
    fill = shop.analysed("32.1")

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            await hand.tap("on", "on")
            assert "such as 31.8" in hand.word()
            await hand.keys("23.8")
            await hand.tap("on")
            assert hand.head == "Your own analysis"
            assert "32.1 % oxygen, you read 23.8 % oxygen" in " ".join(hand.word().split())
            assert shop.row(fill).state == "analysed"
            await hand.tap("on")
            assert "such as 31.8" in hand.word()
            await hand.keys("23.8")
            await hand.tap("on")
            assert hand.head == "Not signed"
            assert isinstance(hand.app.screen, Over)
            assert "23.8 %" in hand.text()

    run(main)
    assert shop.row(fill).state == "recheck"
    assert shop.last().kind == "fill.disputed"


def test_a_second_reading_that_agrees_goes_on(shop: Shop, rig: Rig) -> None:
    fill = shop.analysed("32.1")

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            await hand.tap("on")
            await hand.keys("23.8")
            await hand.tap("on")
            await hand.keys("31.9")
            await hand.tap("on")
            assert hand.head == "This is what you sign for"

    run(main)


def test_a_customers_no_reaches_the_staff(shop: Shop, rig: Rig) -> None:
    fill = shop.analysed("32.1")

    async def main() -> None:
        async with at_it(shop, rig, handing.SIGN, fill=fill) as hand:
            await hand.tap("stop")
            assert "Nothing was signed" in hand.text()

    run(main)
    said = shop.last()
    assert said.kind == "fill.declined"
    (stopped,) = tablet.with_tablet(shop.station)["stopped"]
    assert (stopped["fill"], "not mine" in stopped["text"]) == (fill, True)
    assert tablet.how_far(shop.station, stopped["handed"]) == tablet.STOPPED
    assert "found-tablet-stopped" in [row.kind for row in shop.exceptions(fill)]
