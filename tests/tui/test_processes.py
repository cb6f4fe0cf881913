"""The command line for real: killed at any moment, and two at once, nothing is lost."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.patience import PATIENCE_S
from tests.station.shop import SECRET

ROOT = Path(__file__).parents[2]
START = [sys.executable, "-c", "from tui.entry import main; main()"]


@dataclass
class Script:
    """Real processes at a station that is founded with the command line itself."""

    folder: Path
    environment: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        kept = {name: os.environ[name] for name in ("PATH", "LANG") if name in os.environ}
        self.environment = kept | {
            "PYTHONPATH": str(ROOT),
            "HOME": str(self.folder),
            "FILLWRIGHT_STATION": str(self.folder / "real.db"),
            "FILLWRIGHT_SECRET": SECRET,
            "FILLWRIGHT_AS": "Mara Linde",
        }

    def begin(self, *arguments: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [*START, *arguments],
            cwd=self.folder,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )

    def __call__(self, *arguments: str, code: int = 0) -> Any:
        with self.begin(*arguments, "--json") as process:
            out, err = process.communicate(timeout=PATIENCE_S)
        assert process.returncode == code, (arguments, out, err)
        assert "Traceback" not in err
        return json.loads(out)

    def keys(self) -> list[str]:
        """The idempotency keys of all that was entered."""
        found = self("book", "export")["entries"]
        return [entry["body"]["step"] for entry in found if "step" in entry["body"]]


@pytest.fixture(scope="session", name="real")
def _real(tmp_path_factory: pytest.TempPathFactory) -> Script:
    """A station founded with the command line, and a fill begun."""
    script = Script(tmp_path_factory.mktemp("real"))
    script("init", "--name", "Quayside Gas", "--id", "QUAY-1", "--manager", "Mara Linde")
    year, month = time.localtime()[:2]
    stamp = f"{year - (month == 1)}-{(month - 2) % 12 + 1:02d}"
    script("cylinder", "add", "C-1", "--size", "12L", "--wp", "232bar", "--tp", "348bar",
           "--tested", stamp, "--inspected", stamp, "--clean", "yes")  # fmt: skip
    script("person", "add", "Kai Diver", "--role", "customer")
    script("fill", "request", "--cylinder", "C-1", "--customer", "Kai Diver", "--have",
           "60bar@20C:EAN28", "--residual", "analysed", "--want", "230bar:EAN32")  # fmt: skip
    script("fill", "plan", "1")
    script("fill", "start", "1", "--serial", "C-1")
    return script


@pytest.fixture(name="script")
def _script(real: Script, tmp_path: Path) -> Iterator[Script]:
    for name in ("real.db", "real.keys"):
        shutil.copy2(real.folder / name, tmp_path / name)
    script = Script(tmp_path)
    yield script
    assert script("verify")["ok"]


def reading(number: int, at: float) -> list[str]:
    return ["fill", "reading", "1", "--at", f"{at:.3f}bar", "--temperature", "20C", "--key",
            f"r{number}", "--json"]  # fmt: skip


def killed(script: Script, rounds: int) -> tuple[int, int]:
    """Kill one reading after another at random moments; return acknowledged and entered."""
    dice, acknowledged = random.Random(7), []
    start = time.perf_counter()
    script("book", "list")
    usual = time.perf_counter() - start
    for number in range(rounds):
        process = script.begin(*reading(number, 60.0 + 0.1 * (number + 1)))
        try:
            # Most of the time is start-up: aim at the end of it, where the record is written.
            out, _ = process.communicate(timeout=usual * dice.uniform(0.5, 1.8))
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            out, _ = process.communicate()
        if process.returncode == 0 or out:
            acknowledged.append(f"r{number}")  # whatever was said to be done is done
        if number % 20 == 19:
            assert script("verify")["ok"]
    entered = script.keys()
    assert set(acknowledged) <= set(entered)
    assert len(entered) == len(set(entered))
    return len(acknowledged), len(entered)


def test_killed_at_any_moment(script: Script) -> None:
    killed(script, 4)
    # And the work goes on: the same reading again is entered once, however often it is tried.
    for _ in range(2):
        script(*reading(0, 60.1)[:-1])
    assert script.keys().count("r0") == 1


@pytest.mark.soak
def test_killed_two_hundred_times(script: Script) -> None:
    acknowledged, entered = killed(script, 200)
    print(f"\n200 killed: {acknowledged} acknowledged, {entered} entered, none lost")
    assert 20 < acknowledged < 190  # else the kills did not come at telling moments


def _crowd(script: Script, rounds: int) -> None:
    """Two at once, again and again: requests by one, readings by the other."""
    for number in range(rounds):
        pair = [
            script.begin(*reading(number, 60.0 + 0.1 * (number + 1))),
            script.begin("fill", "request", "--cylinder", "C-1", "--customer", "Kai Diver",
                         "--have", "60bar:EAN28", "--residual", "stated", "--want",
                         "200bar:EAN32", "--key", f"q{number}", "--json"),
        ]  # fmt: skip
        for process in pair:
            out, err = process.communicate(timeout=PATIENCE_S)
            assert process.returncode == 0, err
            assert json.loads(out)["done"]
    entered = script.keys()
    assert sorted(entered) == sorted(f"{letter}{n}" for n in range(rounds) for letter in "rq")
    fills = script("book", "list")["fills"]
    assert [fill["fill"] for fill in fills] == list(range(1, rounds + 2))


def test_two_at_once(script: Script) -> None:
    _crowd(script, 2)


@pytest.mark.soak
def test_two_at_once_for_long(script: Script) -> None:
    _crowd(script, 60)


def test_the_same_key_from_two_at_once_enters_once(script: Script) -> None:
    pair = [script.begin(*reading(5, 61.0)) for _ in range(2)]
    answers = []
    for process in pair:
        out, err = process.communicate(timeout=PATIENCE_S)
        assert process.returncode == 0, err
        answers.append(json.loads(out))
    assert sorted(answer.get("repeated", False) for answer in answers) == [False, True]
    assert script.keys() == ["r5"]


def test_a_pipe_closed_early(script: Script) -> None:
    with script.begin("book", "export") as process:
        assert process.stdout is not None
        process.stdout.close()
        assert process.stderr is not None
        err = process.stderr.read()
        assert process.wait(PATIENCE_S) == 0
    assert err == ""
