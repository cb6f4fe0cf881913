"""The Book's ways to put right and to take away, by their keys."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from textual.widgets import Input

from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run
from tui.dialogs.page import Page
from tui.places.book import Book
from tui.places.story import Story


async def to_story(rig: Rig, pilot: Any) -> None:
    """Open the story of the marked fill."""
    await rig.until(pilot, lambda: rig.terminal.screen.query_one("Ledger").number)
    await pilot.press("down", "enter")
    await rig.settle(pilot)
    assert isinstance(rig.terminal.screen, Story)


def test_a_manager_amends_a_reading_while_a_blender_is_signed_in(rig: Rig, shop: Shop) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book", size=(120, 40)) as pilot:
            await to_story(rig, pilot)
            await pilot.press("alt+m")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "reading", "32.4", "", "misread", NAMES["manager"], SECRET)
            kind, told = rig.said()
            assert kind == "mind", told
            assert "reading 32.1 -> 32.4" in told
            for words in ("PUT RIGHT LATER", "it said 32.1, it should have said 32.4",
                          "why: misread", f"entered by {NAMES['manager']}"):  # fmt: skip
                assert words in rig.terminal.screen.query_one("#told").render().plain, words
            assert rig.terminal.floor.actor is not None
            assert rig.terminal.floor.actor.name == NAMES["blender"]

    run(main)
    (entry,) = [one for one in shop.entries() if one.kind == "fill.amended"]
    assert entry.sig is not None
    assert entry.sig["name"] == NAMES["manager"]


def test_a_blender_does_not_amend_and_nothing_typed_is_lost(rig: Rig, shop: Shop) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await to_story(rig, pilot)
            await pilot.press("alt+m")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "reading", "32.4", "", "misread", NAMES["blender"], SECRET)
            assert rig.said()[0] == "refused"
            assert "needs manager" in rig.said()[1]
            await pilot.press("alt+m")
            await rig.settle(pilot)
            kept = [one.value for one in rig.terminal.screen.query(Input)]
            assert kept == ["reading", "32.4", "", "misread", NAMES["blender"], ""]

    run(main)
    assert not [one for one in shop.entries() if one.kind == "fill.amended"]


def test_a_fill_is_voided_only_by_yes(rig: Rig, shop: Shop) -> None:
    fill = shop.request()

    async def main() -> None:
        async with rig.run(place="book", who="manager") as pilot:
            await rig.until(pilot, lambda: rig.terminal.screen.query_one("Ledger").number)
            for key in ("enter", "y"):
                await pilot.press("alt+z")
                await rig.settle(pilot)
                await fill_form(rig, pilot, "entered twice", SECRET)
                await pilot.press(key)
                await rig.settle(pilot)
                assert (shop.row(fill).state == "voided") is (key == "y")
            assert "entered by mistake" in rig.said()[1]

    run(main)


@pytest.mark.parametrize(("by", "name"), [("analyser", "A1"), ("compressor", "")])
def test_a_recall_lists_whom_to_call_and_is_printed(
    rig: Rig, shop: Shop, by: str, name: str
) -> None:
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book", size=(120, 40)) as pilot:
            await pilot.press("alt+r")
            await rig.settle(pilot)
            await fill_form(rig, pilot, by, name, "", "")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, Page))
            await rig.settle(pilot)
            for words in ("NOBODY BREATHES", "Kai Diver", "C-1001"):
                assert words in rig.screen_text()
            await pilot.press("p")
            await rig.settle(pilot)
            assert isinstance(rig.terminal.screen, Book)
            assert rig.said()[0] == "done"

    run(main)
    ((name, content),) = rig.papers.items()
    assert name.startswith("recall-QUAY-1-2026-")
    assert content.startswith(b"%PDF")


def test_a_recall_of_nothing_known_says_what_there_is(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="book") as pilot:
            await pilot.press("alt+r")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "analyser", "", "", "")
            assert "say which supply, lot or analyser" in rig.screen_text()
            await fill_form(rig, pilot, "analyser", "Z9", "", "")
            assert rig.said()[0] == "refused"
            assert "Z9" in rig.said()[1]

    run(main)


def test_the_journal_is_taken_away_and_its_own_verifier_believes_it(
    rig: Rig, shop: Shop, tmp_path: Path
) -> None:
    """The verifier imports nothing of the program; it is run as somebody else would."""
    shop.accepted()

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            for what in ("journal", "all"):
                await pilot.press("alt+w")
                await rig.settle(pilot)
                await fill_form(rig, pilot, what)
                await rig.until(pilot, lambda: rig.said()[0] != "busy")
                assert rig.said()[0] == "done", rig.said()

    run(main)
    journal, tables = rig.away.values()
    assert all(name.startswith("QUAY-1-") for name in rig.away)
    assert b"Kai Diver" in tables["fills.csv"]
    assert "personal" in tables["README.txt"].decode()
    for name, content in journal.items():
        (tmp_path / name).write_bytes(content)
    done = subprocess.run(
        [sys.executable, "-I", tmp_path / "verify_journal.py", tmp_path / "journal.jsonl"],
        capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done


def test_at_the_next_check_in_the_label_says_what_was_printed(rig: Rig, shop: Shop) -> None:
    fill, anchor = shop.accepted()
    assert shop.collect(fill, anchor).done
    shop.amend(fill, "reading", "32.5", "misread")

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            assert "amended to EAN32.5, its label still says EAN32.1" in rig.prompt()

    run(main)


def test_a_refusal_names_no_gate(rig: Rig, shop: Shop) -> None:
    shop.request()

    async def main() -> None:
        async with rig.run(place="book", who="manager", size=(120, 40)) as pilot:
            await to_story(rig, pilot)
            await pilot.press("alt+m")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "reading", "32.4", "", "misread", SECRET)
            kind, told = rig.said()
            assert kind == "refused"
            assert told.startswith("Refused: reading is not amended while requested"), told

    run(main)
