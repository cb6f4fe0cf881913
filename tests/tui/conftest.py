from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

import tui.wiring
from tests.station.shop import Clock, Shop, cheap_secrets, copied
from tests.tui.house import Rig, shop_at
from tests.tui.idle import FRAME, at_rest, screen_at_rest
from tests.tui.styles import parsed_once
from tests.tui.terminal import Terminal, environment


@pytest.fixture(name="nowhere", autouse=True)
def _nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in an empty folder, with no settings of whoever runs the tests."""
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    for name in ("STATION", "SECRET", "NEW_SECRET", "AS"):
        monkeypatch.delenv(f"FILLWRIGHT_{name}", raising=False)
    for name in ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    clock = Clock()
    clock.turn(60)
    monkeypatch.setattr(tui.wiring, "clock", clock)
    return work


@pytest.fixture(autouse=True)
def _at_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait for the event loop's rest, not for the processor's, nor for the next frame's turn."""
    monkeypatch.setattr("textual.screen.UPDATE_PERIOD", FRAME)
    for room in ("textual.app", "textual.pilot"):
        monkeypatch.setattr(f"{room}.wait_for_idle", at_rest)
    monkeypatch.setattr("textual.pilot.Pilot._wait_for_screen", screen_at_rest)


@pytest.fixture(autouse=True)
def _parsed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Read each style sheet once a process, not several times a terminal."""
    monkeypatch.setattr("textual.css.stylesheet.Stylesheet._parse_rules", parsed_once)


@pytest.fixture(autouse=True)
def _cheap_secrets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make a guess at a secret cheap; what it costs at a station is tests/record's to check."""
    cheap_secrets(monkeypatch)


@pytest.fixture(name="at")
def _at(founded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Terminal:
    path = copied(founded, tmp_path)
    for name, value in environment(path).items():
        monkeypatch.setenv(name, value)
    return Terminal(path)


@pytest.fixture(name="rig")
def _rig(founded: Path, tmp_path: Path) -> Rig:
    """A terminal at a station of its own; `shop_at(rig.location.parent)` works there too."""
    return Rig(copied(founded, tmp_path))


@pytest.fixture(name="shop")
def _shop(rig: Rig) -> Iterator[Shop]:
    """The station of the terminal under test, for what others enter there; they have one clock."""
    shop = shop_at(rig.location.parent)
    rig.clock.us = shop.clock.us + 60_000_000
    shop.clock = rig.clock
    yield shop
    shop.station.record.close()
