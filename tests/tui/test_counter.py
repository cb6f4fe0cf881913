"""The Counter by its keys: check-in, signing and hand-over, told by what is entered and said."""

from __future__ import annotations

from io import BytesIO

import pytest
from pypdf import PdfReader
from textual.widgets import Footer, Input

from blender.errors import InputError
from blender.station import book, register
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tests.tui.nasty import NASTY
from tui.places.counter import Counter


def brought_before(shop: Shop) -> None:
    """Take Kai's cylinder through a whole fill, so that the station knows it."""
    fill, anchor = shop.accepted()
    assert shop.collect(fill, anchor).done


def counter(rig: Rig) -> Counter:
    screen = rig.terminal.screen
    assert isinstance(screen, Counter)
    return screen


def test_a_known_cylinder_from_scan_to_signed_label_in_twelve_keys(rig: Rig, shop: Shop) -> None:
    brought_before(shop)
    keys = 0

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.remember(analyser="A1")

            async def enter(text: str) -> None:
                nonlocal keys
                keys += 1
                await rig.enter(pilot, text)

            await enter("C-1001")
            await enter("60 28.1")
            assert rig.terminal.screen.query_one(Input).value == "230 EAN32"
            await enter("")
            assert shop.row(2).state == "planned", rig.said()
            stop = shop.steps(2)[0].to_mbar / 1000
            assert f"oxygen to {stop:.0f}." in rig.screen_text()
            await enter("")
            assert rig.terminal.current_mode == "panel"
            await enter("C-1001")
            await enter(f"{stop:.1f} 20")
            await enter("230 20")
            await enter("C-1001")
            await enter("32.1")
            await enter("")
            assert rig.terminal.current_mode == "counter"
            await enter("31.8")
            assert rig.terminal.screen.query_one(Input).value == ""
            await enter("Kai Diver")
            assert rig.said()[0] == "done", rig.said()
            assert "papers/label-QUAY-1-2.pdf" in rig.said()[1]

    run(main)
    assert shop.row(2).state == "accepted"
    assert keys <= 12
    residual = next(e for e in shop.entries() if e.kind == "fill.residual")
    assert residual.data["analyser"] == "A1"
    assert residual.data["o2_ppm"] == 281_000
    assert rig.papers["label-QUAY-1-2.pdf"].startswith(b"%PDF")


def test_what_is_signed_for_is_what_is_printed(rig: Rig, shop: Shop) -> None:
    fill = shop.analysed("32.4")

    async def main() -> str:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "32.1")
            shown = rig.screen_text()
            await rig.enter(pilot, "Kai Diver")
            return shown

    shown = run(main)
    label = PdfReader(BytesIO(rig.papers[f"label-QUAY-1-{fill}.pdf"])).pages[0]
    printed = label.extract_text().replace("\xa0", " ")
    # 1.4 / 0.324 - 1 = 33.2 m, 1.6 / 0.324 - 1 = 39.4 m; of 33 and 39 m: 108.3 and 127.95 ft
    for stated in ("33 m", "108 ft", "39 m", "127 ft", "230 bar at 20 °C", "32.4 %", "32.1 %"):
        assert stated in shown, stated
        assert stated in printed or stated.removesuffix(" %") in printed, stated


def test_an_empty_scan_asks_for_the_cylinder(rig: Rig, shop: Shop) -> None:
    shop.analysed("32.1")

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            for text in ("C-1001", "31.8", "Kai Diver", ""):
                await rig.enter(pilot, text)
            kind, said = rig.said()
            assert kind == "refused"
            assert said == "serial: nothing given; scan the cylinder: C-1001"

    run(main)


def test_a_reading_that_disagrees_signs_nothing(rig: Rig, shop: Shop) -> None:
    fill = shop.analysed("32.1")

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "34.9")
            await rig.enter(pilot, "Kai Diver")
            kind, said = rig.said()
            assert kind == "refused"
            assert "Nothing was signed" in said
            await rig.enter(pilot, "")
            assert rig.terminal.current_mode == "panel"

    run(main)
    assert shop.row(fill).state == "recheck"
    assert not rig.papers


