"""The program as a person runs it: in a real terminal, by its keys, at both sizes."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.station.shop import NAMES, SECRET, Shop, found

ROOT = Path(__file__).parents[2]
PATIENCE_S = 60.0
pytestmark = pytest.mark.skipif(shutil.which("tmux") is None, reason="no tmux on this machine")


class Screen:
    """A terminal of a given size with the program in it."""

    def __init__(self, station: Path, size: tuple[int, int]) -> None:
        self.socket = f"fw-{uuid.uuid4().hex[:8]}"
        home = str(station.parent)
        env = {"PATH": os.environ["PATH"], "HOME": home, "XDG_CONFIG_HOME": home,
               "PYTHONPATH": str(ROOT), "LANG": "C.UTF-8", "TERM": "screen-256color"}  # fmt: skip
        program = "import tui.entry; tui.entry.main()"
        command = [sys.executable, "-c", f'"{program}"', "--station", str(station)]
        self.tmux("new-session", "-d", "-x", str(size[0]), "-y", str(size[1]),
                  " ".join(command) + "; echo left with $?; cat", env=env)  # fmt: skip

    def tmux(self, *words: str, env: dict[str, str] | None = None) -> str:
        base = ["tmux", "-L", self.socket, "-f", os.devnull, "-u"]
        done = subprocess.run(
            [*base, *words], capture_output=True, text=True, check=True, env=env, cwd=ROOT
        )
        return done.stdout

    def shows(self, *texts: str) -> str:
        """Wait until all of it is on the screen."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            seen = self.tmux("capture-pane", "-p")
            if all(text in seen for text in texts):
                return seen
            time.sleep(0.05)
        raise AssertionError(f"{texts} never came:\n{seen}")

    def types(self, text: str) -> None:
        self.tmux("send-keys", "-l", text)
        self.tmux("send-keys", "Enter")


@pytest.fixture(name="shop")
def _shop(tmp_path: Path) -> Iterator[Shop]:
    found(tmp_path)
    shop = Shop.open(tmp_path / "station.db")
    yield shop
    shop.station.record.close()


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_reading_by_the_keys_of_a_real_terminal(shop: Shop, size: tuple[int, int]) -> None:
    fill = shop.filling()
    screen = Screen(shop.path, size)
    try:
        screen.shows("Who is there?", "C-1001", "DO NOT BREATHE")
        screen.types(NAMES["blender"])
        screen.shows("Secret of")
        screen.types(SECRET)
        screen.shows("Gauge and temperature", "Kai Diver", "EAN32 to 230 bar")
        screen.types("74,5 31")
        screen.shows("Read 74.5 bar at 31.0 degC")
        screen.tmux("send-keys", "F1")
        screen.shows("Esc closes this")
        screen.tmux("send-keys", "Escape")
        screen.tmux("send-keys", "M-u")
        screen.shows("psi at 88 °F")
        screen.tmux("send-keys", "C-q")
        screen.shows("left with 0")
    finally:
        screen.tmux("kill-server")
    assert shop.row(fill).gauge_mbar == 74_500
    assert shop.last().kind == "fill.reading"
