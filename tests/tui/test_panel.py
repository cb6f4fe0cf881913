"""The Panel by its keys: each flow and each refusal, told by what is entered and said."""

from __future__ import annotations

import pytest
from textual.widgets import Digits, Footer, Input, Static

from blender.station import book, correcting, items
from blender.station.panel import panel_fill
from blender.station.wayson import ways_on
from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.house import Rig, run
from tests.tui.nasty import NASTY
from tui.dialogs.wayson import WaysOn
from tui.places.panel import Panel
from tui.shown import Units
from tui.widgets.rack import Rack


def state(shop: Shop, fill: int) -> str:
    return shop.row(fill).state


def test_a_fill_from_request_to_analysis_by_its_next_step_alone(rig: Rig, shop: Shop) -> None:
    fill = shop.request()

    async def main() -> None:
        async with rig.run() as pilot:
            assert rig.prompt().startswith("Enter plans EAN32")
            await rig.enter(pilot, "")
            assert state(shop, fill) == "planned"
            await rig.enter(pilot, "C-1001")
            assert state(shop, fill) == "filling"
            await rig.enter(pilot, "84.4 20")
            assert rig.said()[0] in ("done", "mind")
            assert shop.row(fill).step == 1
            await rig.enter(pilot, "230 20")
            assert state(shop, fill) == "resting", (rig.said(), rig.prompt())
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "A1 32.1")
            assert state(shop, fill) == "analysed", (rig.said(), rig.prompt())
            assert "accept" in rig.said()[1]

    run(main)


def test_another_cylinder_is_refused_and_kept(rig: Rig, shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "C-1003")
            assert rig.said()[0] == "refused"
            assert "C-1001" in rig.said()[1]
            assert rig.terminal.screen.query_one(Input).value == "C-1003"

    run(main)
    assert state(shop, fill) == "planned"
    assert [row.kind for row in shop.exceptions(fill)] == ["refused"]


def test_a_reading_that_cannot_be_read_stays_in_the_field(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            panel = rig.terminal.screen
            assert isinstance(panel, Panel)
            for typed in ("74,512 31", "74.5", "31", "abc 20", "74.5 20 30", "-5 20"):
                panel.say("note", "")
                panel.query_one(Input).value = typed
                await rig.enter(pilot, "")
                assert rig.said()[0] == "refused", typed
                assert panel.query_one(Input).value == typed

    run(main)
    assert shop.row(fill).gauge_mbar == 60_000


def test_a_comma_is_decimal_and_the_echo_says_so(rig: Rig, shop: Shop) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.type(pilot, "74,5 31")
            await pilot.pause()
            assert "74.5 bar at 31 °C (gas)" in rig.screen_text()

    run(main)


def test_several_on_one_manifold_are_started_together(rig: Rig, shop: Shop) -> None:
    fills = [shop.request(cylinder=serial) for serial in ("C-1001", "C-1003", "D-7")]
    for fill in fills[:2]:
        shop.plan(fill)

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("alt+w")
            await rig.settle(pilot)
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "")
            assert rig.said()[0] == "mind"  # one alone
            await rig.enter(pilot, "D-7")
            assert rig.said()[0] == "refused"  # nothing is planned for it
            await rig.enter(pilot, "C-1001")
            assert rig.said() == ("mind", "C-1001 is scanned already.")
            await rig.enter(pilot, "C-1003")
            assert "C-1001, C-1003" in rig.prompt()
            assert [state(shop, fill) for fill in fills[:2]] == ["planned"] * 2
            await rig.enter(pilot, "")
            assert [state(shop, fill) for fill in fills[:2]] == ["filling"] * 2
            assert rig.said()[0] in ("done", "mind")

    run(main)


def test_unlike_ones_on_a_manifold_are_not_started(rig: Rig, shop: Shop) -> None:
    one = shop.request(cylinder="C-1001", have="60bar@20C:EAN28")
    other = shop.request(cylinder="C-1003", have="100bar@20C:EAN30")
    for fill in (one, other):
        shop.plan(fill)

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("alt+w")
            await rig.settle(pilot)
            for text in ("C-1001", "C-1003", ""):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"
            assert rig.said()[1].startswith("Refused: they hold unlike gas")
            assert [state(shop, fill) for fill in (one, other)] == ["planned"] * 2

    run(main)


def test_a_reading_of_another_fill_is_not_entered_without_a_second_enter(
    rig: Rig, shop: Shop
) -> None:
    here = shop.filling()
    there = shop.filling(cylinder="C-1003", have="100bar:EAN28", want="230bar:EAN30")
    stop = shop.steps(there)[0].to_mbar / 1000

    async def main() -> None:
        async with rig.run() as pilot:
            assert rig.terminal.screen.focused_fill == here
            typed = f"{stop:.1f} 20"
            await rig.enter(pilot, typed)
            assert rig.said()[0] == "mind"
            assert "C-1003" in rig.said()[1]
            assert len(shop.entries()) == before
            await rig.enter(pilot, "")

    before = len(shop.entries())
    run(main)
    assert len(shop.entries()) == before + 1
    assert shop.row(here).gauge_mbar == round(stop, 1) * 1000


