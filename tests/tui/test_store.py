"""The Store by its keys: banks read, analysers set, the day begun and ended."""

from __future__ import annotations

from typing import Any

import pytest
from textual.widgets import Input

from blender.station import day, equipment, register
from tests.station.shop import NAMES, Shop
from tests.tui.house import Rig, run, shop_at
from tests.tui.nasty import NASTY


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Any:
    shop = shop_at(rig.location.parent)
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="50L", at="180bar")
    rig.clock.us = shop.clock.us + 60_000_000
    yield shop
    shop.station.record.close()


def bank(shop: Shop) -> dict[str, Any]:
    return dict(register.supplies(shop.station.record)["supplies"][0])


def test_a_bank_is_read_and_a_gauge_far_off_is_pointed_out(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            assert rig.prompt().startswith("o1")
            await rig.enter(pilot, "178,5 20")
            assert rig.said()[0] == "done"
            assert "178.5 bar at 20 °C" in rig.said()[1]
            await rig.enter(pilot, "90")
            kind, said = rig.said()
            assert kind == "mind"
            assert "by the record 178.5 bar" in said

    run(main)
    assert bank(shop)["pressure_bar"] == pytest.approx(90.0, abs=0.001)


def test_an_analyser_is_set_on_air_or_on_another_gas(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("down")
            await rig.settle(pilot)
            assert rig.prompt().startswith("A1")
            await rig.enter(pilot, "20,9")
            assert rig.said()[0] == "done"
            await rig.enter(pilot, "99.5 oxygen 1013mbar 21C/45%")
            assert rig.said()[0] == "done", rig.said()
            assert NAMES["blender"] in rig.screen_text()
            await rig.enter(pilot, "35")
            assert rig.said()[0] == "refused"
            assert rig.terminal.screen.query_one(Input).value == "35"

    run(main)
    body = shop.last().body
    assert shop.last().kind == "analyser.calibrated"
    for text in (b"1013mbar", b"21C/45%", b"oxygen"):
        assert text in body


def test_the_day_is_begun_with_its_checks_and_ended_with_its_sheet(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()
    rig.clock.turn(24 * 60)

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            assert "Not read today: o1" in rig.screen_text()
            await pilot.press("alt+d")
            await rig.settle(pilot)
            await rig.enter(pilot, "perhaps")
            assert rig.said()[0] == "refused"
            rig.terminal.screen.query_one(Input).value = ""
            for answer in ("y", "yes, alarm shows 20.9", "n, van idling", "178 15", "", ""):
                await rig.enter(pilot, answer)
            assert NAMES["blender"] in rig.prompt()
            await rig.enter(pilot, "windy")
            kind, said = rig.said()
            assert kind == "mind"
            assert "van idling" in said
            assert "open since" in rig.screen_text()
            await pilot.press("alt+d")
            await rig.settle(pilot)
            assert "Fills still open: 1" in rig.screen_text()
            assert "1 open" in rig.prompt()
            await rig.enter(pilot, "")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert [entry.kind for entry in shop.entries()][-1] == "day.closed"
    assert [name for name in rig.papers if name.startswith("day-QUAY-1")]
    assert shop.row(fill).state == "filling"


def test_an_analyser_that_is_due_is_asked_for_at_the_days_start(rig: Rig, shop: Shop) -> None:
    rig.clock.turn(24 * 60)

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("alt+d")
            for answer in ("y", "y", "y", ""):
                await rig.enter(pilot, answer)
            assert rig.prompt().startswith("A1 is due")
            await rig.enter(pilot, "20.9")
            assert rig.prompt().startswith("A2 is due")
            await rig.enter(pilot, "20.8")
            assert "signs the day's start" in rig.prompt()
            await rig.enter(pilot, "")
            assert rig.said() == ("done", "The day is open.")

    run(main)
    kinds = [entry.kind for entry in shop.entries()]
    assert kinds[-3:] == ["analyser.calibrated", "analyser.calibrated", "day.opened"]


def test_the_key_that_sets_an_analyser_stays_at_it_after_entering(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("alt+k")
            await rig.enter(pilot, "20.9")
            assert rig.said()[0] == "done"
            assert rig.prompt().startswith("A1")
            await pilot.press("alt+k")
            await rig.enter(pilot, "20.8")  # set once more: it is the same instrument
            assert rig.said()[0] == "done"
            assert rig.prompt().startswith("A1")

    run(main)
    readings = {one["name"]: one for one in register.analysers(shop.station.record)["analysers"]}
    assert readings["A1"]["reading"] == "20.8"


def test_from_elsewhere_that_key_goes_to_the_first_analyser_that_is_due(
    rig: Rig, shop: Shop
) -> None:
    rig.clock.turn(24 * 60)
    shop.clock.us = rig.clock.us
    equipment.calibrate(shop.station, shop.mara, name="A1", gas="air", reading="20.9")
    rig.clock.us = shop.clock.us

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("alt+k")
            await rig.settle(pilot)
            assert rig.prompt().startswith("A2")

    run(main)


def test_what_was_said_of_a_step_of_the_days_start_goes_with_it(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("alt+d")
            await rig.enter(pilot, "perhaps")
            assert rig.said()[0] == "refused"
            await rig.enter(pilot, "y")
            assert rig.said() == ("note", "")
            assert "ventilation" in rig.prompt()

    run(main)


def test_a_start_left_by_esc_goes_on_for_the_same_person_alone(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("alt+d")
            await rig.enter(pilot, "y")
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.prompt().startswith("o1")
            await pilot.press("alt+d")
            await rig.settle(pilot)
            assert "ventilation" in rig.prompt()
            await pilot.press("alt+l")
            await rig.sign_in(pilot, NAMES["manager"])
            assert rig.prompt().startswith("o1")
            await pilot.press("alt+d")
            await rig.settle(pilot)
            assert "gauges show zero" in rig.prompt()

    run(main)
    assert shop.last().kind == "supply.added"


def test_a_day_left_open_is_closed_first_if_wanted(rig: Rig, shop: Shop) -> None:
    day.open_day(shop.station, shop.mara, gauges_zero="yes", room="yes", intake="yes")
    rig.clock.turn(24 * 60)

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            assert "was never closed" in rig.screen_text()
            await pilot.press("alt+d")
            await rig.settle(pilot)
            assert "Close it first?" in rig.prompt()
            await rig.enter(pilot, "y")
            assert "is closed" in rig.said()[1]
            assert "gauges show zero" in rig.prompt()

    run(main)
    assert shop.last().kind == "day.closed"
    assert len(rig.papers) == 1


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_waiting_fill_says_do_not_breathe_and_what_is_in_it(
    rig: Rig, shop: Shop, size: tuple[int, int]
) -> None:
    fill = shop.filling()
    shop.reading(fill, "70bar")
    rig.clock.us = shop.clock.us

    async def main() -> None:
        async with rig.run(place="store", size=size):
            line = next(one for one in rig.screen_text().splitlines() if "C-1001" in one)
            assert "DO NOT BREATHE O2 38" in line, line

    run(main)


def test_supplies_and_analysers_are_added(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", who="manager") as pilot:
            for name, gas, size, at in (("b1", "EAN32", "50L", "200"), ("A9", "", "", "")):
                await pilot.press("alt+n")
                await rig.settle(pilot)
                for text in (name, gas, size, at):
                    await rig.enter(pilot, text)
                assert rig.said()[0] == "done", rig.said()

    run(main)
    gases = {one["name"]: one for one in register.supplies(shop.station.record)["supplies"]}
    assert gases["b1"]["pressure_bar"] == pytest.approx(200.0, abs=0.01)
    assert "A9" in [one["name"] for one in register.analysers(shop.station.record)["analysers"]]


def test_a_blender_may_not_add_or_retire(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("alt+j")
            await rig.enter(pilot, "leaks")
            assert rig.said()[0] == "refused"
            assert "manager" in rig.said()[1]
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.prompt().startswith("o1: gauge")
            await pilot.press("alt+n")
            await rig.settle(pilot)
            for text in ("b1", "oxygen", "", ""):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"

    run(main)
    assert not bank(shop)["retired"]
    assert len(register.supplies(shop.station.record)["supplies"]) == 1


def test_a_bottle_is_swapped_and_a_supply_retired(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", who="manager") as pilot:
            await pilot.press("alt+x")
            await rig.settle(pilot)
            await rig.enter(pilot, "210")
            assert rig.said()[0] == "done", rig.said()
            assert bank(shop)["pressure_bar"] == pytest.approx(210.0, abs=0.01)
            await pilot.press("alt+j")
            await rig.enter(pilot, "leaks")
            assert "out of use" in rig.screen_text()

    run(main)
    assert bank(shop)["retired"]


def test_numbers_follow_the_units(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("alt+u")
            await rig.settle(pilot)
            assert "2611 psi" in rig.screen_text()
            await rig.enter(pilot, "2500 68")

    run(main)
    assert bank(shop)["pressure_bar"] == pytest.approx(172.4, abs=0.1)


def test_nasty_texts_are_refused_or_kept(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", who="manager") as pilot:
            for key in ("", "down", "alt+d"):
                if key:
                    await pilot.press(key)
                    await rig.settle(pilot)
                prompt = rig.prompt()
                for text in NASTY:
                    rig.terminal.screen.query_one(Input).value = text
                    await pilot.press("enter")
                    await rig.settle(pilot)
                    assert rig.prompt() == prompt
            assert rig.terminal.is_running

    run(main)
    assert shop.last().kind == "supply.added"
    assert bank(shop)["pressure_bar"] == pytest.approx(180.0, abs=0.01)


def test_nasty_names_and_reasons_are_shown_letter_by_letter(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", who="manager") as pilot:
            await pilot.press("alt+n")
            await rig.settle(pilot)
            for text in ("[red]x[/red]", "oxygen", "", ""):
                await rig.enter(pilot, text)
            assert "[red]x[/red]" in rig.screen_text()
            for text in NASTY:
                await pilot.press("alt+j")
                await rig.settle(pilot)
                rig.terminal.screen.query_one(Input).value = text
                await pilot.press("enter")
                await rig.settle(pilot)
                assert rig.terminal.current_mode == "store"

    run(main)


def test_a_long_list_keeps_its_mark_in_view(rig: Rig, shop: Shop) -> None:
    for number in range(30):
        equipment.add_supply(shop.station, shop.mara, name=f"bank {number:02}", gas="oxygen")

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            for _ in range(4):
                await pilot.press("pagedown")
                await rig.settle(pilot)
            assert "laboratory's report" in rig.prompt()
            assert "air test" in rig.screen_text()
            for _ in range(5):
                await pilot.press("pageup")
                await rig.settle(pilot)
            assert "Supplies" in rig.screen_text()

    run(main)


def test_an_auditor_enters_nothing_here(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", who="auditor") as pilot:
            await rig.enter(pilot, "150 20")
            assert rig.said()[0] == "refused"
            await pilot.press("alt+d")
            for answer in ("y", "y", "y", ""):
                await rig.enter(pilot, answer)
            assert rig.said()[0] == "refused"
            assert "signs the day's start" in rig.prompt()

    run(main)
    assert shop.last().kind == "supply.added"


def test_an_analyser_is_taken_out_of_use_by_a_manager_with_a_reason(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", who="manager") as pilot:
            await pilot.press("down", "alt+j")
            await rig.settle(pilot)
            assert rig.prompt().startswith("Why is A1 taken out")
            await rig.enter(pilot, "")
            assert rig.said()[0] == "refused"
            await rig.put(pilot, "its cell is wor")
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.prompt().startswith("A1: what it was set to")
            await pilot.press("alt+j")
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one(Input).value == "its cell is wor"
            await rig.enter(pilot, "n out")
            assert rig.said() == ("done", "A1 is out of use.")
            assert "out of use: its cell is worn out" in rig.screen_text()
            await pilot.press("end", "alt+k")
            await rig.settle(pilot)
            assert rig.prompt().startswith("A2")

    run(main)
    in_use = register.analysers(shop.station.record)["analysers"]
    assert [one["name"] for one in in_use] == ["A2"]


def test_a_blender_takes_no_analyser_out_of_use(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await pilot.press("down", "alt+j")
            await rig.settle(pilot)
            await rig.enter(pilot, "its cell is worn out")
            assert rig.said()[0] == "refused"
            assert "needs manager" in rig.said()[1]
            assert rig.terminal.screen.query_one(Input).value == "its cell is worn out"

    run(main)
    assert len(register.analysers(shop.station.record)["analysers"]) == 2
