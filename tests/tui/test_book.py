"""The Book by its keys: searching, the list, a fill's story, jumping, exporting, proving."""

from __future__ import annotations

import csv
import io
import sqlite3
import threading
from typing import Any

import pytest
from textual.events import Key
from textual.widgets import Footer, Input, Static

from blender.errors import InputError
from blender.station.export import log_view, selected
from tests.patience import PATIENCE_S
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tests.tui.idle import thread_held
from tests.tui.nasty import NASTY
from tui.dialogs import export
from tui.dialogs.export import check_name
from tui.dialogs.verify import Verify
from tui.places import book
from tui.places.book import Book
from tui.places.story import Story
from tui.widgets.ledger import Ledger

DAY_US = 86_400_000_000


def ledger(rig: Rig) -> Ledger:
    screen = rig.terminal.screen
    assert isinstance(screen, Book)
    return screen.ledger


def said_in(rig: Rig, ident: str) -> str:
    return str(rig.terminal.screen.query_one(f"#{ident}", Static).render())


async def found(rig: Rig, pilot: Any, text: str) -> None:
    """Type a search and wait for its answer."""
    screen = rig.terminal.screen
    assert isinstance(screen, Book)
    screen.field.value = text
    await rig.until(pilot, lambda: screen.searched == text)
    await rig.settle(pilot)


async def shown(rig: Rig, pilot: Any) -> None:
    await rig.until(pilot, lambda: ledger(rig).line is not None)
    await rig.settle(pilot)


def test_every_fill_is_there_newest_first(rig: Rig, shop: Shop) -> None:
    first = shop.filling()
    second = shop.request(cylinder="C-1003")

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            assert list(ledger(rig).numbers) == [second, first]
            assert "2 fills" in said_in(rig, "count")
            assert "C-1001" in rig.screen_text()

    run(main)


def test_typing_searches_and_the_list_gives_letters_back(rig: Rig, shop: Shop) -> None:
    shop.request()
    second = shop.request(cylinder="C-1003", customer="Lena Tief")

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await rig.type(pilot, "Lena")
            await rig.until(pilot, lambda: "1 of 2" in said_in(rig, "count"))
            assert list(ledger(rig).numbers) == [second]
            await pilot.press("down")
            assert rig.terminal.focused is ledger(rig)
            await pilot.press("x")
            await pilot.pause()
            screen = rig.terminal.screen
            assert rig.terminal.focused is screen.query_one("#field")
            assert screen.query_one("#field", Input).value == "Lenax"

    run(main)


def test_a_burst_of_keys_is_taken_in_order(rig: Rig, shop: Shop) -> None:
    for cylinder in ("C-1001", "C-1003", "D-7"):
        shop.request(cylinder=cylinder)

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            for key in ("down", "down", "down"):
                rig.terminal.post_message(Key(key, None))
            await rig.until(pilot, lambda: ledger(rig).cursor == 2)
            scanned = "M-04217/xyz"
            for char in scanned:
                rig.terminal.post_message(Key(char, char))
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one("#field", Input).value == scanned

    run(main)


