"""All stations of the shop at the Office, and what others know at the Counter, by keys."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from blender.station import equipment, sites
from tests.sites.shops import Site, exchange, introduce
from tests.station.shop import NAMES, SECRET, Shop
from tests.tui.forms import fill_form
from tests.tui.house import Rig, run, shop_at
from tui.dialogs.pick import Pick
from tui.widgets.fitted import Fitted

BOSS = (NAMES["manager"], SECRET)


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Iterator[Shop]:
    shop = shop_at(rig.location.parent)
    yield shop
    shop.station.record.close()


@pytest.fixture(name="reef")
def _reef(rig: Rig, tmp_path: Path) -> Iterator[Site]:
    """Another station, whose clock is the terminal's."""
    reef = Site.found(tmp_path / "reef", "REEF-3", "Reef Gas")
    reef.clock.us = rig.clock.us
    yield reef
    reef.close()


def here(shop: Shop) -> Site:
    return Site(shop.station, shop.mara, shop.clock, shop.path)


async def press(rig: Rig, pilot: Any, *keys: str) -> None:
    for key in keys:
        await pilot.press(key)
        await rig.settle(pilot)


def whole(rig: Rig) -> str:
    return rig.terminal.screen.query_one("#all-of-it", Fitted).whole.plain


def test_stations_are_added_taken_in_and_read(rig: Rig, shop: Shop, reef: Site) -> None:
    reef.work(4)
    rig.tables["up.parcel"] = reef.send()

    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await press(rig, pilot, "alt+w")
            assert isinstance(rig.terminal.screen, Pick)
            assert "Quayside Gas" in rig.screen_text()
            await press(rig, pilot, "n")
            await fill_form(rig, pilot, "REEF-3", "Reef Gas", reef.key, "", *BOSS)
            assert "never" in rig.screen_text()
            await press(rig, pilot, "f")
            await fill_form(rig, pilot, "up.parcel")
            assert rig.said() == ("done", "REEF-3: 6 new entries, 6 in all, verified")
            await press(rig, pilot, "alt+w", "down")
            assert "up to entry 6" in whole(rig)
            assert "QUAY-1, is the office of the shop" in rig.screen_text()
            assert all(len(line) <= 80 for line in rig.screen_text().splitlines())
            await press(rig, pilot, "enter")
            assert "FILLWRIGHT1 REEF-3 1 6" in rig.screen_text()
            await press(rig, pilot, "escape", "r")
            assert "Answer for every station: beside/parcels/QUAY-1-root-1.answer" in rig.said()[1]

    run(main)
    assert rig.away["parcels"]["QUAY-1-root-1.answer"].startswith(b'["fillwright answer 1"')


def test_what_was_refused_stands_on_the_stations_own_line(rig: Rig, shop: Shop, reef: Site) -> None:
    introduce(here(shop), reef, at=True)
    had = reef.place.read_bytes()
    reef.work(2)
    exchange(here(shop), reef)
    reef.record.close()
    reef.place.write_bytes(had)

    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await press(rig, pilot, "alt+w", "t", "alt+w", "down")
            assert "! refused 20" in rig.screen_text()
            assert "it was cut short" in whole(rig)
            assert all(len(line) <= 80 for line in rig.screen_text().splitlines())

    run(main)


def test_a_site_names_its_office_sends_and_receives(rig: Rig, shop: Shop, reef: Site) -> None:
    sites.add_site(reef.station, reef.mara, site="QUAY-1", name="Quayside Gas",
                   key=here(shop).key)  # fmt: skip

    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await press(rig, pilot, "alt+w", "o")
            await fill_form(rig, pilot, "REEF-3", "Reef Gas", reef.key, *BOSS)
            assert "The office is REEF-3, Reef Gas" in rig.screen_text()
            await press(rig, pilot, "s")
            ((name, sent),) = rig.away["parcels"].items()
            assert name in rig.said()[1]
            from blender.station.site_answer import make_answer
            from blender.station.site_taking import take_parcel

            take_parcel(reef.station, sent)
            rig.tables["down"] = make_answer(reef.station)[0]
            for said in ("Witnessed root 1 of REEF-3", "is known here, or a later one"):
                await press(rig, pilot, "alt+w", "f")
                await fill_form(rig, pilot, "down")
                assert said in rig.said()[1]
            rig.tables["bad"] = b"nothing of the kind"
            await press(rig, pilot, "alt+w", "f")
            await fill_form(rig, pilot, "bad")
            assert rig.said()[0] == "refused"

    run(main)


