"""Rules, rest, retired analysers, secrets and copies, as a script sees them."""

from __future__ import annotations

from pathlib import Path

import pytest

import tui.wiring
from blender.record.verify import verify
from tests.station.shop import SECRET, Clock
from tests.tui.terminal import Terminal, one_message, run

BOSS = ("--as", "Mara Linde")
WHY = ("--reason", "the insurer asks for it")


def set_rest(at: Terminal, minutes: str = "10min") -> None:
    answer = at.ok("rule", "set", "rest", minutes, *WHY, *BOSS)
    assert (answer["rule"], answer["old_text"], answer["text"]) == ("rest", "0 min", "10 min")


def clock() -> Clock:
    found = tui.wiring.clock
    assert isinstance(found, Clock)
    return found


def test_a_whole_fill_within_seconds_is_not_refused_at_a_new_station(at: Terminal) -> None:
    fill, _ = at.accepted()
    kinds = [row["kind"] for row in at.ok("book", "show", fill)["exceptions"]]
    assert kinds == []


def test_rest_as_a_rule_is_a_gate_and_a_manager_waives_it(at: Terminal) -> None:
    set_rest(at)
    fill = at.started()
    for stop in ("84.425bar", "230bar"):
        at.ok("fill", "reading", fill, "--at", stop, "--temperature", "20C")
    facts = ("fill", "analyse", fill, "--serial", "C-1001", "--analyser", "A1", "--reading", "32.1")
    for more in ((), BOSS, ("--waive", "the boat leaves")):
        said = run(*facts, *more)
        assert said.code == 5
        assert one_message(said.err)
        assert "let it rest 10 min" in said.err
    reading = ("fill", "reading", fill, "--at", "229bar", "--temperature", "20C")
    assert run(*reading).code == 5
    assert run(*reading, *BOSS, "--waive", "to see how it cools").code == 0
    answer = at.ok(*facts, *BOSS, "--waive", "rolled for a minute")
    assert answer["state"] == "analysed"
    assert {"gate": "rest", "answer": "ask"}.items() <= {
        k: v for g in answer["gates"] if g["gate"] == "rest" for k, v in g.items()
    }.items()
    story = at.ok("book", "show", fill)
    allowed = [row["text"] for row in story["exceptions"] if row["kind"] == "allowed"]
    assert allowed[-1].endswith("waived: rolled for a minute")


def test_after_the_rest_nobody_is_asked(at: Terminal) -> None:
    set_rest(at)
    fill = at.started()
    for stop in ("84.425bar", "230bar"):
        at.ok("fill", "reading", fill, "--at", stop, "--temperature", "20C")
    clock().turn(10)
    at.ok("fill", "analyse", fill, "--serial", "C-1001", "--analyser", "A1", "--reading", "32.1")


def test_rules_are_listed_with_what_they_were(at: Terminal) -> None:
    set_rest(at)
    said = run("rule", "list")
    assert said.code == 0
    assert "rest             10 min" in said.out
    assert "0 min until 2026-11-25T" in said.out
    assert "Mara Linde: the insurer asks for it" in said.out
    (one,) = [rule for rule in at.ok("rule", "list")["rules"] if rule["rule"] == "rest"]
    assert (one["value"], one["usual"], len(one["changes"])) == (10, 0, 1)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("rest", "10min", *WHY), 5, "rule needs manager"),
        (("rest", "10", *WHY, *BOSS), 2, "rest is 0 min to 240 min, written with its unit"),
        (("rust", "10min", *WHY, *BOSS), 2, "there are name, reference"),
        (("rest", "10min", *BOSS), 2, "--reason"),
        (("rest", "0min", *WHY, *BOSS), 2, "that already"),
    ],
)
def test_a_rule_that_is_not_changed(
    at: Terminal, words: tuple[str, ...], code: int, said: str
) -> None:
    answer = run("rule", "set", *words)
    assert (answer.code, one_message(answer.err)) == (code, True)
    assert said in answer.err


def test_a_retired_analyser(at: Terminal) -> None:
    assert run("analyser", "retire", "A1", "--reason", "dead").code == 5
    assert run("analyser", "retire", "A1", *BOSS).code == 2
    assert at.ok("analyser", "retire", "A1", "--reason", "dead", *BOSS)["retired"]
    assert "A1           retired: dead" in run("analyser", "list").out
    fill = at.started()
    for stop in ("84.425bar", "230bar"):
        at.ok("fill", "reading", fill, "--at", stop, "--temperature", "20C")
    facts = ("fill", "analyse", fill, "--serial", "C-1001", "--reading", "32.1", "--analyser")
    said = run(*facts, "A1")
    assert said.code == 5
    assert "A1 was retired: dead" in said.err
    at.ok(*facts, "A2")


def test_a_secret_is_changed_and_reset(
    at: Terminal, nowhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (nowhere / "new").write_text("rising tide\n")
    at.ok("person", "secret", "--new-secret-file", "new")
    assert run("person", "secret", "--new-secret-file", "new").code == 5  # it was another's
    reset = ("person", "reset", "Jo Blend", "--reason", "forgot", "--new-secret-file", "new2")
    (nowhere / "new2").write_text("neap tide\n")
    monkeypatch.setenv("FILLWRIGHT_SECRET", SECRET)
    assert run(*reset).code == 5  # her own is another by now
    at.ok(*reset, *BOSS)
    monkeypatch.setenv("FILLWRIGHT_SECRET", "rising tide")
    assert run("fill", "hold", "1", "--reason", "x").code == 5
    monkeypatch.setenv("FILLWRIGHT_SECRET", "neap tide")
    facts = ("--cylinder", "C-1001", "--customer", "Kai Diver", "--have", "0bar:air")
    said = run("fill", "request", *facts, "--residual", "label", "--want", "230bar:EAN32")
    assert said.code == 5  # a secret for once signs nothing
    assert "person secret" in said.err
    at.ok("person", "secret", "--new-secret-file", "new")
    monkeypatch.setenv("FILLWRIGHT_SECRET", "rising tide")
    at.request()
    assert verify(at.path).ok


def test_a_label_printed_again_says_so(at: Terminal, nowhere: Path) -> None:
    fill, anchor = at.accepted()
    assert at.ok("label", fill, "--out", "1.pdf")["copy"] == 1
    again = at.ok("label", fill, "--out", "2.pdf")
    assert (again["copy"], again["anchor"]) == (2, anchor)
    assert "Copy 3 of the label of fill 1" in run("label", fill).out
    at.ok("fill", "collect", fill, "--serial", "C-1001", "--label", anchor)
    assert verify(at.path, anchor).ok


def test_without_the_key_file_a_label_is_a_copy_and_the_record_stays(
    at: Terminal, nowhere: Path
) -> None:
    fill, _ = at.accepted()
    at.path.with_suffix(".keys").rename(nowhere / "elsewhere.keys")
    before = at.path.read_bytes()
    assert at.ok("label", fill, "--out", "1.pdf")["copy"] == 2
    assert at.path.read_bytes() == before
