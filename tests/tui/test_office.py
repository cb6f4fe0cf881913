"""The Office by its keys: exceptions, due dates, people, rules."""

from __future__ import annotations

from typing import Any

import pytest
from textual.widgets import Input

from blender.station import people, register
from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.house import Rig, run
from tests.tui.nasty import NASTY
from tui.places.office import Office
from tui.places.story import Story
from tui.widgets.roll import RollRow


def test_an_exception_leads_to_the_story_of_its_fill(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()
    shop.hold(fill, "power cut")

    async def main() -> None:
        async with rig.run(place="office", who="auditor") as pilot:
            assert "power cut" in rig.screen_text()
            await pilot.press("enter")
            await rig.settle(pilot)
            assert isinstance(rig.terminal.screen, Story)
            assert rig.terminal.screen.number == fill
            await pilot.press("escape")
            await rig.settle(pilot)
            assert not isinstance(rig.terminal.screen, Story)

    run(main)


def test_pages_turn_both_ways(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            for words in ("linearity", NAMES["blender"], "reference"):
                await pilot.press("right")
                await rig.settle(pilot)
                assert words in rig.screen_text()
            await pilot.press("left")
            await rig.settle(pilot)
            assert NAMES["auditor"] in rig.screen_text()

    run(main)


def test_staff_are_added_with_a_secret_typed_twice(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await pilot.press("alt+d")
            await rig.settle(pilot)
            form = rig.terminal.screen
            for again in ("another one", "new boots today"):
                given = {"name": "Ben New", "role": "blender", "qualified": "",
                         "secret": "new boots today", "again": again}  # fmt: skip
                for ident, text in given.items():
                    form.query_one(f"#form-{ident}", Input).value = text
                form.query_one("#form-again", Input).focus()
                await pilot.press("enter")
                await rig.settle(pilot)
                assert (rig.terminal.screen is form) == (again == "another one")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert shop.station.sign_in("Ben New", "new boots today").role == "blender"


def test_a_blender_adds_no_staff(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await pilot.press("alt+d")
            await rig.settle(pilot)
            for text in ("Ben New", "manager", "", "new boots today", "new boots today"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"
            assert "manager" in rig.said()[1]

    run(main)


def test_ones_own_secret_is_changed(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await pilot.press("alt+k")
            await rig.settle(pilot)
            for secret in (SECRET, "seven wet gloves", "seven wet gloves"):
                await rig.enter(pilot, secret)
            assert rig.said()[0] == "done"

    run(main)
    assert shop.station.sign_in(NAMES["blender"], "seven wet gloves")
    with pytest.raises(Exception, match="do not belong"):
        shop.station.sign_in(NAMES["blender"], SECRET)


def test_ones_own_secret_is_not_changed_without_the_old_one(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await pilot.press("alt+k")
            await rig.settle(pilot)
            for secret in ("six wet gloves", "seven wet gloves", "seven wet gloves"):
                await rig.enter(pilot, secret)
            await pilot.press("escape")  # the form is there again, to be typed in unseen
            await rig.settle(pilot)
            assert rig.said()[0] == "refused"

    run(main)
    assert shop.station.sign_in(NAMES["blender"], SECRET)


def test_a_customer_is_added_and_found_by_typing(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await pilot.press("alt+a")
            await rig.settle(pilot)
            for text in ("Zoe Newdiver", "nitrox"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "done", rig.said()
            for char in "newd":
                await pilot.press(char)
            await rig.settle(pilot)
            shown = rig.screen_text()
            assert "Zoe Newdiver" in shown
            assert "card: nitrox" in shown
            assert "Kai Diver" not in shown
            await pilot.press("backspace", "x")
            await rig.settle(pilot)
            assert "No line has 'newx'" in rig.screen_text()
            await pilot.press("escape")
            await rig.settle(pilot)
            assert "Kai Diver" in rig.screen_text()

    run(main)


def test_what_cannot_be_used_is_said_in_the_form(rig: Rig, shop: Shop) -> None:
    before = len(register.people(shop.station.record)["people"])

    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await pilot.press("alt+d")
            await rig.settle(pilot)
            form = rig.terminal.screen
            for ident, allowed in (
                ("name", NASTY),
                ("role", [*NASTY, "customer"]),
                ("qualified", ["[/]", "scuba"]),
                ("secret", ["abc", ""]),
            ):
                field = form.query_one(f"#form-{ident}", Input)
                for text in allowed:
                    field.value = text
                    field.focus()
                    await pilot.press("enter")
                    await rig.settle(pilot)
                    assert rig.terminal.screen is form
            assert "a secret has" in rig.screen_text()
            await pilot.press("escape")
            await rig.settle(pilot)

    run(main)
    assert len(register.people(shop.station.record)["people"]) == before


def test_many_people_are_walked_through_quickly(rig: Rig, shop: Shop) -> None:
    lines = [(RollRow(f"person/{n}", f"Diver {n}"), f"Diver {n}") for n in range(5000)]

    async def main() -> None:
        async with rig.run(place="office") as pilot:
            office = rig.terminal.screen
            assert isinstance(office, Office)
            office.lines = lines
            office._show()
            await pilot.press("end")
            await pilot.pause()
            assert "Diver 4999" in rig.screen_text()
            await pilot.press("home", "pagedown")
            await pilot.pause()
            assert "Diver 15" in rig.screen_text()
            drawn = sum("Diver" in line for line in rig.screen_text().splitlines())
            assert drawn < 25

    run(main)


def test_names_are_shown_letter_by_letter(rig: Rig, shop: Shop) -> None:
    for text in NASTY:
        if text.strip() and text.isprintable() and len(text) < 60:
            people.add_person(shop.station, shop.mara, name=text, role="customer")

    async def main() -> None:
        async with rig.run((100, 60), place="office", who="manager") as pilot:
            await pilot.press("right", "right")
            await rig.settle(pilot)
            shown = rig.screen_text()
            assert "[@click=app.quit]x[/]" in shown
            assert "[red]x[/red]" in shown

    run(main)


async def _to_rules(rig: Rig, pilot: Any, sought: str) -> None:
    await pilot.press("alt+x")
    await rig.settle(pilot)
    for char in sought:
        await pilot.press(char)
    await pilot.press("enter")
    await rig.settle(pilot)


def test_a_rule_is_changed_with_a_reason_and_tells_what_it_was(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await _to_rules(rig, pilot, "rest before")
            for text in ("10 min", "the insurer asks for it"):
                await rig.enter(pilot, text)
            assert rig.said() == ("done", "rest: 0 min -> 10 min.")
            shown = " ".join(rig.screen_text().split())
            assert "was 0 min until" in shown
            assert f"{NAMES['manager']}: the insurer asks for it" in shown

    run(main)
    assert shop.station.rules.rest_minutes == 10
    assert shop.last().kind == "rule.changed"


def test_a_value_a_rule_may_not_have_stays_in_the_form(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await _to_rules(rig, pilot, "rest before")
            form = rig.terminal.screen
            for text in ("10", "10 bar", "999 min", "1.5 min", *NASTY):
                form.query_one("#form-value", Input).value = text
                await pilot.press("enter")
                await rig.settle_quietly(pilot)
                assert rig.terminal.screen is form
                assert form.query_one("#form-value", Input).has_focus
            assert "0 min to 240 min" in " ".join(rig.screen_text().split())
            form.query_one("#form-value", Input).value = "10 min"
            await rig.enter(pilot, "")
            form.query_one("#form-reason", Input).value = "half a rea"
            await pilot.press("escape")
            await rig.settle(pilot)
            await pilot.press("enter")
            await rig.settle(pilot)
            kept = [one.value for one in rig.terminal.screen.query(Input)]
            assert kept == ["10 min", "half a rea"]

    run(main)
    assert shop.station.rules.rest_minutes == 0


def test_rules_that_do_not_fit_each_other_are_refused_and_kept(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await _to_rules(rig, pilot, "high-ppo2")
            for text in ("1.3 bar", "stricter"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"
            assert "agreed-ppo2" in rig.said()[1]
            await pilot.press("enter")
            await rig.settle(pilot)
            kept = [one.value for one in rig.terminal.screen.query(Input)]
            assert kept == ["1.3 bar", "stricter"]

    run(main)
    assert shop.station.rules.high_ppo2_bar == 1.6


@pytest.mark.parametrize("who", ["blender", "auditor"])
def test_only_a_manager_changes_a_rule(rig: Rig, shop: Shop, who: str) -> None:
    async def main() -> None:
        async with rig.run(place="office", who=who) as pilot:
            await _to_rules(rig, pilot, "rest before")
            for text in ("10 min", "I am in a hurry"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"
            assert "needs manager" in rig.said()[1]

    run(main)
    assert shop.station.rules.rest_minutes == 0


def test_a_rule_is_typed_in_the_units_shown(rig: Rig, shop: Shop) -> None:
    """5 psi is 0.344738 bar (NIST SP 811: 1 psi = 6.894757 kPa)."""

    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await pilot.press("alt+u")
            await _to_rules(rig, pilot, "stop-tolerance")
            for text in ("5 psi", "a finer gauge"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert shop.station.rules.pressure_tolerance_bar == pytest.approx(0.3447379, abs=1e-6)


async def _to_person(rig: Rig, pilot: Any, name: str) -> None:
    await pilot.press("alt+r")
    await rig.settle(pilot)
    for char in name:
        await pilot.press("space" if char == " " else char)
    await pilot.press("alt+r")
    await rig.settle(pilot)


def test_a_forgotten_secret_is_reset_and_opens_nothing_any_more(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await _to_person(rig, pilot, NAMES["blender"])
            for text in ("forgotten at sea", "nine dry gloves", "nine wet gloves"):
                await rig.enter(pilot, text)
            assert "the two differ" in rig.screen_text()
            for text in ("nine dry gloves", "nine dry gloves"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert shop.station.sign_in(NAMES["blender"], "nine dry gloves").role == "blender"
    with pytest.raises(Exception, match="do not belong"):
        shop.station.sign_in(NAMES["blender"], SECRET)
    (reset,) = [one for one in shop.entries() if one.kind == "person.secret-reset"]
    assert reset.data["reason"] == "forgotten at sea"


def test_a_blender_resets_nobodys_secret(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await _to_person(rig, pilot, NAMES["manager"])
            await rig.enter(pilot, "I want in")
            await pilot.press("escape")  # the reason is kept, the secrets are not
            await rig.settle(pilot)
            await pilot.press("alt+r")
            await rig.settle(pilot)
            assert [one.value for one in rig.terminal.screen.query(Input)] == ["I want in", "", ""]
            for text in ("nine dry gloves", "nine dry gloves"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"
            assert "needs manager" in rig.said()[1]

    run(main)
    assert shop.station.sign_in(NAMES["manager"], SECRET)


def test_ones_own_line_asks_for_the_old_secret_and_a_customer_has_none(
    rig: Rig, shop: Shop
) -> None:
    async def main() -> None:
        async with rig.run(place="office", who="manager") as pilot:
            await _to_person(rig, pilot, NAMES["manager"])
            assert rig.terminal.screen.query(Input).first().id == "form-old"
            await pilot.press("escape", "escape")
            await rig.settle(pilot)
            for char in "Kai":
                await pilot.press(char)
            await pilot.press("alt+r")
            await rig.settle(pilot)
            assert "has no secret" in rig.said()[1]

    run(main)