def test_a_doubted_reading_goes_along_and_no_word_stays_behind(rig: Rig, shop: Shop) -> None:
    first = shop.filling()
    second = shop.filling(cylinder="C-1003", have="120bar@20C:EAN28")

    async def main() -> None:
        async with rig.run() as pilot:
            panel = rig.terminal.screen
            assert isinstance(panel, Panel)
            stop = shop.steps(second)[0].to_mbar / 1000
            await rig.enter(pilot, f"{stop:.1f} 20")
            assert "suits C-1003" in rig.said()[1], rig.said()
            panel.turn(second)
            await rig.settle(pilot)
            assert rig.said()[1] == ""
            assert rig.terminal.screen.query_one(Input).value == f"{stop:.1f} 20"
            await pilot.press("enter")
            await rig.settle(pilot)
            assert shop.row(second).step == 1
            panel.turn(first)
            await rig.settle(pilot)
            assert rig.said()[1] == ""
            assert rig.terminal.screen.query_one(Input).value == ""

    run(main)
    assert shop.row(first).step == 0


def test_what_one_half_typed_is_not_the_next_persons(rig: Rig, shop: Shop) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run(who="blender") as pilot:
            await rig.type(pilot, "74.5")
            for who, left in (("blender", "74.5"), ("manager", "")):
                await pilot.press("alt+l")
                await rig.settle(pilot)
                await rig.terminal.floor.sign_in(NAMES[who], SECRET)
                rig.terminal.signed_in()
                await rig.settle(pilot)
                assert rig.terminal.screen.query_one(Input).value == left

    run(main)


def test_over_the_working_pressure_is_where_it_stands(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "84.4bar")
    shop.reading(fill, "300bar")

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.settle(pilot)
            assert "STOP: over the working" in " ".join(rig.screen_text().split())

    run(main)


def test_what_its_analysis_rejects_is_offered_to_nobody(rig: Rig, shop: Shop) -> None:
    fill = shop.rested()
    assert shop.analyse(fill, "3.2").facts["decision"] == "reject"

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.settle(pilot)
            assert "REJECTED by its" in " ".join(rig.screen_text().split())
            await rig.enter(pilot, "")
            assert "MAXIMUM DEPTH" not in rig.screen_text()

    run(main)


def test_a_miss_is_answered_with_the_mix_it_leads_to(rig: Rig, shop: Shop) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "92 20")
            kind, said = rig.said()
            assert kind == "mind"
            assert "leads to O2" in said

    run(main)


def test_an_overshoot_offers_ways_on_and_one_is_planned(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "92bar")
    before = shop.seq()

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("alt+v")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, WaysOn))
            said = rig.screen_text()
            assert "34.79% O2" in said
            assert "A bleed takes the gas as it lies at the valve" in said
            await pilot.press("escape")
            await rig.settle(pilot)
            assert shop.seq() == before
            await pilot.press("alt+v")
            await rig.until(pilot, lambda: isinstance(rig.terminal.screen, WaysOn))
            found = ways_on(shop.station.record, fill)
            await pilot.press(str(1 + [way.kind for way in found].index("top")))
            await rig.until(pilot, lambda: not isinstance(rig.terminal.screen, WaysOn))
            await rig.settle(pilot)
            assert rig.said()[0] in ("done", "mind"), rig.said()

    run(main)
    planned = [entry for entry in shop.entries() if entry.kind == "fill.planned"][-1]
    assert planned.data["options"]["way"] == "top"
    assert [step["action"] for step in planned.data["steps"]] == ["add", "rest", "analyse"]


def test_a_mistyped_reading_is_corrected_by_an_entry(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "84.4 20")
            await pilot.press("alt+m")
            await rig.settle(pilot)
            await rig.enter(pilot, "74.4 20")
            assert rig.said()[0] in ("done", "mind"), rig.said()

    run(main)
    assert shop.row(fill).gauge_mbar == 74_400
    assert shop.row(fill).step == 0
    assert shop.last().kind == "fill.reading-corrected"


def test_hold_takes_a_reason_and_resume_asks_serial_then_gauge(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("alt+h")
            await rig.settle(pilot)
            await rig.enter(pilot, "power cut")
            assert state(shop, fill) == "held"
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "59.8 20")
            assert state(shop, fill) == "filling"

    run(main)


