from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import tui.wiring
from tests.station.shop import Clock, cheap_secrets, found
from tests.tui.house import Rig
from tests.tui.idle import FRAME, at_rest
from tests.tui.terminal import Terminal, environment


@pytest.fixture(scope="session", name="founded")
def _founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("founded")
    found(folder)
    return folder


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


@pytest.fixture(autouse=True)
def _cheap_secrets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make a guess at a secret cheap; what it costs at a station is tests/record's to check."""
    cheap_secrets(monkeypatch)


@pytest.fixture(name="at")
def _at(founded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Terminal:
    for name in ("station.db", "station.keys"):
        shutil.copy2(founded / name, tmp_path / name)
    for name, value in environment(tmp_path / "station.db").items():
        monkeypatch.setenv(name, value)
    return Terminal(tmp_path / "station.db")


@pytest.fixture(name="rig")
def _rig(founded: Path, tmp_path: Path) -> Rig:
    """A terminal at a station of its own; `shop_at(rig.location.parent)` works there too."""
    for name in ("station.db", "station.keys"):
        shutil.copy2(founded / name, tmp_path / name)
    return Rig(tmp_path / "station.db")
