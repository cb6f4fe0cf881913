"""`serve` and `tablet ...` on the command line."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from tests.patience import PATIENCE_S
from tests.tui.terminal import Terminal, one_message
from tui.cli import tablet as commands

ROOT = Path(__file__).parents[2]


@pytest.fixture(name="served")
def _served(at: Terminal, monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """The station as if its tablet were served."""
    from blender.station import tablet
    from tui.wiring import open_station

    station = open_station(str(at.path))
    tablet.serve_at(station, "http://127.0.0.1:8023")
    station.record.close()
    return at


def test_handed_over_listed_and_withdrawn(served: Terminal) -> None:
    fill = served.analysed()
    handed = served.ok("tablet", "hand", fill)
    assert handed["url"].startswith(f"http://127.0.0.1:8023/begin#{handed['handed']}-")
    served.ok("tablet", "register", "--customer", "Uma Neu")
    served.ok("tablet", "staff")
    listed = served.ok("tablet", "list")
    assert [one["purpose"] for one in listed["handed"]] == ["sign", "register", "staff"]
    assert not any(one["opened"] for one in listed["handed"])
    assert served.ok("tablet", "withdraw", str(handed["handed"]))["withdrawn"] == [handed["handed"]]
    assert len(served.ok("tablet", "withdraw")["withdrawn"]) == 2
    said = served("tablet", "withdraw", "1")
    assert (said.code, one_message(said.err)) == (2, True)


def test_what_cannot_be_handed_over(served: Terminal) -> None:
    fill = served.request()
    said = served("tablet", "hand", fill)
    assert (said.code, one_message(said.err)) == (5, True)
    said = served("tablet", "register", "--customer", "Nobody")
    assert (said.code, one_message(said.err)) == (2, True)


def test_without_a_server_it_says_how_to_start_one(at: Terminal) -> None:
    said = at("tablet", "register")
    assert said.code == 5
    assert "`fillwright serve`" in said.err


def test_without_the_extra_it_says_how_to_install_it(
    at: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(commands.importlib.util, "find_spec", lambda _: None)
    said = at("serve")
    assert said.code == 2
    assert one_message(said.err)
    assert "pip install 'fillwright[tablet]'" in said.err


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (["--listen", "0.0.0.0"], "--allowed-host"),
        (["--listen", "counter.local"], "--listen"),
        (["--listen", "0.0.0.0", "--allowed-host", "*"], "--allowed-host"),
        (["--port", "70000"], "--port"),
        (["--public", "http://counter.example"], "--public"),
    ],
)
def test_where_it_will_not_be_served(at: Terminal, arguments: list[str], field: str) -> None:
    said = at("serve", *arguments)
    assert (said.code, one_message(said.err)) == (2, True)
    assert said.err.startswith(f"fillwright: {field}: ")


def test_a_port_that_is_taken_is_said(at: Terminal) -> None:
    from tui.tablet.address import bound

    with bound("127.0.0.1", 0) as taken:
        said = at("serve", "--port", str(taken.getsockname()[1]))
    assert (said.code, one_message(said.err)) == (2, True)


def test_served_until_stopped_and_the_record_says_so(at: Terminal) -> None:
    """A process of its own: off loopback it cautions, and it stops when it is told to."""
    given = {
        "FILLWRIGHT_STATION": str(at.path),
        "PYTHONPATH": str(ROOT),
        "HOME": str(at.path.parent),
    }
    process = subprocess.Popen(
        [sys.executable, "-c", "from tui.entry import main; main()", "serve", "--port", "0",
         "--listen", "0.0.0.0", "--allowed-host", "127.0.0.1", "--json"],
        env=given | {"PATH": os.environ["PATH"]}, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True,
    )  # fmt: skip
    assert process.stdout is not None
    told = json.loads(process.stdout.readline())
    assert at.ok("tablet", "list")["address"] == told["address"]
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(told["address"], timeout=PATIENCE_S)
    assert refused.value.code == 401
    refused.value.close()
    process.send_signal(signal.SIGTERM)
    out, err = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, out) == (0, "")
    assert err.startswith("fillwright: Caution: plain http at http://127.0.0.1:")
    assert told["url"].partition("#")[2] not in err
    assert at.ok("tablet", "list")["address"] is None
