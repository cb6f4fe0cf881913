"""How fast the terminal is there, against a bare app of the same toolkit in the same run.

First paint: from starting the process until the first words are on the screen.  Input
accepted: until a key typed at once is shown in the field.  Each in a pseudo-terminal of 80x24,
in rounds of one start each of the bare app and of ours, so that a machine busy with other work
for a while slows them alike; the best of all rounds, and their median, are told.

Then, inside the app and with a million fills in the book: a key to its repaint while a search
runs, and the memory above an empty book.
"""

from __future__ import annotations

import asyncio
import fcntl
import gc
import json
import os
import pty
import select
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path

from textual import events

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.bench.million import million
from tests.station.shop import Shop, found
from tests.tui.house import Rig
from tui.places.book import Book

SEARCHES = ("kelp", "M-012", "EAN32", "2024-05", "a")
ROUNDS = 7
LIMITS = (("first paint", 1.6), ("input accepted", 3.0))
BARE = """
from textual.app import App
from textual.widgets import Input, Static
class Bare(App):
    def compose(self):
        yield Static("Open fills")
        yield Input()
Bare().run()
"""


def seen(command: list[str], env: dict[str, str]) -> tuple[float, float]:
    """Return seconds until the first words, and until a typed key, are on the screen."""
    parent, child = pty.openpty()
    fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    began = time.perf_counter()
    process = subprocess.Popen(
        command, stdin=child, stdout=child, stderr=child, env=env, close_fds=True, cwd=ROOT
    )
    os.close(child)
    got, painted, typed_at = b"", 0.0, 0.0
    try:
        while time.perf_counter() - began < 30.0:
            if select.select([parent], [], [], 0.005)[0]:
                got += os.read(parent, 65536)
            if not painted and b"Open fills" in got:
                painted = time.perf_counter() - began
                os.write(parent, b"q")
                got = b""
            elif painted and b"q" in got:
                typed_at = time.perf_counter() - began
                break
    finally:
        process.kill()
        process.wait()
        os.close(parent)
    return painted, typed_at


def ours(station: Path) -> list[str]:
    start = "import tui.entry; tui.entry.main()"
    return [sys.executable, "-c", start, "--station", str(station)]


def starts(stations: dict[str, Path], env: dict[str, str]) -> None:
    """Start each in turn, round after round, and tell each against the bare app."""
    commands = {"bare": [sys.executable, "-c", BARE]}
    commands |= {name: ours(station) for name, station in stations.items()}
    runs: dict[str, list[tuple[float, float]]] = {name: [] for name in commands}
    for _ in range(ROUNDS):
        for name, command in commands.items():
            runs[name].append(seen(command, env))
    for at, (what, limit) in enumerate(LIMITS):
        for name in stations:
            print(f"{what:16} {name:18} {_ratios(at, runs[name], runs['bare'])} (limit {limit})")


def _ratios(at: int, mine: list[tuple[float, float]], bare: list[tuple[float, float]]) -> str:
    told = []
    for how, of in (("best", min), ("median", statistics.median)):
        own, other = of(run[at] for run in mine), of(run[at] for run in bare)
        told.append(f"{how} {own:6.3f} s to {other:6.3f} s, ratio {own / other:4.2f}")
    return "; ".join(told)


def resident_mb() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


async def searching(station: Path) -> tuple[list[float], float]:
    """Type searches into the Book; return each key's time to its repaint [ms], and memory [MB]."""
    rig = Rig(station)
    async with rig.run(size=(120, 40), who="manager", place="book") as pilot:
        screen = rig.terminal.screen
        assert isinstance(screen, Book)
        await rig.until(pilot, lambda: screen.ledger.line is not None)
        painted, paint, took = asyncio.Event(), screen._compositor_refresh, []

        def repaint() -> None:
            paint()
            painted.set()

        screen._compositor_refresh = repaint
        for text in SEARCHES:
            for char in text:
                before, began = screen.field.value, time.perf_counter()
                rig.terminal.post_message(events.Key(char, char))
                while screen.field.value == before or not painted.is_set():
                    painted.clear()
                    await painted.wait()
                took.append((time.perf_counter() - began) * 1e3)
                await asyncio.sleep(0.2)  # longer than the pause before a search: it runs now
            screen.field.value = ""
            await asyncio.sleep(0.5)
        await rig.settle(pilot)
        gc.collect()
        return took, resident_mb()


def in_the_book(station: Path) -> None:
    """Run in a process of its own, so that memory is that of this book alone."""
    took, resident = asyncio.run(searching(station))
    took.sort()
    print(json.dumps({"p50": took[len(took) // 2], "p95": took[int(len(took) * 0.95)],
                      "resident": resident}))  # fmt: skip


def book(station: Path) -> dict[str, float]:
    command = [sys.executable, __file__, "book", str(station)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        small = folder / "small" / "station.db"
        small.parent.mkdir()
        found(small.parent)
        shop = Shop.open(small)
        shop.filling()
        shop.station.record.close()
        large = million(Path(tempfile.gettempdir()) / "fillwright-bench-million")
        env = {**os.environ, "HOME": name, "XDG_CONFIG_HOME": name, "TERM": "xterm-256color",
               "PYTHONPATH": str(ROOT)}  # fmt: skip
        starts({"small station": small, "a million fills": large}, env)
        empty, full = book(small), book(large)
        more = full["resident"] - empty["resident"]
        print(
            f"key to repaint, searching a million fills: p50 {full['p50']:.1f} ms, "
            f"p95 {full['p95']:.1f} ms (limit 50; empty book p95 {empty['p95']:.1f} ms)"
        )
        print(
            f"memory with a million fills {full['resident']:.1f} MB, with an empty book "
            f"{empty['resident']:.1f} MB: {more:.1f} MB more (limit 60)"
        )


if __name__ == "__main__":
    if sys.argv[1:2] == ["book"]:
        in_the_book(Path(sys.argv[2]))
    else:
        main()
