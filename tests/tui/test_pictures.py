"""Pictures of the places, at both sizes and without colour; looked at before they are kept.

They hold on the Python they were made with alone; elsewhere the other tests stand for them.
"""

from __future__ import annotations

import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from blender.station import equipment, sites
from tests.sites.shops import Site, take_at
from tests.station.shop import NAMES, SECRET
from tests.tui.house import Rig, shop_at
from tui.app import Terminal

pytestmark = pytest.mark.skipif(sys.version_info[:2] != (3, 11), reason="pictures are of 3.11")
Before = Callable[[Pilot[int]], Awaitable[None]]
SIZES = [(80, 24), (120, 40)]


@pytest.fixture(name="busy")
def _busy(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> Rig:
    """A station with four fills open: oxygen going in, resting, planned, just asked for."""
    monkeypatch.setenv("TEXTUAL_ANIMATIONS", "none")
    monkeypatch.setattr(Input, "_toggle_cursor", lambda _: None)
    shop = shop_at(rig.location.parent)
    first = shop.filling()
    shop.clock.turn(3)
    shop.reading(first, "70bar", "24C")
    shop.clock.turn(2)
    shop.reading(first, "75bar", "27C")
    shop.rested(cylinder="C-1003", customer="Uma Neu")
    trimix = {"have": "0bar:air", "residual": "unknown", "want": "200bar:18/45"}
    shop.plan(shop.request(cylinder="T-1+T-2", customer="Lena Tief", **trimix))
    shop.request(cylinder="D-7", have="30bar:EAN32", residual="label", want="200bar:EAN32")
    shop.station.record.close()
    rig.clock.us = shop.clock.us + 90_000_000
    rig.terminal = Terminal(rig.house())
    return rig


def standing(rig: Rig, place: str, keys: tuple[str, ...] = (), who: str = "manager") -> Before:
    """Sign in and go to a place before the picture is taken."""

    async def before(pilot: Pilot[int]) -> None:
        await rig.settle(pilot)
        if who:
            await rig.terminal.floor.sign_in(NAMES[who], SECRET)
            rig.terminal.signed_in()
            await rig.settle(pilot)
            rig.terminal.action_place(place)
        await rig.settle(pilot)
        for key in keys:
            await pilot.press(key)
            await rig.settle(pilot)

    return before


@pytest.mark.parametrize("size", SIZES)
def test_the_door(busy: Rig, snap_compare: Any, size: tuple[int, int]) -> None:
    before = standing(busy, "door", who="")
    assert snap_compare(busy.terminal, terminal_size=size, run_before=before)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("place", ["counter", "panel", "store", "book", "office"])
def test_a_place(busy: Rig, snap_compare: Any, place: str, size: tuple[int, int]) -> None:
    before = standing(busy, place)
    assert snap_compare(busy.terminal, terminal_size=size, run_before=before)


@pytest.mark.parametrize("place", ["counter", "panel", "store", "book", "office"])
def test_a_place_without_colour(
    busy: Rig, snap_compare: Any, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    busy.terminal = Terminal(busy.house())
    assert snap_compare(busy.terminal, terminal_size=(80, 24), run_before=standing(busy, place))


@pytest.mark.parametrize("theme", ["day", "terminal"])
def test_the_panel_in_another_look(busy: Rig, snap_compare: Any, theme: str) -> None:
    busy.files["settings.json"] = f'{{"theme": "{theme}"}}'
    busy.terminal = Terminal(busy.house())
    before = standing(busy, "panel")
    assert snap_compare(busy.terminal, terminal_size=(80, 24), run_before=before)


@pytest.mark.parametrize("fill", ["f3", "f4", "f5"])
def test_the_panel_turned_to_another_fill(busy: Rig, snap_compare: Any, fill: str) -> None:
    before = standing(busy, "panel", (fill,))
    assert snap_compare(busy.terminal, terminal_size=(80, 24), run_before=before)


@pytest.mark.parametrize(
    ("place", "key"),
    [
        ("store", "alt+g"),
        ("store", "alt+e"),
        ("store", "alt+i"),
        ("office", "alt+g"),
    ],
)
def test_what_lies_behind_a_key(busy: Rig, snap_compare: Any, place: str, key: str) -> None:
    before = standing(busy, place, (key,))
    assert snap_compare(busy.terminal, terminal_size=(80, 24), run_before=before)


@pytest.mark.parametrize("size", SIZES)
def test_the_stations_of_a_shop(
    busy: Rig, tmp_path: Path, snap_compare: Any, size: tuple[int, int]
) -> None:
    """One heard from, with gas in hand and something refused, and one of which nothing came."""
    office = Site.open(busy.location, busy.clock)
    reef = Site.found(tmp_path / "reef", "REEF-3", "Reef Gas")
    reef.clock.us = busy.clock.us - 3_600_000_000
    equipment.add_supply(
        reef.station, reef.mara, name="o1", gas="oxygen99.5", size="50L", at="180bar"
    )
    for ident, name, key in (("REEF-3", "Reef Gas", reef.key), ("WRECK-4", "Wreck Air", "ab" * 32)):
        sites.add_site(office.station, office.mara, site=ident, name=name, key=key)
    take_at(office, reef)
    for one in (reef, office):
        one.close()
    before = standing(busy, "office", ("alt+w", "down"))
    assert snap_compare(busy.terminal, terminal_size=size, run_before=before)


def test_help_at_the_panel(busy: Rig, snap_compare: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the record is has another length in every run, and the page another height by it."""
    monkeypatch.setattr(Terminal, "settings_note", lambda _: "Record: station.db")
    before = standing(busy, "panel", ("f1",))
    assert snap_compare(busy.terminal, terminal_size=(80, 24), run_before=before)
