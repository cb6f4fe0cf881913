"""A terminal of a given size with the program in it, driven by its keys through tmux."""

from __future__ import annotations

import os
import subprocess
import sys
import time
import uuid
from pathlib import Path

from tests.patience import PATIENCE_S

ROOT = Path(__file__).parents[2]


class Screen:
    """A terminal of a given size with the program in it."""

    def __init__(self, station: Path, size: tuple[int, int]) -> None:
        self.socket = f"fw-{uuid.uuid4().hex[:8]}"
        self.keys = 0
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

    def presses(self, *keys: str) -> None:
        """Press keys by their names, and count them."""
        self.keys += len(keys)
        self.tmux("send-keys", *keys)

    def types(self, text: str) -> None:
        """Type a value and press Enter; the value's letters are not counted as keys."""
        if text:
            self.tmux("send-keys", "-l", text)
        self.presses("Enter")
