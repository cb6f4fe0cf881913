"""What is registered at the Counter, and a signature drawn with the mouse."""

from __future__ import annotations

from blender.record import private, read
from blender.station import lookup
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tui.dialogs.form import Form
from tui.places.counter import Counter
from tui.widgets.signpad import SignBox, SignPad, rows


def counter(rig: Rig) -> Counter:
    screen = rig.terminal.screen
    assert isinstance(screen, Counter)
    return screen


def test_an_unknown_serial_is_registered_with_its_stamps_and_gone_on_with(
    rig: Rig, shop: Shop
) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "NEW-7")
            assert rig.said()[0] == "mind"
            await rig.enter(pilot, "")
            assert isinstance(rig.terminal.screen, Form)
            for text in ("12L", "232", "348", "2025-13"):
                await rig.enter(pilot, text)
            assert "year and month" in rig.screen_text()
            await pilot.press(*["backspace"] * 7)
            for text in ("2025-03", "2026-02", "yes"):
                await rig.enter(pilot, text)
            visit = counter(rig).visit
            assert visit is not None
            assert visit.serial == "NEW-7"
            assert not rig.terminal.drafts

    run(main)
    known = lookup.known(shop.station.record, "NEW-7", rig.clock())
    assert (known["wp_bar"], known["tested"], known["clean"]) == (232.0, "2025-03", True)


def test_stamps_that_cannot_be_are_said_while_the_form_is_open(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "NEW-8")
            await rig.enter(pilot, "")
            for text in ("12L", "232", "232", "2027-03"):
                await rig.enter(pilot, text)
            assert "it lies in the future" in rig.screen_text()
            await pilot.press(*["backspace"] * 7)
            for text in ("2025-03", "2026-02", "yes"):
                await rig.enter(pilot, text)
            assert isinstance(rig.terminal.screen, Form)
            assert "test pressure lies above" in rig.screen_text()

    run(main)
    with shop.station.record.read() as conn:
        assert not read.has_cylinder(conn, "NEW-8")


def test_a_form_left_is_found_again(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "NEW-7")
            await rig.enter(pilot, "")
            await rig.enter(pilot, "12L")
            await pilot.press("escape")
            await rig.settle(pilot)
            await pilot.press("alt+n")
            await rig.settle(pilot)
            form = rig.terminal.screen
            assert isinstance(form, Form)
            assert (form.answers["serial"], form.answers["size"]) == ("NEW-7", "12L")

    run(main)


def test_a_new_diver_is_whose_fill_it_is(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await rig.enter(pilot, "0")
            await rig.enter(pilot, "Bo Neuling")
            assert rig.said()[0] == "mind"
            await pilot.press("alt+d")
            await rig.settle(pilot)
            form = rig.terminal.screen
            assert isinstance(form, Form)
            assert form.answers["name"] == "Bo Neuling"
            await rig.enter(pilot, "nitrox")
            assert counter(rig).visit is not None
            assert "Bo Neuling" in rig.prompt()
            rig.terminal.screen.query_one("#field").value = "200 EAN32"
            await rig.enter(pilot, "")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    with shop.station.record.read() as conn:
        person = read.person(conn, shop.row(1).customer)
    assert person is not None
    assert (person.name, person.certified) == ("Bo Neuling", "nitrox")


def test_new_stamps_are_entered_and_only_what_changed(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1002")
            await pilot.press("alt+k")
            await rig.settle(pilot)
            form = rig.terminal.screen
            assert isinstance(form, Form)
            form.query_one("#form-clean").value = "yes"
            for _ in range(3):
                await rig.enter(pilot, "")
            assert rig.said()[0] == "done", rig.said()
            assert "NOT oxygen clean" not in rig.screen_text()

    run(main)
    assert shop.last().data["new"] == {"clean": True}


def test_a_signature_drawn_is_kept_and_printed(rig: Rig, shop: Shop) -> None:
    fill = shop.analysed()

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "C-1001")
            await pilot.press("alt+w")
            await rig.settle(pilot)
            assert not isinstance(rig.terminal.screen, SignBox)  # not before the own reading
            await rig.enter(pilot, "31.8")
            await pilot.press("alt+w")
            await rig.settle(pilot)
            await pilot.mouse_down(SignPad, offset=(4, 2))
            for at in ((10, 5), (20, 1)):
                await pilot.hover(SignPad, offset=at)
            await pilot.mouse_up(SignPad, offset=(20, 1))
            assert len(rig.terminal.screen.query_one(SignPad).strokes) == 1
            await pilot.press("enter")
            await rig.settle(pilot)
            assert "Drawn" in rig.said()[1]
            await rig.enter(pilot, "Kai Diver")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    with shop.station.record.read() as conn:
        entry = read.entry(conn, "QUAY-1", shop.row(fill).accepted_seq)
        assert entry is not None
        kept = private.get(conn, entry.data["private"])
    assert kept is not None
    (stroke,) = kept["strokes"]
    assert len(stroke) >= 2
    assert all(0 <= value <= 1000 for point in stroke for value in point)


def test_strokes_are_drawn_where_the_pen_was() -> None:
    drawn = rows([[(0, 0), (999, 0)]], 10, 3)
    assert drawn[0].strip() != ""
    assert len(drawn[0]) == 10
    assert [line.strip() for line in drawn[1:]] == ["", ""]
    assert rows([], 4, 1) == ["    "]
