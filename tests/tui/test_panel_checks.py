"""Looks at a cylinder, what every gate found, and a manager's leave, at the Panel."""

from __future__ import annotations

import re

from blender.station import ruling
from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run
from tui.dialogs.page import Page


def words(rig: Rig) -> str:
    """What stands on the screen, without the frames of dialogs and the breaks of lines."""
    return " ".join(re.sub(r"[│┃▌█▁]", " ", rig.screen_text()).split())


def test_a_look_is_asked_part_by_part_and_a_bent_valve_stops(rig: Rig, shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)

    async def main() -> None:
        async with rig.run(size=(120, 40)) as pilot:
            await pilot.press("alt+i")
            await rig.settle(pilot)
            assert "Outside" in rig.prompt()
            await rig.enter(pilot, "perhaps")
            assert rig.said()[0] == "refused"
            assert "Outside" in rig.prompt()
            await rig.enter(pilot, "yes")
            await rig.enter(pilot, "no, bent")
            for _ in range(2):
                await rig.enter(pilot, "")
            assert "valve: bent" in rig.said()[1]
            await rig.enter(pilot, "C-1001")
            assert rig.said()[0] == "refused"
            await pilot.press("alt+e")
            await rig.settle(pilot)
            shown = rig.screen_text()
            assert "STOP   valve (rule look): valve found not right: bent" in shown
            assert "PASS   external-look" in shown
            assert shown.index("STOP   valve") < shown.index("PASS")

    run(main)
    (look,) = [one for one in shop.entries() if one.kind == "fill.looked"]
    assert [one["what"] for one in look.data["findings"]] == ["outside", "valve"]


def test_the_counter_takes_a_look_and_a_leave_for_the_fill_in_hand(rig: Rig, shop: Shop) -> None:
    ruling.set_rule(shop.station, shop.mara, "look", "yes", reason="the insurer")
    fill = shop.request()

    async def main() -> None:
        async with rig.run(place="counter", size=(120, 40)) as pilot:
            await pilot.press("alt+i")
            await rig.settle(pilot)
            assert rig.said() == ("note", "There is no fill here.")
            await rig.enter(pilot, "C-1001")
            await pilot.press("alt+i")
            await rig.settle(pilot)
            for text in ("yes", "yes", "no, label of another gas", ""):
                await rig.enter(pilot, text)
            assert rig.said()[0] == "mind"
            assert f"Fill {fill} is requested. Enter goes to the Panel" in rig.prompt()
            await pilot.press("alt+e")
            await rig.settle(pilot)
            assert "marking NOT RIGHT: label of another gas" in words(rig)
            await pilot.press("escape", "alt+x")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "marking", "label off", NAMES["manager"], SECRET)
            assert rig.said()[0] == "done"

    run(main)
    assert shop.plan(fill).done


def test_what_no_rule_asks_for_is_one_folded_line(rig: Rig, shop: Shop) -> None:
    shop.plan(shop.request())

    async def main() -> None:
        async with rig.run(size=(120, 40)) as pilot:
            await pilot.press("alt+e")
            await rig.settle(pilot)
            shown = words(rig)
            assert shown.count("no rule here asks for it") == 1
            assert "the cylinder's outside was not looked at, nor its valve" in shown
            assert "x: let a manager" not in shown

    run(main)


def test_a_manager_gives_leave_for_one_fill_beside_the_blender(rig: Rig, shop: Shop) -> None:
    fill = shop.request()
    ruling.set_rule(shop.station, shop.mara, "look", "yes", reason="the insurer")
    shop.plan(fill)

    async def main() -> None:
        async with rig.run(size=(120, 40)) as pilot:
            await pilot.press("alt+e")
            await rig.settle(pilot)
            assert "ASK THE MANAGER  marking (rule look)" in rig.screen_text()
            await pilot.press("x")
            await rig.settle(pilot)
            await fill_form(rig, pilot, "oxygen-clean", "in a hurry", NAMES["manager"], SECRET)
            assert "any other stops, for everybody" in words(rig)
            await fill_form(rig, pilot, "marking", "label off", NAMES["blender"], SECRET)
            assert "needs manager" in rig.said()[1]
            for gate in ("marking", "valve", "external-look"):
                await pilot.press("alt+x")
                await rig.settle(pilot)
                await fill_form(rig, pilot, gate, "label off", NAMES["manager"], SECRET)
                assert rig.said()[0] == "done", rig.said()
            await rig.enter(pilot, "")  # plan again
            assert rig.said()[0] == "mind", rig.said()
            await pilot.press("alt+e")
            await rig.settle(pilot)
            assert isinstance(rig.terminal.screen, Page)
            assert f"ALLOWED by {NAMES['manager']}: label off" in rig.screen_text()

    run(main)
    assert shop.row(fill).state == "planned"
    assert {one.data["gate"] for one in shop.entries() if one.kind == "fill.allowed"} == {
        "marking", "valve", "external-look",
    }  # fmt: skip


def test_a_set_is_started_and_gone_on_with_post_by_post(rig: Rig, shop: Shop) -> None:
    facts = {"cylinder": "T-1+T-2", "have": "0bar:air", "residual": "unknown"}
    fill = shop.request(customer="Lena Tief", want="200bar:EAN32", **facts)
    shop.plan(fill)

    async def main() -> None:
        async with rig.run() as pilot:
            await rig.enter(pilot, "T-2")
            assert "the other post, T-1" in rig.prompt()
            await rig.enter(pilot, "T-1")
            assert "isolator" in rig.said()[1]
            await rig.enter(pilot, "T-1 open")
            assert shop.row(fill).state == "filling", rig.said()
            shop.hold(fill)
            rig.terminal.screen.tick()
            await rig.settle(pilot)
            await rig.enter(pilot, "T-1")
            assert "the other post, T-2" in rig.prompt()
            await rig.enter(pilot, "T-2")
            await rig.enter(pilot, "0 20")
            assert shop.row(fill).state == "filling", rig.said()

    run(main)


def test_a_gauge_below_what_is_in_it_names_no_stop(rig: Rig, shop: Shop) -> None:
    fill = shop.filling()

    async def main() -> None:
        async with rig.run(size=(120, 40)) as pilot:
            await rig.enter(pilot, "40 20")
            kind, told = rig.said()
            assert kind == "mind"
            assert "Let nothing in before it is explained" in told
            assert "84" not in told
            assert "Let in oxygen" not in rig.screen_text()
            assert "STOP: the gauge shows 40.0 bar" in words(rig)
            await rig.enter(pilot, "60 20")
            assert "Let in oxygen" in rig.screen_text()

    run(main)
    assert shop.row(fill).state == "filling"


def test_after_an_analysis_the_panel_shows_what_was_analysed(rig: Rig, shop: Shop) -> None:
    shop.analysed()

    async def main() -> None:
        async with rig.run(size=(120, 40)) as pilot:
            await rig.settle(pilot)
            assert "holds O2 32.1 % (analysed)" in rig.screen_text()

    run(main)
