"""An overshoot, and a correction after analysis.

Numbers: GERG-2008 (pyaga8 0.1.18), 12 L, 20 degC.
"""

from __future__ import annotations

import pytest

from blender.station import papers
from tests.station.shop import Shop


def test_beyond_the_oxygen_stop(shop: Shop) -> None:
    fill = shop.filling()
    over = shop.reading(fill, "92bar")
    assert over.facts["holds"]["o2"] * 100 == pytest.approx(53.397, abs=0.01)
    assert over.facts["leads_to"]["o2"] * 100 == pytest.approx(34.794, abs=0.01)
    assert over.facts["warnings"][0]["code"] == "beyond-stop"
    assert "34.79" in over.text
    assert [row.kind for row in shop.exceptions(fill)] == ["beyond-stop"]


def test_planned_again_only_after_an_analysis(shop: Shop) -> None:
    """Bleeding at once would let the wrong gas out; after a rest and an analysis it may."""
    fill = shop.filling()
    shop.reading(fill, "92bar")
    assert not shop.plan(fill).done
    shop.hold(fill, "overshoot")
    shop.analyse(fill, "53.4")
    made = shop.plan(fill)
    steps = made.facts["plan"]["steps"]
    assert [s["action"] for s in steps] == ["drain", "rest", "add", "rest", "analyse"]
    assert steps[0]["to_bar"] == pytest.approx(73.163, abs=0.05)
    assert shop.resume(fill, "92bar").state == "filling"
    shop.reading(fill, "73.1bar")
    shop.reading(fill, "73.15bar")
    last = shop.reading(fill, "230bar")
    assert last.facts["holds"]["o2"] * 100 == pytest.approx(32.0, abs=0.02)
    assert last.state == "resting"


def test_a_slipped_analysis_of_a_held_fill_asks_a_manager(shop: Shop) -> None:
    """5.34 typed for 53.4: planned from it, oxygen would go into a gas that is rich already."""
    fill = shop.filling()
    shop.reading(fill, "92bar")
    shop.hold(fill, "overshoot")
    refused = shop.analyse(fill, "5.34")
    assert not refused.done
    assert "calculated" in {one.gate for one in refused.objections}
    assert shop.analyse(fill, "53.4").done


def corrected(shop: Shop) -> int:
    fill = shop.filling(want="228bar:EAN32")
    shop.reading(fill, "84.3bar")
    shop.reading(fill, "228bar")
    answer = shop.analyse(fill, "33.6")
    assert answer.facts["decision"] == "relabel"
    made = shop.plan(fill, supply=("o1=oxygen",))
    assert made.state == "correcting"
    return fill


def test_correction_bleeds_and_tops_up(shop: Shop) -> None:
    fill = shop.request(want="230bar:EAN32")
    shop.plan(fill)
    shop.start(fill)
    shop.reading(fill, "84.425bar")
    shop.reading(fill, "229bar")
    shop.reading(fill, "228bar")  # it rests and cools
    assert shop.row(fill).state == "resting"
    shop.analyse(fill, "33.6")
    made = shop.plan(fill)
    assert made.state == "correcting"
    steps = made.facts["plan"]["steps"]
    assert [s["action"] for s in steps] == ["drain", "rest", "add", "rest", "analyse"]
    assert steps[0]["to_bar"] == pytest.approx(196.483, abs=0.05)
    assert steps[0]["amount_mol"] == pytest.approx(13.314, rel=1e-3)
    assert not shop.reading(fill, "200bar").done  # not before it was started again
    assert shop.start(fill).state == "filling"
    holds = shop.reading(fill, "196.48bar").facts["holds"]
    assert holds["o2"] * 100 == pytest.approx(33.6, abs=0.01)  # as analysed, not as planned
    shop.reading(fill, "196.48bar")
    last = shop.reading(fill, "230bar")
    assert last.facts["holds"]["o2"] * 100 == pytest.approx(32.0, abs=0.01)


def test_after_a_correction_only_new_readings_count(shop: Shop) -> None:
    """What was read before gas was let out and in says nothing about the gas now."""
    fill = corrected(shop)
    shop.start(fill)
    while shop.row(fill).state == "filling":
        step = shop.steps(fill)[shop.row(fill).step]
        shop.reading(fill, f"{step.to_mbar / 1000 - 0.01:.2f}bar")
    answer = shop.analyse(fill, "32.0")
    assert (answer.state, answer.facts["decision"]) == ("analysed", "accept")
    assert shop.accept(fill, "32.1").state == "accepted"
    view = papers.label_view(shop.station.record, fill)
    assert view.o2_percent == 32.0
    assert view.mod_agreed_m == pytest.approx(10 * 1.4 / 0.321 - 10, abs=1e-3)


def test_an_old_analysis_is_no_acceptance_of_the_correction(shop: Shop) -> None:
    fill = corrected(shop)
    assert not shop.accept(fill, "33.6").done
    shop.start(fill)
    assert not shop.accept(fill, "33.6").done
    assert shop.row(fill).state == "filling"


def test_a_correction_can_be_planned_again(shop: Shop) -> None:
    fill = corrected(shop)
    again = shop.plan(fill, temperature="15C")
    assert (again.done, again.state) == (True, "correcting")
    assert again.facts["plan"]["request"]["have"]["gas"]["o2"] == pytest.approx(0.336, abs=1e-6)


def test_a_tag_hung_after_it_says_that_its_plan_is_not_gone_on_with(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "92bar")
    first, *_ = papers.tag_view(shop.station.record, fill).warnings
    assert first.startswith("PLAN AGAIN: 92.0 bar is beyond the stop of 84.4 bar")
    shop.hold(fill, "overshoot")
    shop.analyse(fill, "53.4")
    assert shop.plan(fill).done
    assert "PLAN AGAIN" not in str(papers.tag_view(shop.station.record, fill).warnings)
