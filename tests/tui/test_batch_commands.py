"""A boat's batch from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.terminal import Terminal, one_message, run

MARA = ("--as", "Mara Linde")
BOAT = ("C-1001", "C-1003", "D-7")
FOR_KAI = ("--customer", "Kai Diver", "--want", "200bar:EAN32")


def asked(at: Terminal, *have: str) -> list[str]:
    """Ask for one cylinder of the boat each; return the fills."""
    given = [word for serial, left in zip(BOAT, have, strict=False)
             for word in ("--cylinder", f"{serial}={left}")]  # fmt: skip
    answer = at.ok("batch", "request", *given, *FOR_KAI)
    assert answer["batch"] == 1
    return [str(fill["fill"]) for fill in answer["fills"]]


def bank(at: Terminal, pressure: str, gas: str = "EAN32") -> None:
    at.ok("supply", "add", "b1", "--gas", gas, "--size", "50L", "--at", pressure, *MARA)


def test_a_boat_from_request_to_sheet(at: Terminal, nowhere: Path) -> None:
    bank(at, "245bar")
    fills = asked(at, "50bar@20C:EAN32,analysed", "50bar@20C:EAN32,analysed")
    foreseen = at.ok("batch", "forecast", "1")
    assert (foreseen["complete"], foreseen["first_short"]) == (["C-1001"], "C-1003")
    board = at.ok("batch", "board", "1")
    assert [line["state"] for line in board["lines"]] == ["requested", "requested"]
    planned = run("batch", "plan", "1", "--json")
    assert (planned.code, one_message(planned.err)) == (3, True)
    assert planned.json["planned"] == [int(fills[0])]
    at.ok("fill", "start", fills[0], "--serial", "C-1001")
    sheet = at.ok("batch", "sheet", "1", "--out", "boat.pdf")
    assert sheet["not_yet_analysed_by_diver"] == ["C-1001", "C-1003"]
    assert (nowhere / "boat.pdf").read_bytes().startswith(b"%PDF")
    assert at.ok("verify", "--anchor", sheet["anchor"])["ok"]


def test_it_is_told_in_lines_too(at: Terminal) -> None:
    assert run("batch", "board").out == "No open batches.\n"
    bank(at, "245bar")
    fills = asked(at, "50bar@20C:EAN32,analysed", "50bar@20C:EAN32,analysed")
    told = run("batch", "forecast", "1").out
    assert "C-1001: 200.0 bar, O2 32.0%" in told
    assert "C-1003: FALLS SHORT, at most" in told
    assert "First that falls short: C-1003" in told
    assert "Batch 1: 1 of 2 planned." in run("batch", "plan", "1").out
    assert "DO NOT BREATHE" not in run("batch", "board", "1").out
    at.ok("fill", "start", fills[0], "--serial", "C-1001")
    at.ok("fill", "reading", fills[0], "--at", "90bar", "--temperature", "20C")
    shown = run("batch", "board", "1").out
    assert "next add b1 to" in shown
    assert "last read 90.0 bar - DO NOT BREATHE" in shown
    assert "Not yet analysed by diver: C-1001, C-1003" in shown
    assert "1 filling, 1 requested" in run("batch", "board").out
    assert at.ok("batch", "board")["batches"][0]["batch"] == 1


def test_what_is_between_equals_and_the_last_comma_is_the_gas(at: Terminal) -> None:
    asked(at, "50,5bar@20C:EAN32,label")
    (line,) = at.ok("batch", "board", "1")["lines"]
    assert (line["residual_source"], line["serial"]) == ("label", "C-1001")


@pytest.mark.parametrize(
    ("cylinders", "said"),
    [
        (("C-1001",), "SERIAL=PRESSURE:GAS,KNOWN"),
        (("C-1001=50bar:EAN32",), "SERIAL=PRESSURE:GAS,KNOWN"),
        (("C-1001=50bar:EAN32,guessed",), "guessed"),
        (("C-1001=50bar:EAN32,label", "C-1001=50bar:EAN32,label"), "once"),
        (("C-1001=50bar:EAN32,label", "X-9=50bar:EAN32,label"), "X-9"),
    ],
)
def test_bad_input_enters_nothing(at: Terminal, cylinders: tuple[str, ...], said: str) -> None:
    given = [word for one in cylinders for word in ("--cylinder", one)]
    answer = run("batch", "request", *given, *FOR_KAI)
    assert (answer.code, one_message(answer.err)) == (2, True)
    assert said in answer.err
    assert at.ok("batch", "board") == {"batches": []}


@pytest.mark.parametrize("command", ["plan", "board", "forecast", "sheet"])
def test_there_is_no_such_batch(at: Terminal, command: str) -> None:
    answer = run("batch", command, "7")
    assert (answer.code, one_message(answer.err)) == (2, True)


def test_a_gate_that_refuses_one_is_exit_5(at: Terminal) -> None:
    asked(at, "60bar@20C:EAN28,analysed", "60bar@20C:EAN28,unknown")
    answer = run("batch", "plan", "1", "--json")
    assert (answer.code, one_message(answer.err)) == (5, True)
    assert [plan["done"] for plan in answer.json["plans"]] == [True, False]


def test_start_together_is_all_or_none(at: Terminal) -> None:
    fills = asked(at, "60bar@20C:EAN28,analysed", "60bar@20C:EAN28,analysed")
    at.ok("batch", "plan", "1")
    wrong = run("fill", "start-together", *fills, "--serial", "C-1001", "--serial", "D-7")
    assert (wrong.code, one_message(wrong.err)) == (5, True)
    assert "D-7 was scanned" in wrong.err
    assert at.ok("batch", "board", "1")["states"] == {"planned": 2}
    told = at.ok("fill", "start-together", *fills, "--serial", "C-1003", "--serial", "C-1001")
    assert [one["state"] for one in told["starts"]] == ["filling", "filling"]