def test_a_late_answer_to_an_earlier_search_is_dropped(
    rig: Rig, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = shop.request(), shop.request(cylinder="C-1003")
    begun, given_up, real = threading.Event(), list[str](), book.search.find

    def slow(record: Any, text: str, *, cancelled: Any) -> Any:
        if text == "C-1001":
            begun.set()
            while not cancelled():
                threading.Event().wait(0.001)
            given_up.append(text)
        return real(record, text)

    monkeypatch.setattr(book.search, "find", slow)

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            field = rig.terminal.screen.query_one("#field", Input)
            with thread_held():
                field.value = "C-1001"
                await rig.until(pilot, begun.is_set)
            await found(rig, pilot, "C-1003")
            assert list(ledger(rig).numbers) == [second]
            await rig.settle(pilot)
            assert list(ledger(rig).numbers) == [second]

    run(main)
    assert given_up == ["C-1001"]
    assert first != second


def test_the_marked_line_says_do_not_breathe(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "70bar")

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            assert "! DO NOT BREATHE" in said_in(rig, "marked")
            assert "O2" in said_in(rig, "marked")
            assert "!" in next(row for row in rig.screen_text().splitlines() if "filling" in row)

    run(main)


def test_enter_opens_the_story_and_escape_returns(rig: Rig, shop: Shop) -> None:
    fill, label = shop.accepted()
    other = shop.filling(cylinder="C-1003")
    shop.start(other, "C-1001")

    async def main() -> None:
        async with rig.run(place="book", size=(120, 60)) as pilot:
            await shown(rig, pilot)
            await pilot.press("down", "down", "enter")
            await rig.settle(pilot)
            story = rig.terminal.screen
            assert isinstance(story, Story)
            text = said_in(rig, "told")
            for part in ("Jo Blend", "A1", "32.10", "PLAN AGAINST READINGS", "84.4 bar", "met",
                         "Kai Diver", "accepted"):  # fmt: skip
                assert part in text
            assert all(e["digest"] in text for e in (story.story or {})["entries"])
            assert story.value_to_copy() == label
            await pilot.press("left")
            await rig.settle(pilot)
            assert story.number == other
            await pilot.press("left")
            await rig.settle(pilot)
            assert "no further fill" in rig.said()[1]
            await pilot.press("escape")
            await rig.settle(pilot)
            assert ledger(rig).number == other

    run(main)
    assert fill != other


def test_a_refusal_is_told_with_its_gates(rig: Rig, shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)
    assert not shop.start(fill, "C-1003").done

    async def main() -> None:
        async with rig.run(place="book", size=(120, 60)) as pilot:
            await shown(rig, pilot)
            await pilot.press("down", "enter")
            await rig.settle(pilot)
            assert "gate identity: stop" in said_in(rig, "told")

    run(main)


def test_units_switch_in_list_and_story(rig: Rig, shop: Shop) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            assert "230 bar" in rig.screen_text()
            await pilot.press("alt+u")
            await rig.settle(pilot)
            assert "3336 psi" in rig.screen_text()
            await pilot.press("down", "enter")
            await rig.settle(pilot)
            assert "1224 psi" in said_in(rig, "told")
            assert " bar " not in said_in(rig, "told").partition("ANALYSES")[0].partition("PLAN")[2]

    run(main)


def test_label_and_copy_from_the_list(rig: Rig, shop: Shop) -> None:
    fill, _ = shop.accepted()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await pilot.press("alt+g")
            await rig.settle(pilot)
            assert rig.said()[0] == "done"
            await pilot.press("alt+y")
            await rig.settle(pilot)
            assert rig.said() == ("done", f"Copied: {fill}")
            assert rig.terminal.clipboard == str(fill)

    run(main)
    assert rig.papers[f"label-QUAY-1-{fill}.pdf"].startswith(b"%PDF")


def test_jump_goes_to_a_number_and_says_where_it_is_not(rig: Rig, shop: Shop) -> None:
    fills = [shop.request(cylinder=c) for c in ("C-1001", "C-1003", "D-7")]

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await pilot.press("alt+j")
            await rig.settle(pilot)
            await rig.enter(pilot, str(fills[0]))
            assert ledger(rig).number == fills[0]
            await pilot.press("alt+j")
            await rig.settle(pilot)
            await rig.enter(pilot, "999")
            assert ledger(rig).number == fills[-1]
            assert "not among those shown" in rig.said()[1]

    run(main)


def test_jump_goes_to_a_day(rig: Rig, shop: Shop) -> None:
    first = shop.request()
    shop.station.clock.us += 3 * DAY_US
    second = shop.request(cylinder="C-1003")

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            assert ledger(rig).number == second
            await pilot.press("alt+j")
            await rig.settle(pilot)
            await rig.enter(pilot, "2026-11-25")
            assert ledger(rig).number == first

    run(main)


def test_jump_refuses_what_it_cannot_read(rig: Rig, shop: Shop) -> None:
    shop.request()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await pilot.press("alt+j")
            await rig.settle(pilot)
            for typed in ("", "2026-13", "2026-11-31", "last week", "[/]", "-5", "²", *NASTY):
                rig.terminal.screen.query_one(Input).value = typed
                await pilot.press("enter")
                await rig.settle(pilot)
                assert "a fill's number" in said_in(rig, "flaw")
            await pilot.press("escape")
            await rig.settle(pilot)
            assert isinstance(rig.terminal.screen, Book)

    run(main)


def test_export_has_exactly_what_is_shown(rig: Rig, shop: Shop) -> None:
    shop.accepted()
    shop.request(cylinder="C-1003", customer="Lena Tief")
    third = shop.request(cylinder="D-7", customer="Lena Tief")

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await found(rig, pilot, "Lena")
            for name in ("lena.csv", "lena.pdf"):
                await pilot.press("alt+x")
                await rig.settle(pilot)
                rig.terminal.screen.query_one(Input).value = name
                await pilot.press("enter")
                await rig.settle(pilot)
                assert rig.said() == ("done", f"2 fills: papers/{name}")

    run(main)
    rows = list(csv.DictReader(io.StringIO(rig.papers["lena.csv"].decode())))
    assert [row["fill"] for row in rows] == [str(third), str(third - 1)]
    assert {row["customer"] for row in rows} == {"Lena Tief"}
    assert rows[0]["record_anchor"] == shop.station.record.head().text
    assert rig.papers["lena.pdf"].startswith(b"%PDF")


def test_an_exported_fill_has_what_the_log_of_its_day_has(rig: Rig, shop: Shop) -> None:
    shop.accepted()
    shop.filling(cylinder="C-1003")
    shop.start(2, "C-1001")
    now = shop.clock()
    log = log_view(shop.station.record, "2026-11-25", "2026-11-25", now)
    chosen = selected(shop.station.record, [2, 1], "C-1", now)
    assert chosen.lines == log.lines[::-1]
    assert chosen.proof == log.proof
    assert chosen.selection == "C-1"


@pytest.mark.parametrize(
    "name", [*NASTY, "../x.csv", "a/b.csv", ".csv", "x.doc", "a..csv", "x.csv\n"]
)
def test_export_refuses_what_is_no_plain_file_name(name: str) -> None:
    if name == "x.csv\n":
        assert check_name(name, 1) == "x.csv"
        return
    with pytest.raises(InputError, match="file name"):
        check_name(name, 1)


def test_a_pdf_of_too_many_is_refused_with_what_to_do() -> None:
    assert check_name("x.pdf", 20_000) == "x.pdf"
    with pytest.raises(InputError, match="search for less"):
        check_name("x.pdf", 20_001)


def test_an_export_is_stopped_by_escape_and_nothing_is_written(
    rig: Rig, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.request()
    real = export.make

    def slow(record: Any, job: export.Job) -> bytes:
        assert job.stop.wait(PATIENCE_S)
        return real(record, job)

    monkeypatch.setattr(export, "make", slow)

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await pilot.press("alt+x")
            await pilot.pause()
            rig.terminal.screen.query_one(Input).value = "x.csv"
            with thread_held():
                await pilot.press("enter")
                await rig.until(pilot, lambda: rig.terminal.screen.query_one("#job").display)
                await rig.type(pilot, "C-")  # the screen stays alive
                assert rig.terminal.screen.query_one("#field", Input).value == "C-"
            await pilot.press("escape")
            await rig.settle(pilot)
            assert "stopped" in rig.said()[1]

    run(main)
    assert rig.papers == {}


def test_verify_says_whole_and_agrees_with_a_label(rig: Rig, shop: Shop) -> None:
    _, label = shop.accepted()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await pilot.press("alt+v")
            await rig.settle(pilot)
            rig.terminal.screen.query_one(Input).value = label
            await pilot.press("enter")
            await rig.settle(pilot)
            screen = rig.terminal.screen
            assert isinstance(screen, Verify)
            assert screen.report is not None
            assert screen.report.ok
            assert "WHOLE" in said_in(rig, "words")
            assert f"agrees with the label or report of entry {label.split()[3]}" in said_in(
                rig, "words"
            )
            await pilot.press("alt+y")
            assert rig.terminal.clipboard == screen.report.head
            await pilot.press("escape")
            await rig.settle(pilot)
            assert isinstance(rig.terminal.screen, Book)

    run(main)


def test_verify_takes_one_label_after_the_other(rig: Rig, shop: Shop) -> None:
    _, label = shop.accepted()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await pilot.press("alt+v")
            await rig.settle(pilot)
            await rig.enter(pilot, "")
            assert "WHOLE" in said_in(rig, "words")
            await rig.enter(pilot, label)
            assert "agrees with the label" in said_in(rig, "words")
            await rig.enter(pilot, "FILLWRIGHT1 no label")  # over the one before, not behind it
            assert rig.terminal.screen.query_one(Input).value == "FILLWRIGHT1 no label"
            assert said_in(rig, "words").startswith("NO")

    run(main)


def test_verify_names_what_was_altered(rig: Rig, shop: Shop) -> None:
    fill = shop.request()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            raw = sqlite3.connect(rig.location)
            raw.execute("UPDATE fill SET want_mbar = 1 WHERE fill = ?", [fill])
            raw.commit()
            raw.close()
            await pilot.press("alt+v")
            await rig.settle(pilot)
            await pilot.press("enter")
            await rig.settle(pilot)
            assert "DAMAGED OR ALTERED" in said_in(rig, "words")
            assert "want_mbar" in said_in(rig, "words")

    run(main)


def test_verify_refuses_what_is_no_anchor(rig: Rig, shop: Shop) -> None:
    shop.request()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            await pilot.press("alt+v")
            await rig.settle(pilot)
            for anchor in (text for text in NASTY if text.strip()):
                rig.terminal.screen.query_one(Input).value = anchor
                await pilot.press("enter")
                await rig.settle(pilot)
                assert "FILLWRIGHT1 STATION" in said_in(rig, "words")
                assert rig.terminal.screen.report is None

    run(main)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_nothing_scrolls_off(rig: Rig, shop: Shop, size: tuple[int, int]) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(size=size, place="book") as pilot:
            await shown(rig, pilot)
            screen = rig.terminal.screen
            assert screen.query_one(Footer).max_scroll_x == 0
            assert screen.max_scroll_x == 0
            assert screen.max_scroll_y == 0
            assert ledger(rig).max_scroll_x == 0
            await pilot.press("down", "enter")
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one(Footer).max_scroll_x == 0
            assert rig.terminal.screen.query_one("#whole").max_scroll_x == 0

    run(main)


def test_nasty_searches_are_shown_letter_by_letter(rig: Rig, shop: Shop) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await shown(rig, pilot)
            for text in NASTY:
                await found(rig, pilot, text)
                assert rig.terminal.screen.query_one("#field", Input).value == text
                await pilot.press("down", "enter", "escape", "escape")
                await rig.settle(pilot)
            await found(rig, pilot, "")
            assert len(ledger(rig).numbers) == 1
            assert rig.terminal.is_running

    run(main)