def test_a_printer_that_fails_loses_no_signature(
    rig: Rig, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill = shop.analysed("32.1")

    def jammed(name: str, content: bytes) -> str:
        raise InputError("paper", name, "the printer has none")

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "31.9")
            object.__setattr__(rig.terminal.house, "put_paper", jammed)
            await rig.enter(pilot, "Kai Diver")
            kind, said = rig.said()
            assert kind == "mind"
            assert "NOT printed" in said
            object.__setattr__(rig.terminal.house, "put_paper", rig._put)
            await pilot.press("alt+g")
            await rig.settle(pilot)
            assert rig.said()[0] == "done"

    run(main)
    assert shop.row(fill).state == "accepted"
    assert list(rig.papers) == [f"label-QUAY-1-{fill}.pdf"]


def test_cylinder_then_label_hands_it_over_and_nothing_personal_stays(rig: Rig, shop: Shop) -> None:
    fill, anchor = shop.accepted()

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            assert "Kai Diver" in rig.screen_text()
            await rig.enter(pilot, anchor)
            assert rig.said()[0] == "done"
            assert "Kai Diver" not in rig.screen_text()

    run(main)
    assert shop.row(fill).state == "collected"


@pytest.mark.parametrize("label_first", [True, False])
def test_another_cylinders_label_is_refused(rig: Rig, shop: Shop, label_first: bool) -> None:
    fill, anchor = shop.accepted()
    other = shop.analysed(cylinder="C-1003")
    assert shop.accept(other, "31.8").done

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            for text in (anchor, "C-1003") if label_first else ("C-1003", anchor):
                await rig.enter(pilot, text)
            kind, said = rig.said()
            assert kind == "refused"
            assert "C-1003" in said or "not of this fill" in said

    run(main)
    assert {shop.row(fill).state, shop.row(other).state} == {"accepted"}


def test_a_set_is_handed_over_with_both_posts(rig: Rig, shop: Shop) -> None:
    facts = {"cylinder": "T-1+T-2", "have": "0bar:air", "residual": "unknown"}
    fill = shop.request(**facts, want="230bar:air")
    assert shop.plan(fill).done
    assert shop.start(fill, "T-1+T-2", isolator="open").done
    assert shop.reading(fill, "230bar").state == "resting"
    for post in ("T-1", "T-2"):
        assert shop.analyse(fill, "20.9", serial=post).state == "analysed"
    anchor = shop.accept(fill, "20.9").facts["anchor"]

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "T-2")
            assert "T-1" in rig.prompt()
            await rig.enter(pilot, "T-1")
            await rig.enter(pilot, str(anchor))
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert shop.row(fill).state == "collected"


def test_several_hits_are_chosen_by_number_or_by_arrows(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-10")
            assert len(counter(rig).hits) == 3
            await rig.enter(pilot, "2")
            visit = counter(rig).visit
            assert visit is not None
            assert visit.serial == "C-1002"
            await pilot.press("alt+r")
            await rig.settle(pilot)
            await rig.enter(pilot, "C-10")
            await pilot.press("down", "down")
            await rig.enter(pilot, "")
            visit = counter(rig).visit
            assert visit is not None
            assert visit.serial == "C-1003"

    run(main)


def test_no_such_fill_enters_nothing_and_names_the_nearest(rig: Rig, shop: Shop) -> None:
    before = len(shop.entries())

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.remember(analyser="A1")
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "60 28.1")
            await rig.enter(pilot, "Kai")
            await rig.enter(pilot, "230 EAN32 flow 30%")
            assert rig.said()[0] == "refused", rig.said()
            assert rig.terminal.screen.query_one(Input).value == "230 EAN32 flow 30%"

    run(main)
    assert len(shop.entries()) == before


def test_oxygen_onto_what_was_only_stated_is_analysed_first(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.remember(analyser="A1")
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "60 EAN28 stated")
            await rig.enter(pilot, "Kai")
            await rig.enter(pilot, "230 EAN32")
            assert rig.said()[0] == "refused"
            assert shop.row(1).state == "requested"
            await rig.enter(pilot, "28.1")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert shop.row(1).state == "planned"


