"""What many fills say, the audit, and who is due, in the Office by its keys."""

from __future__ import annotations

from typing import Any

import pytest
from textual.widgets import Input

from blender.station import correcting, drift_words, drifting, equipment, items
from tests.station.shop import NAMES, SECRET, Shop
from tests.station.test_drifting import biased, enter
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run, shop_at
from tui.dialogs.page import Page
from tui.dialogs.pick import Pick
from tui.keys import COMMANDS
from tui.places.office import Office
from tui.widgets.fitted import Fitted

MANAGER = (NAMES["manager"], SECRET)


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Any:
    shop = shop_at(rig.location.parent)
    yield shop
    shop.station.record.close()


@pytest.fixture(name="drifted")
def _drifted(rig: Rig, shop: Shop) -> Shop:
    """A station whose oxygen gauge reads 1.3 bar low for its latest sixty fills."""
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen99.5")
    for name, serves in (("G1", "oxygen"), ("G2", "top")):
        items.add(shop.station, shop.mara, "gauge", name, range="1.0@250bar", serves=serves)
    shop.analysed("31.94")
    enter(shop, biased(4, 140, 1.3, since=80))
    rig.clock.us = shop.clock.us + 60_000_000
    return shop


async def press(rig: Rig, pilot: Any, *keys: str) -> None:
    for key in keys:
        await pilot.press(key)
        await rig.settle(pilot)


def whole(rig: Rig) -> str:
    """The marked line in full."""
    return rig.terminal.screen.query_one("#all-of-it", Fitted).whole.plain


def test_the_first_page_says_that_an_alarm_stands_and_drift_finds_the_charts(
    rig: Rig, drifted: Shop
) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await rig.settle(pilot)
            assert "ALARM: oxygen stops read" in rig.screen_text()
            found = {one.ident for one in COMMANDS if "drift" in one.text.casefold()}
            assert "office.charts" in found

    run(main)


def test_an_alarm_leads_to_its_chart_and_a_signed_correction(rig: Rig, drifted: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await press(rig, pilot, "alt+g")
            assert isinstance(rig.terminal.screen, Pick)
            assert "likely gauge G1, the oxygen gauge" in whole(rig)
            assert "(k = 2)" in whole(rig)
            await press(rig, pilot, "enter")
            lines = rig.screen_text().splitlines()
            assert all(len(line) == 80 for line in lines)
            await press(rig, pilot, "end")
            assert " BEYOND" in rig.screen_text()
            await press(rig, pilot, "c")
            kept = [one.value for one in rig.terminal.screen.query(Input)]
            assert kept[0].endswith("bar")  # as the alarm has it
            assert kept[1].startswith("2026-")
            for who, kind in (("blender", "refused"), ("manager", "done")):
                if kind == "done":
                    await press(rig, pilot, "alt+g", "enter", "c")
                await fill_form(rig, pilot, "1.3bar", kept[1], "compared", NAMES[who], SECRET)
                if kind == "done":
                    assert "corrected by +1.3 bar" in rig.screen_text()
                    await press(rig, pilot, "escape")
                assert rig.said()[0] == kind, rig.said()

    run(main)
    (one,) = drifting.show(drifted.station.record)["corrections"]
    assert (one["gauge"], one["by_bar"]) == ("G1", 1.3)
    assert one["signed"]["by"] == NAMES["manager"]


def test_a_correction_is_ended_the_same_way(rig: Rig, drifted: Shop) -> None:
    correcting.correct(drifted.station, drifted.mara, "G1", by="1.3bar", since="2026-11-25",
                       reason="compared")  # fmt: skip

    async def main() -> None:
        async with rig.run(place="office", size=(120, 40)) as pilot:
            await press(rig, pilot, "alt+g", "end")
            at = rig.terminal.screen
            assert isinstance(at, Pick)
            while "corrected by" not in whole(rig):
                await press(rig, pilot, "up")
            await press(rig, pilot, "enter", "e")
            await fill_form(rig, pilot, "another gauge was fitted", *MANAGER)
            await press(rig, pilot, "escape")
            assert "correction by +1.3 bar" in rig.said()[1]

    run(main)
    assert drifting.show(drifted.station.record)["corrections"] == []


def test_a_chart_can_be_read_without_colour_and_in_eighty_columns(drifted: Shop) -> None:
    chart = drifting.chart(drifted.station.record, "gauge G1")
    for width in (33, 55):
        drawn = drift_words.chart_lines(chart, width)[2:-1]
        assert max(map(len, drawn)) <= width + 41
        for one, line in zip(chart["points"], drawn, strict=True):
            picture = line[27 : 27 + width]
            inside = picture.index("|") <= picture.index("o") <= picture.rindex("|")
            assert inside or one["beyond"] or picture.count("|") < 2
            assert one["beyond"] == line.endswith("BEYOND")


def test_a_span_of_days_is_gone_through_and_printed(rig: Rig, shop: Shop) -> None:
    shop.hold(shop.filling(), "power cut")
    rig.clock.us = shop.clock.us + 60_000_000

    async def main() -> None:
        async with rig.run(place="office", who="auditor", size=(120, 40)) as pilot:
            await press(rig, pilot, "alt+e")
            await fill_form(rig, pilot, "2026-11-25", "2026-11-01")
            assert "not before the first" in rig.screen_text()
            await fill_form(rig, pilot, "2026-11-01", "2026-11-30")
            assert isinstance(rig.terminal.screen, Page)
            text = " ".join(rig.screen_text().split())
            assert "Verified" in text
            assert "DO NOT BREATHE" in text
            await press(rig, pilot, "p")
            assert rig.said()[0] == "done", rig.said()

    run(main)
    assert list(rig.papers) == ["audit-QUAY-1-2026-11-01-2026-11-30.pdf"]


def test_of_a_cylinder_that_is_due_it_is_said_who_had_it(rig: Rig, shop: Shop) -> None:
    equipment.add_cylinder(shop.station, shop.mara, serial="OLD-1", size="12L", wp="232bar",
                           tp="348bar", tested="2021-12", inspected="2026-02",
                           clean="yes")  # fmt: skip
    shop.request(cylinder="OLD-1")
    rig.clock.us = shop.clock.us + 60_000_000

    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await press(rig, pilot, "right")
            await rig.type(pilot, "OLD-1")
            await rig.settle(pilot)
            text = " ".join(rig.screen_text().split())
            assert "cylinder OLD-1: tested 2021-12" in text
            assert "last filled for Kai Diver, 2026-11-25" in text

    run(main)


def test_what_came_of_an_act_is_said_again_after_what_takes_its_time(rig: Rig, shop: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            office = rig.terminal.screen
            assert isinstance(office, Office)
            office.say("done", "Corrected.")
            office.busy()
            office.busy()
            assert rig.said() == ("busy", "Working ...")
            office.no_longer_busy()
            assert rig.said() == ("done", "Corrected.")
            office.no_longer_busy()
            assert rig.said() == ("done", "Corrected.")
            await rig.settle(pilot)

    run(main)
