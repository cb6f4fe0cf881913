"""What the Office does about people, rule sets and tables, by its keys."""

from __future__ import annotations

from typing import Any

import pytest

from blender.record import read
from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run
from tui.dialogs.form import Form
from tui.dialogs.page import Page
from tui.widgets.roll import Roll

MANAGER = (NAMES["manager"], SECRET)


async def to_page(rig: Rig, pilot: Any, name: str, word: str) -> None:
    """Turn to a page of the Office and mark the first line with a word."""
    at = ("Exceptions", "Due", "People", "Rules", "Sets").index(name)
    for _ in range(at):
        await pilot.press("right")
        await rig.settle(pilot)
    await rig.type(pilot, word)
    await rig.settle(pilot)


async def choose(rig: Rig, pilot: Any, words: str) -> None:
    """Press Enter on the marked person, and the number of what is to be done."""
    await pilot.press("enter")
    await rig.settle(pilot)
    offered = [line for line in rig.screen_text().splitlines() if words in line]
    assert offered, rig.screen_text()
    await pilot.press(offered[0].strip(" │┃║").strip()[0])
    await rig.settle(pilot)


def test_a_role_qualifications_and_leaving_are_signed_by_a_manager(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:  # the blender is signed in
            await to_page(rig, pilot, "People", "Ada")
            await choose(rig, pilot, "qualified")
            await fill_form(rig, pilot, "banked, mass", "certificate seen", *MANAGER)
            assert "qualified for banked, mass" in rig.said()[1]
            await choose(rig, pilot, "Another role")
            await fill_form(rig, pilot, "blender", "passed", NAMES["blender"], SECRET)
            assert "needs manager" in rig.said()[1]
            await choose(rig, pilot, "Another role")
            await fill_form(rig, pilot, "blender", "passed", *MANAGER)
            assert "auditor -> blender" in rig.said()[1]
            await choose(rig, pilot, "off the roll")
            await fill_form(rig, pilot, "left in October", *MANAGER)
            assert rig.said()[0] == "done"

    run(main)
    with pytest.raises(Exception, match="do not belong"):
        shop.station.sign_in(NAMES["auditor"], SECRET)


def test_the_last_manager_stays(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await to_page(rig, pilot, "People", "Mara")
            await choose(rig, pilot, "off the roll")
            await fill_form(rig, pilot, "tired", SECRET)
            assert "last manager" in rig.said()[1]

    run(main)
    assert shop.station.sign_in(*MANAGER)


def test_the_accounts_are_reviewed_and_an_undertaking_is_signed(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await to_page(rig, pilot, "People", "")
            assert "Accounts never reviewed" in rig.screen_text()
            assert "3 of the staff have not signed" in rig.screen_text()
            await pilot.press("enter")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "all still here", SECRET)
            assert "accounts reviewed" in rig.said()[1]
            await rig.type(pilot, "Mara")
            await choose(rig, pilot, "signing means")
            assert "stands for me as my signature" in rig.screen_text()
            await pilot.press("s")
            await rig.settle(pilot)
            await pilot.press("escape")
            await rig.settle(pilot)
            assert "Accounts reviewed 2026-11-25; 2 of the staff" in rig.screen_text()

    run(main)


def test_a_customer_is_erased_after_their_page_was_shown(rig: Rig, shop: Shop) -> None:
    number, label = shop.accepted()
    shop.collect(number, label)

    async def main() -> None:
        async with rig.run(place="office", who="manager", size=(120, 40)) as pilot:
            await to_page(rig, pilot, "People", "Kai")
            for last in ("enter", "y"):
                await choose(rig, pilot, "Erase")
                assert isinstance(rig.terminal.screen, Page)
                assert "Your right" in rig.screen_text()
                await pilot.press("p")
                await rig.settle(pilot)
                await pilot.press("e")
                await rig.settle(pilot)
                await fill_form(rig, pilot, "asked for it", "2027-06-30", SECRET)
                await pilot.press(last)
                await rig.settle(pilot)
            assert isinstance(rig.terminal.screen, Page)
            assert "private rows: name, telephone" in rig.screen_text()
            await pilot.press("escape")
            await rig.settle(pilot)
            assert "Backups and exports of before hold it until 2027-06-30" in rig.said()[1]
            assert "No line has 'Kai'" in rig.screen_text()

    run(main)
    (name,) = rig.papers
    assert name.startswith("person-P-")  # the page bears no name on its outside
    with shop.station.record.read() as conn:
        assert "Kai Diver" not in [row.name for row in read.people(conn)]


def test_an_erasure_may_not_name_them(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await to_page(rig, pilot, "People", "Otto")
            await choose(rig, pilot, "Erase")
            await pilot.press("e")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "Otto Luft asked", "", SECRET)
            await pilot.press("y")
            await rig.settle(pilot)
            assert rig.said()[0] == "refused"
            assert "it names them" in rig.said()[1]

    run(main)


def test_a_rule_set_is_put_into_force_and_local_codes_come_first(rig: Rig, shop: Shop) -> None:
    """us-work: 5 years between tests, 49 CFR 180.209."""

    async def main() -> None:
        async with rig.run(place="office", size=(120, 40)) as pilot:
            await to_page(rig, pilot, "Sets", "")
            assert "Local codes and the cylinder's own marking come first" in rig.screen_text()
            await rig.type(pilot, "us-work 180.209")
            await rig.settle(pilot)
            assert "5 years" in rig.terminal.screen.query_one(Roll).rows[0].words
            await pilot.press("enter")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "we are there", *MANAGER)
            kind, told = rig.said()
            assert kind == "done", told
            assert "Local codes and the cylinder's own marking come first" in told
            await pilot.press("escape")
            await rig.settle(pilot)
            assert "at work  IN FORCE" in rig.screen_text()

    run(main)
    assert shop.station.rules.name == "United States, at work"


HEADING = b"serial,size,wp,tp,tested,inspected,clean\n"
GOOD = HEADING + b"N-1,12L,232bar,348bar,2025-03,2026-02,yes\n"
BAD = GOOD + b"N-2,12,232bar,348bar,2025-03,2026-02,perhaps\n"


def test_a_table_with_bad_rows_names_each_and_enters_nothing(rig: Rig, shop: Shop) -> None:
    rig.tables["new.csv"] = BAD
    before = shop.seq()

    async def main() -> None:
        async with rig.run(place="office", size=(120, 40)) as pilot:
            await pilot.press("alt+i")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "cylinders", "new.csv", "utf-8", "")
            shown = rig.screen_text()
            assert "line 3, size: '12' was given" in shown
            assert "line 3, clean: 'perhaps' was given" in shown
            assert "take all of it over" not in shown
            await pilot.press("t")
            await pilot.press("escape")
            await rig.settle(pilot)

    run(main)
    assert shop.seq() == before


