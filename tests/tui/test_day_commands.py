"""The day and the banks from the command line."""

from __future__ import annotations

from pathlib import Path

from tests.tui.terminal import Terminal, one_message, run

MARA = ("--as", "Mara Linde")
FINE = ("--gauges-zero", "yes", "--room", "yes, alarm shows 20.9")


def test_a_day_with_its_sheet(at: Terminal, nowhere: Path) -> None:
    at.ok("supply", "add", "o1", "--gas", "oxygen", "--size", "50L", "--at", "180bar", *MARA)
    said = at.ok("day", "open", *FINE, "--intake", "no, diesel", "--bank", "o1=150bar@15C")
    assert said["exceptions"] == ["compressor intake: no, diesel"]
    at.accepted()
    assert at.ok("day", "show")["counts"]["not_collected"] == 1
    assert "not collected: 1" in run("day", "show").out
    closed = at.ok("day", "close", "--note", "calm")
    sheet = at.ok("day", "sheet", "--out", "day.pdf")
    assert sheet["anchor"] == closed["anchor"]
    assert (nowhere / "day.pdf").read_bytes().startswith(b"%PDF")
    assert at.ok("verify", "--anchor", closed["anchor"])["ok"]
    for wrong in (("day", "close"), ("day", "sheet", "--out", "x.pdf", "--day", "2020-01-01"),
                  ("day", "open", *FINE, "--intake", "perhaps"),
                  ("day", "open", *FINE, "--intake", "yes", "--bank", "o1")):  # fmt: skip
        said = run(*wrong)
        assert (said.code, one_message(said.err)) == (2, True)


def test_banks_read_swapped_retired_and_planned_with(at: Terminal) -> None:
    at.ok("supply", "add", "o1", "--gas", "oxygen", "--size", "50L", "--at", "180bar", *MARA)
    assert at.ok("supply", "read", "o1", "--at", "150bar")["pressure_bar"] == 150.0
    fill = at.request()
    plan = at.ok("fill", "plan", fill, "--supply", "o1")["plan"]
    assert [s["name"] for s in plan["request"]["supplies"]] == ["o1"]
    unknown = run("fill", "plan", fill, "--supply", "o2")
    assert (unknown.code, "o1" in unknown.err) == (2, True)
    at.ok("supply", "change", "o1", "--at", "200bar", "--gas", "oxygen99.5")
    assert run("supply", "retire", "o1", "--reason", "sold").code == 5
    at.ok("supply", "retire", "o1", "--reason", "sold", *MARA)
    (row,) = at.ok("supply", "list")["supplies"]
    assert (row["retired"], row["gas"]) == (True, "oxygen99.5")
    assert "retired" in run("supply", "list").out
    pure = ("--cylinder", "12L", "--have", "60bar:EAN28", "--want", "230bar:EAN32")
    assert run("plan", *pure, "--supply", "o1").code == 2  # the calculator knows no station


def test_an_isolator_nobody_looked_at_is_named(at: Terminal) -> None:
    fill = at.request(cylinder="T-1+T-2")
    at.ok("fill", "plan", fill)
    said = at.ok("fill", "start", fill, "--serial", "T-1+T-2")
    assert said["done"]
    assert "isolator" in said["text"]
