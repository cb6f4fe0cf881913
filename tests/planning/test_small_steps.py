"""A step no gauge shows is left out where the mix lands near enough; what is missed is told.

An empty cylinder holds air at 1.013 bar: of 151.0 bar absolute that is 0.67 %, which keep EAN32
0.67 % of (32.00 - 20.95) points = 0.074 points down (ideal mixing, by hand).
"""

from __future__ import annotations

from typing import Any

import pytest

from blender.errors import InputError, NoFillError
from tui.commands.choose import answer as chosen
from tui.commands.plan import answer

LEAST = "0.5bar"  # half of what a dial is read to
BANK = ["b1=EAN32@230barx50L", "o1=oxygen@180barx50L"]


def adds(found: dict[str, Any]) -> list[dict[str, Any]]:
    return [step for step in found["steps"] if step["action"] == "add"]


def codes(found: dict[str, Any]) -> set[str]:
    return {one["code"] for one in found["warnings"]}


@pytest.mark.parametrize("method", ["partial-pressure", "banked"])
def test_a_bank_of_the_wanted_mix_goes_into_an_empty_cylinder_alone(method: str) -> None:
    found = answer(
        cylinder="12L",
        have="0bar:air",
        want="150bar:EAN32",
        supply=BANK,
        method=method,
        least_step=LEAST,
    )
    (only,) = adds(found)
    assert only["supply"] == "b1"
    assert only["to_bar"] == pytest.approx(150.0, abs=1e-6)
    assert (found["result"]["o2"] - 0.32) * 100 == pytest.approx(-0.074, abs=0.003)
    (said,) = [one["text"] for one in found["warnings"] if one["code"] == "off-target"]
    assert "-0.07" in said
    assert "oxygen-service" not in codes(found)  # nothing rich goes in any more


def test_a_small_step_is_told_where_a_gauge_has_to_show_it() -> None:
    asked = {"cylinder": "12L", "have": "0bar:air", "want": "150bar:EAN32", "supply": BANK}
    assert "small-step" in codes(answer(**asked, least_step=None))
    weighed = answer(**asked, method="mass", scale="1g")
    assert min(step["mass_g"] for step in adds(weighed)) < 10.0
    assert "small-step" not in codes(weighed)  # a scale shows it


def test_what_is_left_out_is_named() -> None:
    found = answer(
        cylinder="12L", have="0bar:air", want="150bar:EAN32", supply=BANK, least_step=LEAST
    )
    (said,) = [one["text"] for one in found["warnings"] if one["code"] == "left-out"]
    assert said.startswith("oxygen is left out")


def test_a_step_that_a_gauge_shows_stays() -> None:
    # From 5 bar of air EAN32 takes 0.16 mol of oxygen for each bar of residual: 0.8 bar rise.
    found = answer(
        cylinder="12L", have="5bar:air", want="150bar:EAN32", supply=BANK, least_step=LEAST
    )
    assert [one["supply"] for one in adds(found)] == ["o1", "b1"]
    assert found["result"]["o2"] == pytest.approx(0.32, abs=1e-9)
    assert not {"left-out", "off-target"} & codes(found)


def test_a_small_step_stays_where_the_mix_would_be_too_far_off_without_it() -> None:
    # To 8 bar the ambient air is an eighth of all: 1.3 points, more than half a point.
    found = answer(
        cylinder="12L", have="0bar:air", want="8bar:EAN32", supply=BANK, least_step=LEAST
    )
    assert [one["supply"] for one in adds(found)] == ["o1", "b1"]


def test_by_mass_the_scale_decides() -> None:
    asked: dict[str, Any] = {
        "cylinder": "12L", "have": "0bar:air", "want": "150bar:EAN32", "supply": BANK,
        "method": "mass", "least_step": LEAST,
    }  # fmt: skip
    coarse, fine = (answer(**asked, scale=step) for step in ("5g", "0.5g"))
    assert [one["supply"] for one in adds(coarse)] == ["b1"]
    assert [one["supply"] for one in adds(fine)] == ["o1", "b1"]


def test_a_banked_fill_that_needs_rich_gas_is_still_refused() -> None:
    with pytest.raises(NoFillError, match="does not handle"):
        answer(
            cylinder="12L",
            have="40bar:air",
            want="150bar:EAN32",
            supply=BANK,
            method="banked",
            least_step=LEAST,
        )


def test_a_choice_counts_what_no_gauge_shows_as_no_miss() -> None:
    asked = {
        "cylinder": "12L",
        "have": "0bar:air",
        "want": "150bar:EAN32",
        "supply": BANK,
        "least_step": LEAST,
    }
    found = chosen(**asked, by="certainty")["choices"]
    first = found[0]
    assert [step["supply"] for step in first["steps"] if step["action"] == "add"] == ["b1"]
    assert first["merits"]["is_unseen"]
    assert first["merits"]["miss"] == pytest.approx(0.00074, abs=3e-5)  # and is told all the same


def test_a_banked_fill_says_too_what_would_be_too_little_to_hold() -> None:
    found = answer(
        cylinder="12L",
        have="0bar:air",
        want="150bar:EAN32",
        supply=BANK,
        method="banked",
        least_step=LEAST,
    )
    assert {"left-out", "off-target"} <= codes(found)


def test_nothing_is_left_out_unasked_and_what_no_gauge_shows_is_told() -> None:
    found = answer(cylinder="12L", have="0bar:air", want="150bar:EAN32", supply=BANK)
    assert [one["supply"] for one in adds(found)] == ["o1", "b1"]
    assert found["result"]["o2"] == pytest.approx(0.32, abs=1e-9)
    (said,) = [one["text"] for one in found["warnings"] if one["code"] == "small-step"]
    rise = adds(found)[0]["to_bar"]
    assert 0.0 < rise < 0.5
    assert f"{rise:.2f} bar" in said


def test_a_banked_fill_lets_nothing_slip_unasked() -> None:
    with pytest.raises(NoFillError, match="does not handle"):
        answer(cylinder="12L", have="0bar:air", want="150bar:EAN32", supply=BANK, method="banked")


@pytest.mark.parametrize("given", ["-1bar", "3bar", "some"])
def test_a_least_step_that_is_none_is_refused(given: str) -> None:
    with pytest.raises(InputError, match="least-step"):
        answer(cylinder="12L", have="0bar:air", want="150bar:EAN32", least_step=given)
