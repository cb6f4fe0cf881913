"""Equipment, what falls due and the care of analysers, in the Store by its keys."""

from __future__ import annotations

from typing import Any

from textual.screen import ModalScreen

from blender.station import analyser_care, equipment, items, upkeep
from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run
from tests.tui.nasty import NASTY
from tui.dialogs.page import Page
from tui.dialogs.pick import Pick
from tui.widgets.fitted import Fitted


def gauge(shop: Shop, name: str = "G1") -> None:
    items.add(shop.station, shop.mara, "gauge", name, range="1.6@400bar", serves="oxygen",
              since="2024-11-01")  # fmt: skip


async def press(rig: Rig, pilot: Any, *keys: str) -> None:
    for key in keys:
        await pilot.press(key)
        await rig.settle(pilot)


def test_a_gauge_is_added_by_a_manager_who_comes_by(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await press(rig, pilot, "alt+e", "n", "1")
            await fill_form(rig, pilot, "G1", "1.6@400bar", "oxygen", "", NAMES["manager"], SECRET)
            screen = rig.terminal.screen
            assert isinstance(screen, Pick)
            assert "G1" in rig.screen_text()
            assert rig.terminal.floor.actor is not None
            assert rig.terminal.floor.actor.name == NAMES["blender"]

    run(main)
    with shop.station.record.read() as conn:
        (one,) = items.listing(conn)["equipment"]
    assert (one["name"], one["serves"]) == ("G1", "oxygen")


def test_a_blender_enters_what_was_done_and_reads_it_again(rig: Rig, shop: Shop) -> None:
    gauge(shop)

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await press(rig, pilot, "alt+e", "enter", "2")
            await fill_form(rig, pilot, "-0.5bar", "no", "", "paper 17")
            assert "NOT FOUND SOUND" in str(rig.terminal.screen.query_one(Fitted).render())
            await press(rig, pilot, "enter", "1")
            assert isinstance(rig.terminal.screen, Page)
            text = " ".join(rig.screen_text().split())
            assert "off by -0.5 bar, NOT FOUND SOUND, paper 17" in text

    run(main)
    with shop.station.record.read() as conn:
        (done,) = upkeep.history(conn, shop.station.record.station, "gauge", "G1")["done"]
    assert (done["act"], done["ok"], done["by"]) == ("calibrated", False, NAMES["blender"])


def test_a_blender_takes_nothing_out_of_use_and_what_was_typed_stays(rig: Rig, shop: Shop) -> None:
    gauge(shop)

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            for who, kind in (("blender", "refused"), ("manager", "done")):
                await press(rig, pilot, "alt+e", "enter", "4")
                await fill_form(rig, pilot, "worn out", NAMES[who], SECRET)
                if kind == "done":
                    assert "retired: worn out" in rig.screen_text()
                    await press(rig, pilot, "escape")
                assert rig.said()[0] == kind, rig.said()

    run(main)
    with shop.station.record.read() as conn:
        assert items.listing(conn)["equipment"][0]["retired"] == "worn out"


def test_what_falls_due_names_what_it_is_due_on(rig: Rig, shop: Shop) -> None:
    """A year between calibrations of a gauge is common practice, no source."""
    gauge(shop)
    equipment.add_cylinder(shop.station, shop.mara, serial="OLD-1", size="12L", wp="232bar",
                           tp="348bar", tested="2021-12", inspected="2026-02",
                           clean="no")  # fmt: skip

    async def main() -> None:
        async with rig.run(place="store", size=(120, 40)) as pilot:
            await press(rig, pilot, "alt+v")
            assert "389 d over  gauge G1: calibrated: in use since 2024-11-01" in rig.screen_text()
            await press(rig, pilot, "w")
            assert "Due within 60 days" in rig.screen_text()
            assert "cylinder OLD-1: tested 2021-12" in rig.screen_text()

    run(main)


def test_an_analyser_is_looked_after(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="store", size=(120, 40)) as pilot:
            await press(rig, pilot, "alt+i")
            assert "linearity: never tried" in rig.screen_text()
            await press(rig, pilot, "c")
            await fill_form(rig, pilot, "oxygen", "99.6")
            await press(rig, pilot, "n")
            await fill_form(rig, pilot, "CELL-1", "A1", "oxygen", "2025-11-25",
                            NAMES["manager"], SECRET)  # fmt: skip
            assert "cell CELL-1 (oxygen): 12 months old" in rig.screen_text()
            await press(rig, pilot, "s")
            await fill_form(rig, pilot, "air@20.9", "oxygen99.5@90", "1.01325bar", "")
            assert rig.said()[0] == "mind", rig.said()
            await press(rig, pilot, "alt+i", "p")
            assert rig.said() == ("done", "Certificate: papers/analyser-A1-2026-11-25.pdf")

    run(main)
    known = analyser_care.care_of(shop.station.record, "A1", rig.clock())
    assert len(known["checks"]) == 1
    assert known["linearity"]["ok"] is False
    assert rig.papers["analyser-A1-2026-11-25.pdf"].startswith(b"%PDF")


def test_whatever_equipment_is_called_it_is_only_text(rig: Rig, shop: Shop) -> None:
    for number, text in enumerate(one for one in NASTY if one.strip() and one.isprintable()):
        gauge(shop, f"{number}{text}"[:40])

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            await press(rig, pilot, "alt+e", "down", "enter", "1", "escape", "escape", "alt+v")
            assert isinstance(rig.terminal.screen, Pick)
            assert "no source" in rig.terminal.screen.explain()
            await press(rig, pilot, "end")
            assert "[@click" in rig.screen_text()

    run(main)


def test_a_list_does_not_come_again_over_the_door(rig: Rig, shop: Shop) -> None:
    """The terminal locks while a form stands over a list that is shown again after it."""

    async def main() -> None:
        async with rig.run(place="store") as pilot:
            for keys in (("alt+e", "n", "1"), ("alt+g", "d"), ("alt+i", "c")):
                await press(rig, pilot, *keys)
                rig.terminal.action_lock()
                await rig.settle(pilot)
                assert rig.terminal.current_mode == "door"
                assert not isinstance(rig.terminal.screen, ModalScreen)
                await rig.terminal.floor.sign_in(NAMES["blender"], SECRET)
                rig.terminal.signed_in()
                await rig.settle(pilot)
                assert not isinstance(rig.terminal.screen, ModalScreen)

    run(main)
