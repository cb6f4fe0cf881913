"""The Panel at a record on a server, and the wire to it pulled out in the middle of a fill."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from textual.widgets import Input

from blender.record.journal import Record
from blender.record.keys import StationKeys, key_path
from blender.record.pour import pour
from blender.record.read import fill as fill_of
from blender.record.verify import verify
from blender.station.desk import Station
from tests import server
from tests.record.own_server import Wire, through
from tests.station.shop import Clock
from tests.tui.house import Rig, run, shop_at
from tui.house import House

pytestmark = server.needed()


class FarRig(Rig):
    """A terminal whose record is a server's, reached by a wire."""

    def __init__(self, location: Path, url: str, clock: Clock) -> None:
        self.url = url
        super().__init__(location, clock)

    def house(self) -> House:
        return replace(super().house(), location=self.url, is_founded=lambda: True)

    def _open(self) -> Station:
        return Station(
            Record.open(self.url), StationKeys.load(key_path(self.location)), self.clock
        )  # fmt: skip


@pytest.fixture(name="far")
def _far(rig: Rig) -> Iterator[tuple[FarRig, Wire, int]]:
    """A fill at its first stop, poured with its station into a server."""
    shop = shop_at(rig.location.parent)
    fill = shop.filling()
    rig.clock.us = shop.clock.us + 60_000_000
    with server.a_schema() as place:
        pour(shop.station.record, place).close()
        shop.station.record.close()
        with server.plain(place) as raw:
            wire = Wire(raw.info.hostaddr or raw.info.host, raw.info.port)
        yield FarRig(rig.location, through(wire, place), rig.clock), wire, fill
        wire.close()
        assert verify(place).ok


def step(far: FarRig, fill: int) -> tuple[str, int]:
    with closing(Record.open(far.url, readonly=True)) as record, record.read() as conn:
        row = fill_of(conn, fill)
        return row.state, row.step


def test_a_lost_server_is_said_what_was_typed_is_kept_and_it_goes_on(
    far: tuple[FarRig, Wire, int],
) -> None:
    rig, wire, fill = far

    async def main() -> None:
        async with rig.run() as pilot:
            assert "C-1001" in rig.screen_text()
            await rig.put(pilot, "84.4 20")
            wire.cut()
            for _ in range(2):
                await pilot.press("enter")
                await rig.settle(pilot)
                kind, told = rig.said()
                assert kind == "refused"
                assert "cannot be reached" in told
                assert "nothing was saved" in told
                focused = rig.terminal.screen.focused
                assert isinstance(focused, Input)
                assert focused.value == "84.4 20"
            wire.mend()
            assert step(rig, fill) == ("filling", 0)
            await pilot.press("enter")
            await rig.settle(pilot)
            assert rig.said()[0] in ("done", "mind"), rig.said()
            assert step(rig, fill) == ("filling", 1)
            await rig.enter(pilot, "230 20")
            assert step(rig, fill)[0] == "resting"

    run(main)


def test_a_server_that_is_not_there_at_the_door_is_said_and_found_again(
    far: tuple[FarRig, Wire, int],
) -> None:
    rig, wire, _ = far
    wire.cut()

    async def main() -> None:
        async with rig.run(who="") as pilot:
            await rig.settle(pilot)
            kind, told = rig.said()
            assert kind == "refused"
            assert "cannot be reached" in told
            wire.mend()
            await rig.sign_in(pilot, "Jo Blend")
            assert rig.terminal.current_mode == "panel"
            assert "C-1001" in rig.screen_text()

    run(main)
