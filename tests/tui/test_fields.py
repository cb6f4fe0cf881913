"""What stands in a field: replaced by the next scan, kept by an arrow; a secret never in clear."""

from __future__ import annotations

import pytest
from textual.widgets import Input

from blender.station import people
from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.house import Rig, run
from tui.dialogs.form import Form
from tui.places.office import Office
from tui.places.office_forms import SECRET as SECRET_FORM


def field(rig: Rig) -> Input:
    return rig.terminal.screen.query_one(Input)


def test_the_next_scan_replaces_a_refused_serial(rig: Rig, shop: Shop) -> None:
    fill = shop.request()
    assert shop.plan(fill).done

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "C-1003")
            assert rig.said()[0] == "refused"
            assert field(rig).value == "C-1003"  # nothing typed is lost
            await rig.type(pilot, "C-1001")
            assert field(rig).value == "C-1001"
            await rig.enter(pilot, "")

    run(main)
    assert shop.row(fill).state == "filling"


def test_an_arrow_keeps_a_refused_text_for_editing(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "0")
            await rig.enter(pilot, "Kai")
            await rig.enter(pilot, "230 EAN3o")
            assert rig.said()[0] == "refused"
            await pilot.press("right", "backspace", "2")
            assert field(rig).value == "230 EAN32"

    run(main)


def test_what_is_prefilled_is_replaced_as_a_whole(rig: Rig, shop: Shop) -> None:
    fill, anchor = shop.accepted()
    assert shop.collect(fill, anchor).done

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "0")
            assert field(rig).value == "230 EAN32"
            await rig.type(pilot, "200 air")
            assert field(rig).value == "200 air"
            await pilot.press("escape")
            await rig.settle(pilot)
            assert field(rig).value == "0"  # the question before, with its answer to be replaced
            await rig.type(pilot, "50")
            assert field(rig).value == "50"

    run(main)


def test_what_was_half_typed_goes_on_where_it_stood(rig: Rig, shop: Shop) -> None:
    shop.filling()
    shop.filling(cylinder="C-1003")

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.put(pilot, "74.")
            await pilot.press("f3")
            await rig.settle(pilot)
            await pilot.press("f2")
            await rig.settle(pilot)
            await rig.type(pilot, "5")
            assert field(rig).value == "74.5"

    run(main)


def test_a_wrong_scan_before_an_analysis_stays_until_the_next(rig: Rig, shop: Shop) -> None:
    shop.rested()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "C-1003")
            assert rig.said()[0] == "refused"
            assert field(rig).value == "C-1003"
            await rig.type(pilot, "C-1001")
            await rig.enter(pilot, "")
            assert "C-1001" in rig.prompt()
            assert field(rig).value == ""

    run(main)


def test_stamps_of_a_form_are_replaced_not_written_on(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await pilot.press("alt+k")
            await rig.settle(pilot)
            form = rig.terminal.screen
            assert isinstance(form, Form)
            await rig.type(pilot, "2026-13")
            assert form.answers["tested"] == "2026-13"
            await pilot.press("enter")
            assert "year and month" in rig.screen_text()
            await rig.type(pilot, "2026-03")
            assert form.answers["tested"] == "2026-03"

    run(main)


# -- secrets ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [NAMES["blender"].lower(), NAMES["blender"].upper()])
def test_a_name_is_known_in_whatever_letters(rig: Rig, name: str) -> None:
    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.sign_in(pilot, name)
            assert rig.terminal.floor.actor is not None
            assert rig.terminal.floor.actor.name == NAMES["blender"]

    run(main)


def test_a_name_that_means_two_people_is_typed_as_it_is_written(rig: Rig, shop: Shop) -> None:
    people.add_person(
        shop.station, shop.mara, name=NAMES["blender"].upper(), role="blender", secret="ebb at nine"
    )

    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            await rig.enter(pilot, NAMES["blender"].lower())
            await rig.enter(pilot, SECRET)
            assert rig.terminal.floor.actor is None
            await pilot.press("escape")
            await rig.enter(pilot, NAMES["blender"])
            await rig.enter(pilot, SECRET)
            assert rig.terminal.floor.actor is not None
            assert rig.terminal.floor.actor.name == NAMES["blender"]

    run(main)


def test_a_secret_typed_again_after_a_refusal_is_not_shown(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            await rig.enter(pilot, NAMES["blender"])
            await rig.enter(pilot, "high tide")
            assert rig.said()[0] == "refused"
            assert field(rig).value == ""
            await rig.put(pilot, SECRET)
            assert field(rig).password
            assert SECRET not in rig.screen_text()
            await rig.enter(pilot, "")
            assert rig.terminal.floor.actor is not None

    run(main)


def test_a_half_typed_secret_is_gone_when_another_name_is_asked(rig: Rig) -> None:
    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            await rig.enter(pilot, NAMES["blender"])
            await rig.put(pilot, "low tide")
            await pilot.press("escape")
            await rig.settle(pilot)
            assert "Who is there" in rig.prompt()
            assert (field(rig).value, field(rig).password) == ("", False)

    run(main)


def test_two_secrets_that_differ_are_typed_again_in_the_form(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await pilot.press("alt+k")
            await rig.settle(pilot)
            for text in (SECRET, "seven wet gloves", "seven wet socks"):
                await rig.enter(pilot, text)
            form = rig.terminal.screen
            assert isinstance(form, Form)
            assert "differ" in rig.screen_text()
            assert set(form.answers.values()) == {""}
            for text in (SECRET, "seven wet socks", "seven wet socks"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "done"
            office = rig.terminal.screen
            assert isinstance(office, Office)
            assert office.sought == ""

    run(main)
    assert shop.station.sign_in(NAMES["blender"], "seven wet socks")


def test_a_wrong_old_secret_is_typed_again_in_the_form(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await pilot.press("alt+k")
            await rig.settle(pilot)
            for text in ("low tide at nine", "seven wet socks", "seven wet socks"):
                await rig.enter(pilot, text)
            assert isinstance(rig.terminal.screen, Form)
            await rig.type(pilot, "low")
            assert rig.terminal.screen.answers["old"] == "low"
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.said()[0] == "refused"
            office = rig.terminal.screen
            assert isinstance(office, Office)
            assert office.sought == ""

    run(main)


def test_a_lock_leaves_a_form_with_half_a_secret(rig: Rig, shop: Shop) -> None:
    """The next person's Enter must not give them the secret another chose."""

    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await pilot.press("alt+k")
            await rig.settle(pilot)
            await rig.enter(pilot, SECRET)
            await rig.enter(pilot, "seven wet gloves")
            rig.terminal.action_lock()
            await rig.sign_in(pilot, NAMES["manager"])
            assert isinstance(rig.terminal.screen, Office)
            assert not rig.terminal.drafts.get(SECRET_FORM, {})

    run(main)


def test_the_one_who_signs_types_their_own_name(rig: Rig, shop: Shop) -> None:
    fill = shop.analysed("32.1")

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "31.9")
            assert rig.prompt().startswith("Your name")
            assert field(rig).value == ""
            await rig.enter(pilot, "")
            assert rig.said()[0] == "refused"
            assert shop.row(fill).state == "analysed"

    run(main)
