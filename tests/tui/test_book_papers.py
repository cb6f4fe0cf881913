"""The papers of a fill, its cylinder's history and the fill log, from the Book by its keys."""

from __future__ import annotations

from typing import Any

import pytest

from blender.station import pricing, ruling
from tests.reports import paper
from tests.station.shop import NAMES, Shop
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run, shop_at
from tests.tui.test_book_mending import to_story
from tui.dialogs.page import Page
from tui.keys import COMMANDS, clashes
from tui.places.book_papers import numbers_of


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Any:
    shop = shop_at(rig.location.parent)
    rig.clock.us = shop.clock.us + 86_400_000_000
    yield shop
    shop.station.record.close()


async def press(rig: Rig, pilot: Any, *keys: str) -> None:
    for key in keys:
        await pilot.press(key)
        await rig.settle(pilot)


async def at_list(rig: Rig, pilot: Any) -> None:
    await rig.until(pilot, lambda: rig.terminal.screen.query_one("Ledger").number)


def test_every_paper_of_a_fill_is_on_the_stations_sheet(rig: Rig, shop: Shop) -> None:
    shop.accepted()
    pricing.set_price(shop.station, shop.mara, supply="top", price="0.30")
    ruling.set_rule(shop.station, shop.mara, "paper", "letter", reason="what the shop buys")

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await at_list(rig, pilot)
            for keys in (("1",), ("2",), ("3", "p")):
                await press(rig, pilot, "alt+e", *keys)
                assert rig.said()[0] == "done", rig.said()
            await press(rig, pilot, "alt+i")
            assert isinstance(rig.terminal.screen, Page)
            assert "Its marking" in rig.screen_text()
            await press(rig, pilot, "p")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    of_fill = [f"{name}-QUAY-1-1.pdf" for name in ("certificate", "card", "receipt")]
    assert list(rig.papers) == [*of_fill, "cylinder-C-1001-2026-11-26.pdf"]
    for name, content in rig.papers.items():
        (size,) = paper.sizes_mm(content)
        on_letter = tuple(sorted(size)) == (215.9, 279.4)  # ANSI/ASME Y14.1 size A
        assert on_letter or name.startswith("card"), name  # a card is cut to its own size


def test_labels_begin_at_the_first_free_position_and_are_entered(rig: Rig, shop: Shop) -> None:
    first, anchor = shop.accepted()
    second, other = shop.accepted(cylinder="C-1003")

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await at_list(rig, pilot)
            await press(rig, pilot, "alt+e", "4")
            await fill_form(rig, pilot, f"{first} {second}", "a4-8-100x62", "9")
            assert "its positions are 1 to 8" in rig.screen_text()
            await fill_form(rig, pilot, f"{first} {second}", "a4-8-100x62", "8")
            assert rig.said()[1].startswith("2 labels: "), rig.said()

    run(main)
    (content,) = rig.papers.values()
    assert [paper.qr_texts(image) for image in paper.rasters(content)] == [[anchor], [other]]
    printed = [e.data["fill"] for e in shop.entries() if e.kind == "label.printed"]
    assert printed == [first, second]


def test_from_a_story_and_what_was_not_signed_has_no_certificate(rig: Rig, shop: Shop) -> None:
    shop.request()

    async def main() -> None:
        async with rig.run(place="book", who="auditor") as pilot:
            await at_list(rig, pilot)
            await to_story(rig, pilot)
            await press(rig, pilot, "alt+e", "1")
            assert rig.said()[0] == "refused", rig.said()
            assert rig.papers == {}

    run(main)


def test_the_log_of_one_blender(rig: Rig, shop: Shop) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await at_list(rig, pilot)
            await press(rig, pilot, "alt+q")
            await fill_form(rig, pilot, "", "", "", "", "", "log.pdf")
            assert "give both days" in rig.screen_text()
            await fill_form(rig, pilot, "", "", NAMES["blender"], "", "", "log.pdf")
            assert rig.said() == ("done", "1 fill: papers/log.pdf")

    run(main)
    assert f"by {NAMES['blender']}" in " ".join(paper.texts(rig.papers["log.pdf"]))


@pytest.mark.parametrize("text", ["", "0", "-1", "1 x", "9" * 12, "[/]", "１"])
def test_what_is_no_number_of_a_fill_is_refused(text: str) -> None:
    with pytest.raises(Exception, match="numbers of fills"):
        numbers_of(text)


def test_no_key_means_two_things_and_none_is_eaten_by_terminals() -> None:
    """alt+b and alt+f are words to left and right in most terminals (readline's own keys)."""
    assert clashes({}) == []
    ours = {command.key for command in COMMANDS if not command.ident.startswith("all.")}
    assert ours.isdisjoint({"alt+b", "alt+f", *(f"alt+{digit}" for digit in range(10))})