def test_only_a_manager_adds_a_station(rig: Rig, shop: Shop, reef: Site) -> None:
    async def main() -> None:
        async with rig.run(place="office") as pilot:
            await press(rig, pilot, "alt+w", "n")
            await fill_form(
                rig, pilot, "REEF-3", "Reef Gas", reef.key, "", NAMES["blender"], SECRET
            )
            assert rig.said()[0] == "refused"

    run(main)


@pytest.fixture(name="known")
def _known(rig: Rig, shop: Shop, reef: Site) -> Shop:
    """A shop whose office is REEF-3, where a cylinder is known and another is held."""
    introduce(reef, here(shop))
    for serial in ("R-7", "R-8"):
        equipment.add_cylinder(reef.station, reef.mara, serial=serial, size="10L", wp="200bar",
                               tp="300bar", tested="2025-03", inspected="2026-02",
                               clean="yes")  # fmt: skip
    there = Shop(reef.station, reef.clock, reef.mara, reef.mara, reef.mara, reef.place)
    from blender.station import people

    people.add_person(
        reef.station, reef.mara, name="Kai Diver", role="customer", certified="nitrox"
    )
    there.reject(there.request(cylinder="R-8", want="200bar:EAN32"), "found rusty")
    fill = there.request(cylinder="R-7", have="0bar@20C:air", want="200bar:EAN32")
    there.plan(fill)
    assert there.start(fill, "R-7").done
    for step in there.steps(fill):
        if step.action in ("add", "purge"):
            there.reading(fill, f"{step.to_mbar / 1000}bar")
    assert there.row(fill).state == "resting"
    exchange(reef, here(shop))
    rig.clock.us = max(reef.clock.us, shop.clock.us) + 60_000_000
    return shop


def test_a_scan_finds_what_another_station_knows(rig: Rig, known: Shop) -> None:
    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "R-8")
            assert rig.said()[0] == "refused"
            assert "held at REEF-3: rejected, fill 1: found rusty" in rig.said()[1]
            await rig.enter(pilot, "R-7")
            assert "New cylinder" in rig.screen_text()
            assert "known at REEF-3" in rig.screen_text()
            for _ in range(7):
                await press(rig, pilot, "enter")
            assert "fill 2 of REEF-3, 200bar:EAN32, resting: analyse it here" in rig.screen_text()
            await rig.enter(pilot, "")
            await rig.enter(pilot, "Kai")
            await rig.settle(pilot)
            assert rig.terminal.current_mode == "panel"
            assert "R-7" in rig.screen_text()

    run(main)
    assert known.row(1).state == "resting"
    with known.station.record.read() as conn:
        from blender.record import read, shop

        assert read.cylinder(conn, "R-7").tested == "2025-03"
        away = shop.brought(conn, 1)
    assert away is not None
    assert (away.site, away.site_fill) == ("REEF-3", 2)


def test_it_may_be_checked_in_anew_all_the_same(rig: Rig, known: Shop) -> None:
    equipment.add_cylinder(known.station, known.mara, serial="R-7", size="10L", wp="200bar",
                           tp="300bar", tested="2025-03", inspected="2026-02",
                           clean="yes")  # fmt: skip

    async def main() -> None:
        async with rig.run(place="counter") as pilot:
            await rig.enter(pilot, "R-7")
            assert "analyse it here" in rig.screen_text()
            await rig.enter(pilot, "2")
            assert "What is left" in rig.screen_text()

    run(main)