def test_escape_lets_go_of_a_question_and_keeps_what_was_typed(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.type(pilot, "74.5")
            await pilot.press("alt+h")
            await rig.settle(pilot)
            await rig.type(pilot, "power")
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one(Input).value == "74.5"
            await pilot.press("alt+h")
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one(Input).value == "power"

    run(main)
    assert state(shop, fill) == "filling"


def test_function_keys_turn_to_fills_and_each_keeps_its_own(rig: Rig, shop: Shop) -> None:
    first = shop.filling()
    second = shop.filling(cylinder="C-1003")

    async def main() -> None:
        async with rig.run() as pilot:
            screen = rig.terminal.screen
            assert isinstance(screen, Panel)
            await rig.type(pilot, "70")
            await pilot.press("f3")
            await rig.settle(pilot)
            assert screen.focused_fill == second
            assert screen.query_one(Input).value == ""
            shop.reject(first)
            screen.renew()
            await rig.settle(pilot)
            slots = screen.query_one(Rack).slots
            assert slots[0] is None
            assert slots[1] is not None
            assert slots[1].fill == second

    run(main)


def test_the_tag_is_printed(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("alt+g")
            await rig.settle(pilot)
            assert rig.said()[0] == "done"

    run(main)
    assert rig.papers[f"tag-QUAY-1-{fill}.pdf"].startswith(b"%PDF")


def test_units_switch_on_the_spot_for_what_is_shown_and_typed(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            assert "O2 84.4 bar" in rig.screen_text()
            await pilot.press("alt+u")
            await rig.settle(pilot)
            text = rig.screen_text()
            assert "psi at 68 °F" in text
            assert "84.4" not in text
            await rig.enter(pilot, "1080 70")

    run(main)
    assert shop.row(fill).gauge_mbar == pytest.approx(1080 * 68.94757, abs=1)


def test_everything_dangerous_says_so(rig: Rig, shop: Shop) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "70 20")
            assert "DO NOT BREATHE" in " ".join(rig.screen_text().split())
            assert "! 1" in rig.screen_text() or "!1" in rig.screen_text()

    run(main)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_nothing_scrolls_off(rig: Rig, shop: Shop, size: tuple[int, int]) -> None:
    shop.filling()

    async def main() -> None:
        async with rig.run(size=size) as pilot:
            await pilot.pause()
            screen = rig.terminal.screen
            assert screen.query_one(Footer).max_scroll_x == 0
            assert screen.max_scroll_x == 0
            assert screen.max_scroll_y == 0

    run(main)


def test_nasty_texts_are_shown_or_refused_letter_by_letter(rig: Rig, shop: Shop) -> None:
    shop.filling()
    shop.filling(cylinder="C-1003")

    async def main() -> None:
        async with rig.run() as pilot:
            for text in NASTY:
                await pilot.press("f3", "alt+h")
                rig.terminal.screen.query_one(Input).value = text
                await pilot.press("enter")
                await rig.settle(pilot)
            assert rig.terminal.is_running

    run(main)
    assert book.fills(shop.station.record)["fills"]


def test_a_corrected_gauge_has_its_dial_in_the_big_digits(rig: Rig, shop: Shop) -> None:
    """The hand at the valve goes by the needle: what it shows is what stands large."""
    items.add(shop.station, shop.mara, "gauge", "G1", range="1.0@250bar", serves="oxygen")
    correcting.correct(
        shop.station, shop.mara, "G1", by="1.3bar", since="2026-11-01", reason="reads low"
    )
    fill = shop.filling()
    stop = panel_fill(shop.station.record, fill).stop
    assert stop is not None

    async def main() -> None:
        async with rig.run():
            digits = rig.terminal.screen.query_one("#digits", Digits)
            assert float(digits.value) == pytest.approx(stop.here_bar - 1.3, abs=0.051)
            beside = str(rig.terminal.screen.query_one("#unit", Static).render())
            assert f"on the dial, counts as {Units().pressure(stop.here_bar)}" in beside
            assert rig.terminal.screen.value_to_copy().startswith(digits.value)

    run(main)


def test_a_cylinder_in_another_fill_is_not_started(rig: Rig, shop: Shop) -> None:
    first = shop.filling()
    second = shop.request()
    shop.plan(second)

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("f3")
            await rig.settle(pilot)
            await rig.enter(pilot, "C-1001")
            kind, words = rig.said()
            assert kind == "refused"
            assert f"fill {first} is filling" in words

    run(main)
    assert state(shop, second) == "planned"


def test_what_was_turned_to_at_one_fill_is_not_asked_at_another(rig: Rig, shop: Shop) -> None:
    first, second = shop.request(), shop.request(cylinder="C-1003")

    async def main() -> None:
        async with rig.run() as pilot:
            usual = rig.prompt()
            await pilot.press("alt+n")
            await rig.settle(pilot)
            assert "analysed" in rig.prompt()
            rig.terminal.in_hand = second  # brought along from the Counter, no key of its own
            rig.terminal.screen.renew()
            await rig.settle(pilot)
            assert rig.terminal.screen.focused_fill == second
            assert rig.prompt() == usual
            await pilot.press("alt+h")
            await rig.settle(pilot)
            assert rig.prompt().startswith("C-1003")
            rig.terminal.in_hand = first
            rig.terminal.screen.renew()
            await rig.settle(pilot)
            assert rig.prompt() == usual

    run(main)


def test_a_fill_that_ends_takes_its_question_along(rig: Rig, shop: Shop) -> None:
    first, _ = shop.request(), shop.request(cylinder="C-1003")

    async def main() -> None:
        async with rig.run() as pilot:
            await pilot.press("alt+n")
            await rig.settle(pilot)
            shop.reject(first)
            rig.terminal.screen.renew()
            await rig.settle(pilot)
            assert rig.prompt().startswith("Enter plans"), rig.prompt()

    run(main)
