"""The first start: from an empty folder to a working station, or to the demonstration."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from textual.widgets import Input

from blender.errors import InputError
from blender.record.journal import Record
from blender.station import register
from tests.station.shop import NAMES, Clock
from tests.tui.house import Rig, run
from tests.tui.nasty import NASTY
from tui.places.setup import Setup


@pytest.fixture(name="empty")
def _empty(tmp_path: Path) -> Rig:
    return Rig(tmp_path / "new.db", Clock())


def test_a_station_is_founded_and_stands_ready(empty: Rig) -> None:
    answers = ["found", "Ledge Gas", "LEDGE-1", "Mara Linde", "seven boots", "seven boots", "A1",
               "20.9", "", ""]  # fmt: skip

    async def main() -> None:
        async with empty.run(who="") as pilot:
            await pilot.pause()
            assert empty.terminal.current_mode == "setup"
            for answer in answers:
                await empty.put(pilot, answer)
                await pilot.press("enter")
                await empty.settle_quietly(pilot)
            await empty.until(pilot, lambda: empty.terminal.current_mode == "counter")
            actor = empty.terminal.floor.actor
            assert actor is not None
            assert (actor.name, actor.role) == ("Mara Linde", "manager")

    run(main)
    with Record.open(empty.location, readonly=True) as record:
        assert record.station == "LEDGE-1"
        assert register.analysers(record)["analysers"][0]["reading"] == "20.9"


def test_supplies_and_a_first_cylinder_are_offered(empty: Rig) -> None:
    answers = ["found", "Ledge Gas", "LEDGE-1", "Mara Linde", "seven boots", "seven boots", "",
               "y", "o1", "oxygen", "50L", "180", "perhaps"]  # fmt: skip

    async def main() -> None:
        async with empty.run(who="") as pilot:
            await pilot.pause()
            for answer in answers:
                await empty.put(pilot, answer)
                await pilot.press("enter")
                await empty.settle_quietly(pilot)
            assert str(empty.location) in "".join(empty.screen_text().split())
            assert empty.said()[0] == "refused"
            empty.terminal.screen.query_one(Input).value = ""
            for answer in ("n", "y", "C-1", "12L", "232", "348", "2026-01", "2026-02", "yes"):
                await empty.put(pilot, answer)
                await pilot.press("enter")
                await empty.settle_quietly(pilot)
            assert empty.said() == ("done", "Added: C-1.")
            await pilot.press("enter")
            await empty.until(pilot, lambda: empty.terminal.current_mode == "counter")

    run(main)
    with Record.open(empty.location, readonly=True) as record:
        assert register.supplies(record)["supplies"][0]["name"] == "o1"
        assert register.cylinders(record)["cylinders"][0]["serial"] == "C-1"


def test_esc_steps_back_and_keeps_what_was_typed(empty: Rig) -> None:
    async def main() -> None:
        async with empty.run(who="") as pilot:
            await pilot.pause()
            for answer in ("found", "Ledge Gas", "ledge 1"):
                await empty.put(pilot, answer)
                await pilot.press("enter")
                await empty.settle_quietly(pilot)
            assert empty.said()[0] == "refused"
            await pilot.press("escape")
            await empty.settle_quietly(pilot)
            assert empty.prompt().startswith("The station's name")
            await empty.put(pilot, "Ledge Gas")
            await pilot.press("enter")
            await empty.settle_quietly(pilot)
            assert empty.terminal.screen.query_one(Input).value == "ledge 1"

    run(main)


def test_what_cannot_be_used_is_said_and_kept(empty: Rig) -> None:
    async def main() -> None:
        async with empty.run(who="") as pilot:
            await pilot.pause()
            for wrong in NASTY:
                field, place = empty.terminal.screen.query_one(Input), empty.terminal.screen
                assert isinstance(place, Setup)
                place.say("note", "")
                field.value = wrong
                await pilot.press("enter")
                await empty.settle_quietly(pilot)
                assert empty.said()[0] == "refused", wrong
                assert field.value == wrong
                assert not empty.location.exists()

    run(main)


def test_two_secrets_that_differ_are_asked_for_again(empty: Rig) -> None:
    async def main() -> None:
        async with empty.run(who="") as pilot:
            await pilot.pause()
            for answer in ("found", "Ledge Gas", "LEDGE-1", "Mara Linde", "seven boots", "eight"):
                await empty.put(pilot, answer)
                await pilot.press("enter")
                await empty.settle_quietly(pilot)
            assert "differ" in empty.prompt()
            assert not empty.location.exists()

    run(main)


def test_the_demonstration_is_a_station_of_its_own(empty: Rig, rig: Rig) -> None:
    empty.demo_at = rig.location

    async def main() -> None:
        async with empty.run(who="") as pilot:
            await pilot.pause()
            await empty.put(pilot, "demo")
            await pilot.press("enter")
            await empty.until(pilot, lambda: empty.terminal.current_mode == "door")
            assert not empty.location.exists()
            await empty.until(pilot, lambda: NAMES["manager"] in empty.screen_text())
            await empty.sign_in(pilot, NAMES["manager"])
            assert empty.terminal.current_mode == "panel"
            empty.terminal.floor.close()

    run(main)


def test_a_demonstration_that_cannot_be_made_is_said(
    empty: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse() -> None:
        raise InputError("--out", "there", "it holds what no demonstration made")

    house = replace(empty.terminal.house, demo=refuse)
    monkeypatch.setattr(empty.terminal, "house", house)

    async def main() -> None:
        async with empty.run(who="") as pilot:
            await pilot.pause()
            await empty.put(pilot, "demo")
            await pilot.press("enter")
            await empty.settle_quietly(pilot)
            assert empty.said()[0] == "refused"
            assert empty.terminal.current_mode == "setup"
            assert empty.prompt() == "Type found or demo"

    run(main)
