"""A mistyped reading, corrected from the command line."""

from __future__ import annotations

from tests.tui.terminal import Terminal, one_message, run


def _correct(fill: str, pressure: str, *more: str) -> tuple[str, ...]:
    return ("fill", "correct", fill, "--at", pressure, "--temperature", "20C", *more)


def test_the_last_reading_is_corrected(at: Terminal) -> None:
    fill = at.started()
    at.ok("fill", "reading", fill, "--at", "94.4bar", "--temperature", "20C")
    answer = at.ok(*_correct(fill, "84.425bar", "--gauge", "G1"))
    assert (answer["state"], answer["closes"], answer["warnings"]) == ("filling", True, [])
    told = at.ok("book", "show", fill)
    wrong, right = told["readings"]
    assert wrong["seq"] == answer["corrects"]
    assert (wrong["corrected_by"], right["corrected_by"]) == (right["seq"], None)
    assert [one["kind"] for one in told["exceptions"]] == ["beyond-stop", "reading-corrected"]
    assert at.ok("verify")["ok"]


def test_under_a_key_it_is_corrected_once(at: Terminal) -> None:
    fill = at.started()
    at.ok("fill", "reading", fill, "--at", "94.4bar", "--temperature", "20C")
    first = at.ok(*_correct(fill, "84.425bar", "--key", "k1"))
    again = at.ok(*_correct(fill, "84.425bar", "--key", "k1"))
    assert again["repeated"]
    assert again["seq"] == first["corrects"] + 1
    assert len(at.ok("book", "show", fill)["readings"]) == 2


def test_a_refusal_is_told_and_repeated_under_its_key(at: Terminal) -> None:
    fill = at.started()
    for _ in range(2):
        refused = run(*_correct(fill, "84bar", "--key", "k2"), "--json")
        assert (refused.code, one_message(refused.err)) == (5, True)
        assert refused.json["gates"][0]["gate"] == "order"
    assert "no reading to correct" in refused.json["gates"][0]["reason"]


def test_a_value_that_cannot_be_read(at: Terminal) -> None:
    said = run(*_correct(at.started(), "84,4.2bar"))
    assert (said.code, one_message(said.err)) == (2, True)
    assert "--at" in said.err