def test_empty_and_air_is_as_short(rig: Rig, shop: Shop) -> None:
    brought_before(shop)

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "0")
            field = rig.terminal.screen.query_one(Input)
            field.value = "200 air"
            await rig.enter(pilot, "")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert shop.row(2).state == "planned"
    assert shop.row(2).want_typed == "200bar:air"


def test_another_customer_is_named_in_the_same_line(rig: Rig, shop: Shop) -> None:
    brought_before(shop)

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "0")
            rig.terminal.screen.query_one(Input).value = "200 air for Lena"
            await rig.enter(pilot, "")

    run(main)
    kai, lena = shop.row(1).customer, shop.row(2).customer
    assert kai != lena


def test_a_diver_without_a_card_on_record_is_asked_once(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            for cylinder, asked in (("C-1001", True), ("C-1003", False)):
                await rig.enter(pilot, cylinder)
                await rig.enter(pilot, "0")
                await rig.enter(pilot, "Uma")
                await rig.enter(pilot, "200 EAN32")
                assert ("card? yes/no" in rig.prompt()) == asked
                if asked:
                    await rig.enter(pilot, "yes")
                assert rig.said()[0] == "done", rig.said()
                await pilot.press("alt+r")
                await rig.settle(pilot)

    run(main)
    assert [shop.row(fill).state for fill in (1, 2)] == ["planned", "planned"]
    seen = [entry for entry in shop.entries() if entry.kind == "person.certified"]
    assert [entry.data["new"] for entry in seen] == ["nitrox"]
    known = register.people(shop.station.record)["people"]
    assert [one["certified"] for one in known if one["name"] == "Uma Neu"] == ["nitrox"]


def test_no_card_no_fill(rig: Rig, shop: Shop) -> None:
    before = len(shop.entries())

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            for text in ("C-1001", "0", "Uma", "200 EAN32", "no"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"

    run(main)
    assert len(shop.entries()) == before


def test_helium_is_measured_never_taken_as_none(rig: Rig, shop: Shop) -> None:
    before = len(shop.entries())

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.remember(analyser="A1")
            for text in ("C-1001", "60 28.1", "Lena", "200 21/35"):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "refused"
            assert "helium reading" in rig.said()[1]
            await pilot.press("escape")
            await rig.settle(pilot)
            assert rig.terminal.screen.query_one(Input).value == "60 28.1"

    run(main)
    assert len(shop.entries()) == before


def test_an_open_fill_is_gone_on_with_at_the_panel(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            assert "filling" in rig.said()[1]
            await rig.enter(pilot, "")
            assert rig.terminal.current_mode == "panel"
            assert getattr(rig.terminal.screen, "focused_fill", 0) == fill

    run(main)


def test_due_stamps_are_said_in_advance(rig: Rig, shop: Shop) -> None:
    rig.clock.turn(60 * 24 * 200)

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            assert rig.said()[0] == "mind"
            assert "inspected 2026-02" in " ".join(rig.screen_text().split())
            assert "overdue" in rig.said()[1]

    run(main)


def test_units_switch_for_what_is_shown_and_typed(rig: Rig, shop: Shop) -> None:
    brought_before(shop)

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await pilot.press("alt+u")
            await rig.settle(pilot)
            await rig.enter(pilot, "C-1001")
            await rig.put(pilot, "870 64F EAN28")
            assert "870 psi at 64 °F" in rig.screen_text()

    run(main)


def test_start_over_lets_go_of_everything_personal(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "Kai")
            assert "Kai Diver" in rig.screen_text()
            await rig.put(pilot, "Kai again")
            await pilot.press("alt+r")
            await rig.settle(pilot)
            assert "Kai" not in rig.screen_text()

    run(main)


def test_a_hypoxic_gas_says_its_floor_and_shows_both_gases_large(rig: Rig, shop: Shop) -> None:
    facts = {"cylinder": "C-1003", "customer": "Lena Tief", "have": "0bar:air"}
    fill = shop.request(**facts, want="200bar:10/70")
    assert shop.plan(fill).done
    assert shop.start(fill, "C-1003").done
    for step in [step for step in shop.steps(fill) if step.action == "add"]:
        assert shop.reading(fill, f"{step.to_mbar / 1000}bar").done
    assert shop.analyse(fill, "10.1", "69.5", serial="C-1003").state == "analysed"

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1003")
            await rig.enter(pilot, "10.0 69.8")
            text = rig.screen_text()
            # 0.18 / 0.100 - 1 = 8.0 m, 26.4 ft; 1.4 / 0.101 - 1 = 128.6 m
            assert "HYPOXIC: DO NOT BREATHE ABOVE 8 m / 27 ft" in text
            assert "MAXIMUM DEPTH 128 m" in text
            assert "% He" in text
            assert rig.terminal.screen.query_one("#sheet").max_scroll_y == 0

    run(main)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_nothing_scrolls_off(rig: Rig, shop: Shop, size: tuple[int, int]) -> None:
    shop.analysed()

    async def main() -> None:
        async with rig.run(size=size, place="counter") as pilot:
            screen = rig.terminal.screen
            for text in ("", "C-1003", "0"):
                await rig.enter(pilot, text)
                assert screen.query_one(Footer).max_scroll_x == 0
                assert (screen.max_scroll_x, screen.max_scroll_y) == (0, 0)
            await pilot.press("alt+r")
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "31.8")
            assert screen.query_one("#sheet").max_scroll_y == 0

    run(main)


def test_a_name_is_signed_and_shown_letter_by_letter(rig: Rig, shop: Shop) -> None:
    fill = shop.analysed()
    name = "[@click=app.quit]x[/] =1+1"

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "31.8")
            rig.terminal.screen.query_one(Input).value = name
            await rig.enter(pilot, "")
            assert f"Enter again records {name} as representative" in rig.said()[1]
            assert shop.row(fill).state == "analysed"
            await pilot.press("enter")
            await rig.settle(pilot)
            assert rig.said()[0] == "done", rig.said()
            assert "as representative of Kai Diver" in rig.said()[1].replace("Recorded ", "")
            assert f"ACCEPTED by {name}" in rig.screen_text()

    run(main)
    assert shop.row(fill).accepted_name == name
    (accepted,) = [one for one in shop.entries() if one.kind == "fill.accepted"]
    assert accepted.data["representative"] is True


def test_nasty_texts_are_shown_or_refused_letter_by_letter(rig: Rig, shop: Shop) -> None:
    shop.analysed(cylinder="C-1003")
    stages: tuple[tuple[str, ...], ...] = ((), ("C-1001",), ("C-1001", "0", "Kai"), ("C-1003",))

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            for stage in stages:
                asked = ""
                for text in NASTY:
                    if rig.prompt() != asked:
                        counter(rig).start_over()
                        await pilot.pause()
                        for known in stage:
                            await rig.enter(pilot, known)
                        asked = rig.prompt()
                    rig.terminal.screen.query_one(Input).value = text
                    await pilot.press("enter")
                    await rig.settle(pilot)
                    assert rig.terminal.is_running
                    while len(rig.terminal.screen_stack) > 1:
                        rig.terminal.pop_screen()

    run(main)
    assert book.fills(shop.station.record)["fills"]


def test_a_word_at_the_hand_over_registers_nothing_and_is_told_what_is_waited_for(
    rig: Rig, shop: Shop
) -> None:
    fill, anchor = shop.accepted()

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.in_hand = fill
            counter(rig).renew()
            await rig.settle(pilot)
            prompt = rig.prompt()
            assert prompt.startswith("To hand it over, scan")
            await rig.enter(pilot, "hello")
            kind, told = rig.said()
            assert kind == "refused"
            assert f"To hand over fill {fill} scan C-1001, then its label" in told
            assert rig.prompt() == prompt
            assert counter(rig).unknown == ""
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, str(anchor))
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert shop.row(fill).state == "collected"


def test_the_next_known_cylinder_goes_on_with_the_same_field(rig: Rig, shop: Shop) -> None:
    fill, _ = shop.accepted()

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            rig.terminal.in_hand = fill
            counter(rig).renew()
            await rig.settle(pilot)
            await rig.enter(pilot, "C-1002")
            visit = counter(rig).visit
            assert visit is not None
            assert visit.serial == "C-1002"

    run(main)