def test_a_table_is_taken_over_once_a_manager_signs(rig: Rig, shop: Shop) -> None:
    rig.tables["new.csv"] = GOOD

    async def main() -> None:
        async with rig.run(place="office") as pilot:
            for secret in ("wrong one", SECRET):
                await pilot.press("alt+i")
                await rig.settle(pilot)
                await fill_form(rig, pilot, "cylinders", "new.csv", "utf-8", "")
                assert "all 1 cylinders can be taken over" in rig.screen_text()
                await pilot.press("t")
                await rig.settle(pilot)
                await fill_form(rig, pilot, NAMES["manager"], secret)
                assert (rig.said()[0] == "done") is (secret == SECRET), rig.said()
            await pilot.press("alt+i")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "cylinders", "new.csv", "utf-8", "")
            assert "taken over before" in rig.screen_text()

    run(main)
    with shop.station.record.read() as conn:
        assert read.cylinder(conn, "N-1").tested == "2025-03"


def test_a_manager_signs_by_a_part_of_the_name_and_sees_it_whole_first(
    rig: Rig, shop: Shop
) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await to_page(rig, pilot, "People", "Ada")
            await choose(rig, pilot, "qualified")
            await fill_form(rig, pilot, "banked", "certificate seen", "linde", SECRET)
            form = rig.terminal.screen
            assert isinstance(form, Form)  # an arrow went past the name: it is shown first
            assert form.answers["manager"] == NAMES["manager"]
            assert f"{NAMES['manager']}? Enter again enters it." in rig.screen_text()
            await pilot.press("enter")
            await rig.settle(pilot)
            assert "qualified for banked" in rig.said()[1]

    run(main)
    assert shop.last().sig["name"] == NAMES["manager"]
