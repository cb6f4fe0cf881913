"""Equipment, what falls due, drift and gas in hand by command; and small things put right."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui.terminal import Terminal, run


def test_help_says_how_the_terminal_is_opened() -> None:
    assert "opens the terminal" in run("--help").out


def test_an_erased_customer_has_no_name_in_the_list(at: Terminal) -> None:
    at.ok("person", "erase", "Uma Neu", "--reason", "asked", "--as", "Mara Linde")
    said = run("person", "list").out
    assert "None" not in said
    assert "(erased)" in said


def test_a_copy_of_a_label_lies_beside_the_first(at: Terminal, nowhere: Path) -> None:
    fill, _ = at.accepted()
    first = at.ok("label", fill)
    kept = (nowhere / first["file"]).read_bytes()
    again = at.ok("label", fill)
    assert (first["copy"], again["copy"]) == (1, 2)
    assert again["file"] == f"label-QUAY-1-{fill}-copy-2.pdf"
    assert (nowhere / first["file"]).read_bytes() == kept


def test_what_a_method_makes_no_use_of_is_said(at: Terminal) -> None:
    fill = at.request()
    plan = at.ok("fill", "plan", fill, "--rated-intake", "40%", "--intake-air", "25C/60%")
    told = "Not used: --rated-intake, --intake-air; this plan is by partial-pressure"
    assert told in plan["text"]
    assert plan["plan"]["warnings"][-1]["code"] == "unused-option"
    flow = at.ok("fill", "plan", fill, "--rated-intake", "40%", "--method", "continuous-flow")
    assert "Not used" not in flow["text"]


@pytest.fixture(name="mara")
def _mara(at: Terminal, monkeypatch: pytest.MonkeyPatch) -> Iterator[Terminal]:
    monkeypatch.setenv("FILLWRIGHT_AS", "Mara Linde")
    yield at


def test_equipment_from_its_adding_to_what_falls_due(mara: Terminal) -> None:
    mara.ok("compressor", "add", "K1", "--rated-intake", "40%")
    facts = ("--on", "K1", "--life", "40h", "--at", "20C", "--since", "2024-01-05")
    assert mara.ok("equipment", "add", "filter", "F1", *facts)["facts"]["life_mh"] == 40000
    mara.ok("equipment", "did", "compressor", "K1", "ran", "--hours", "10h")
    mara.ok("equipment", "did", "compressor", "K1", "ran", "--hours", "50h")
    (one,) = mara.ok("equipment", "list")["equipment"]
    assert (one["name"], one["life_h"], one["on"]) == ("F1", 40.0, "K1")
    done = mara.ok("equipment", "show", "compressor", "K1")["done"]
    assert [line["act"] for line in done] == ["ran", "ran"]
    due = mara.ok("due")["due"]
    (worn,) = [line for line in due if line["name"] == "F1"]
    assert worn["used"] == pytest.approx(1.0)
    assert "F1: changed: 100% used" in run("due").out
    mara.ok("equipment", "retire", "filter", "F1", "--reason", "wet")
    assert all(line["name"] != "F1" for line in mara.ok("due")["due"])
    wrong = run("equipment", "add", "filter", "F2", "--on", "K1")
    assert (wrong.code, wrong.err.count("\n")) == (2, 1)
    assert "--life" in wrong.err


def test_drift_and_its_corrections_by_command(mara: Terminal) -> None:
    mara.ok("equipment", "add", "gauge", "G1", "--range", "1.0@250bar", "--serves", "oxygen")
    mara.accepted()
    shown = mara.ok("drift", "show")
    assert shown["fills"] == 1
    assert {chart["cause"] for chart in shown["charts"]} >= {"gauge G1", "analyser A1"}
    assert mara.ok("drift", "chart", "gauge G1")["unit"] == "bar"
    signed = mara.ok("drift", "correct", "G1", "--by", "1.3bar", "--since", "2026-11-20",
                     "--reason", "compared")  # fmt: skip
    assert signed["by_bar"] == 1.3
    assert "gauge G1 corrected by +1.3 bar from 2026-11-20: compared" in run("drift", "show").out
    mara.ok("drift", "end", "G1", "--reason", "new gauge")
    (one,) = mara.ok("drift", "corrections")["corrections"]
    assert one["ended"]["reason"] == "new gauge"
    assert run("drift", "chart", "gauge G9").code == 2


def test_gas_in_hand_by_command(mara: Terminal) -> None:
    mara.ok("supply", "add", "o1", "--gas", "oxygen99.5", "--size", "50L", "--at", "180bar")
    came = mara.ok("supply", "deliver", "--gas", "oxygen99.5", "--size", "50L", "--bottles", "2",
                   "--at", "200bar", "--lot", "L-7")  # fmt: skip
    mara.ok("supply", "change", "o1", "--delivery", str(came["delivery"]))
    (row,) = mara.ok("supply", "deliveries")["deliveries"]
    assert (row["bottles"], row["remaining"]) == (2, 1)
    mara.request()
    hand = mara.ok("supply", "forecast")
    assert hand["requests"]["fit"]
    assert "1 open request: all fit" in run("supply", "forecast").out
