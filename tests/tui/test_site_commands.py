"""`site`, from two stations introduced to a cylinder that one filled and the other signed for."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.tui.terminal import Terminal, one_message, run

BOSS = ("--as", "Mara Linde")
REEF = "reef.db"


@pytest.fixture(name="both")
def _both(at: Terminal) -> Terminal:
    """The station, which is the office, and another in the working folder."""
    at.ok(
        "init", "--station", REEF, "--id", "REEF-3", "--name", "Reef Gas", "--manager", "Mara Linde"
    )
    office, reef = at.ok("site", "show"), at.ok("site", "show", "--station", REEF)
    at.ok("site", "add", "REEF-3", "--name", "Reef Gas", "--key", reef["key"], "--at", REEF, *BOSS)
    at.ok("site", "office", "QUAY-1", "--name", "Quayside Gas", "--key", office["key"],
          "--station", REEF, *BOSS)  # fmt: skip
    return at


def test_it_goes_up_and_comes_down_by_files(both: Terminal) -> None:
    sent = both.ok("site", "send", "--out", "up.parcel", "--station", REEF)
    assert (sent["after"], sent["entries"]) == (0, 3)
    assert Path("up.parcel").stat().st_mode & 0o077 == 0
    assert both.ok("site", "take", "up.parcel")["taken"] == 3
    assert both.ok("site", "take", "up.parcel")["taken"] == 0
    told = both.ok("site", "root", "--out", "down.answer")
    assert len(told["heads"]) == 2
    got = both.ok("site", "receive", "down.answer", "--station", REEF)
    assert (got["new"], got["root"], got["cylinders"]) == (True, told["root"], 5)
    assert both.ok("site", "receive", "down.answer", "--station", REEF)["new"] is False
    assert both.ok("site", "show", "--station", REEF)["root"]["text"].startswith(told["root"])
    assert both.ok("verify", "--station", REEF)["ok"]
    assert both.ok("site", "check")["sites"][0]["ok"]


def test_it_goes_up_from_its_place_without_anybody_signing(
    both: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("SECRET", "AS"):
        monkeypatch.delenv(f"FILLWRIGHT_{name}", raising=False)
    made = both.ok("site", "sync", "--out", "down.answer")
    assert made["sites"][0]["entries"] == 3
    assert made["root"]["number"] == 1
    board = both.ok("site", "board")
    assert [one["site"] for one in board["sites"]] == ["QUAY-1", "REEF-3"]
    assert both.ok("site", "board", "REEF-3")["sites"][0]["entries"] == 3
    text = run("site", "board")
    assert "REEF-3" in text.out
    Path(REEF).unlink()
    left = run("site", "sync", "--out", "more.answer", "--json")
    assert left.code == 2  # all that could be done was, and one is not well
    told = json.loads(left.out)
    assert told["sites"][0]["code"] == "bad-input"
    assert told["root"]["number"] == 1  # told again
    assert "! not reached since 20" in run("site", "board").out
    assert "not reached since 20" in run("site", "check").out
    assert "This station is the office" in run("site", "show").out


def test_a_rolled_back_record_is_refused_in_words(both: Terminal) -> None:
    both.ok("site", "sync")
    copy = Path(REEF).read_bytes()
    both.ok("person", "add", "A B", "--role", "customer", "--station", REEF, *BOSS)
    both.ok("site", "sync")
    Path(REEF).write_bytes(copy)
    said = run("site", "take", REEF)
    assert said.code == 5
    assert one_message(said.err)
    assert "cut short, or an older copy was put back" in said.err
    assert run("site", "sync").code == 5
    assert "! refused 20" in run("site", "board").out
    assert both.ok("site", "board")["sites"][0]["exceptions"][0]["kind"] == "site-refused"


def test_what_one_filled_is_signed_for_at_the_other(both: Terminal) -> None:
    number = both.started()
    for at in ("84.425bar", "230bar"):
        both.ok("fill", "reading", number, "--at", at, "--temperature", "20C")
    both.ok("site", "sync", "--out", "down.answer")
    here = ("--station", REEF)
    both.ok("site", "receive", "down.answer", *here)
    known = both.ok("site", "cylinder", "C-1001", *here)
    assert (known["is_here"], known["known_at"][0]["site"]) == (False, "QUAY-1")
    assert known["fills"][0]["fill"] == int(number)
    assert both.ok("site", "cylinder", "C-1002", "--add", *here, *BOSS)["known_from"] == "QUAY-1"
    both.ok(
        "person", "add", "Kai Diver", "--role", "customer", "--certified", "nitrox", *here, *BOSS
    )
    both.ok("analyser", "add", "R1", *here, *BOSS)
    both.ok("analyser", "calibrate", "R1", "--gas", "air", "--reading", "20.9", "--ambient",
            "1.013bar", "--air", "20C/50%", *here, *BOSS)  # fmt: skip
    made = both.ok("site", "bring", "QUAY-1", number, "--customer", "Kai Diver", *here, *BOSS)
    assert (made["fill"], made["state"], made["site"]) == (1, "resting", "QUAY-1")
    both.ok("fill", "analyse", "1", "--serial", "C-1001", "--analyser", "R1", "--reading", "32.1",
            *here, *BOSS)  # fmt: skip
    both.ok("fill", "accept", "1", "--name", "Kai Diver", "--reading", "31.8", *here, *BOSS)
    assert both.ok("label", "1", *here)
    both.ok("site", "sync", "--out", "again.answer")  # the office takes it in for itself, too
    story = both.ok("book", "show", number)
    assert story["state"] == "elsewhere"
    assert story["other_sites"][0].startswith("analysed at REEF-3 as its fill 1")
    assert run("label", number).code == 5


@pytest.mark.parametrize("content", [b"", b"hello there\n", bytes(range(256)) * 9])
def test_a_file_that_is_no_parcel_is_no_damaged_record(both: Terminal, content: bytes) -> None:
    Path("odd.txt").write_bytes(content)
    said = run("site", "take", "odd.txt")
    assert said.code == 2
    assert one_message(said.err)
    assert "neither a station's parcel" in said.err
    both.ok("site", "sync", "--out", "down.answer")
    assert "site receive" in run("site", "take", "down.answer").err


@pytest.mark.parametrize(
    "words",
    [
        ("site", "take", "nothing.parcel"),
        ("site", "receive", "nothing.answer"),
        ("site", "take", "."),
        ("site", "send", "--out", "x.parcel", "--after", "99999"),
        ("site", "root", "--out", "x.answer"),
        ("site", "sync"),
        ("site", "board", "NOBODY"),
        ("site", "cylinder", "C-9"),
        ("site", "bring", "REEF-3", "1", "--customer", "Kai Diver"),
        ("site", "add", "quay 2", "--name", "x", "--key", "ab" * 32, *BOSS),
        ("site", "office", "Q-2", "--name", "x", "--key", "zz", *BOSS),
    ],
)
def test_what_cannot_be_is_said_in_one_message(at: Terminal, words: tuple[str, ...]) -> None:
    said = run(*words)
    assert said.code in (2, 4), said
    assert one_message(said.err)
