"""What becomes of an analysed cylinder."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.decision import Limits, Reading, Tolerances, decide, percent
from blender.errors import InputError
from blender.gas import AIR, OXYGEN, Mix, mix


def readings(*pairs: float | tuple[float, float]) -> list[Reading]:
    """Readings from percentages, with helium as a pair."""
    both = [p if isinstance(p, tuple) else (p, None) for p in pairs]
    return [Reading(o2 / 100, None if he is None else he / 100) for o2, he in both]


def ask(values: list[Reading], wanted: Mix | None, **options: Any) -> str | None:
    return decide(values, wanted, **options).decision


def codes(values: list[Reading], wanted: Mix, **options: Any) -> list[str]:
    return [code for code, _ in decide(values, wanted, **options).reasons]


EAN32, TRIMIX, BOTTOM = mix(0.32), mix(0.21, 0.35), mix(0.10, 0.70)


class TestScenarios:
    def test_repeat_fill_is_accepted(self):
        assert ask(readings(32.1, 31.8), EAN32) == "accept"

    def test_disputed_readings_go_back(self):  # 0.895 points apart
        assert ask(readings(32.095, 31.2), EAN32) == "recheck"
        assert codes(readings(32.095, 31.2), EAN32) == ["o2-disagree"]

    def test_the_third_reading_settles_it(self):
        assert ask(readings(32.095, 32.0), EAN32) == "accept"

    def test_helium_is_never_taken_as_none(self):
        assert ask(readings(18.0), mix(0.18, 0.45)) == "reject"
        assert codes(readings(18.0), mix(0.18, 0.45)) == ["helium-missing"]
        assert ask(readings(32.0), EAN32, helium_expected=True) == "reject"
        assert ask(readings((32.0, 0.0)), EAN32, helium_expected=True) == "accept"

    def test_overshot_fill_needs_the_divers_yes(self):
        assert ask(readings(34.794), EAN32) == "relabel"

    def test_residual_taken_on_trust(self):  # S11 (c): residual truly air, EAN36, EAN50
        assert [ask(readings(x), EAN32) for x in (30.046, 34.216, 38.092)] == ["relabel"] * 3


# Tolerance of one point for nitrox: common practice, no source (T).
@pytest.mark.parametrize(
    ("percent_o2", "decision"),
    [(33.0, "accept"), (31.0, "accept"), (33.001, "relabel"), (30.999, "relabel")],
)
def test_the_edge_of_the_tolerance_is_inside(percent_o2, decision):
    assert ask(readings(percent_o2), EAN32) == decision


@given(wanted=st.integers(220, 900), off=st.sampled_from([-11, -10, 0, 10, 11]))
def test_edges_hold_for_every_typed_tenth(wanted, off):
    """Binary floats must not decide: 33.0 against 32 is one point, for every pair of tenths."""
    goal, read = mix(round(wanted / 1000, 12)), (wanted + off) / 1000
    assert ask([Reading(read)], goal) == ("accept" if abs(off) <= 10 else "relabel")


@given(first=st.integers(250, 900), apart=st.integers(-9, 9))
def test_agreement_holds_for_every_typed_tenth(first, apart):
    values = [Reading(first / 1000), Reading((first + apart) / 1000)]
    answer = ask(values, mix(round(first / 1000, 12)))
    assert (answer == "recheck") == (abs(apart) > 5)


def test_every_reading_has_to_fit():
    assert ask(readings(33.0, 33.3), EAN32) == "relabel"


def test_hypoxic_mixes_are_held_closer():  # half a point, our own choice
    assert ask(readings((10.5, 70.0)), BOTTOM) == "accept"
    assert ask(readings((10.6, 70.0)), BOTTOM) == "relabel"


def test_helium_within_two_points():  # our own choice
    assert ask(readings((21.0, 37.0)), TRIMIX) == "accept"
    assert ask(readings((21.0, 37.1)), TRIMIX) == "relabel"
    assert ask(readings((21.0, 35.0), (21.0, 37.1)), TRIMIX) == "recheck"
    assert codes(readings((21.0, 35.0), (21.0, 37.1)), TRIMIX) == ["he-disagree"]


def test_helium_that_was_not_asked_for_is_on_the_label():
    assert ask(readings((32.0, 3.0)), EAN32) == "relabel"


def test_helium_that_never_went_in_is_rejected():
    assert codes(readings((21.0, 0.0)), TRIMIX) == ["helium-missing"]
    assert ask(readings((21.0, 0.0)), TRIMIX) == "reject"


def test_hypoxic_by_mistake():
    assert codes(readings(12.0), EAN32) == ["hypoxic"]
    assert ask(readings((17.4, 45.0)), mix(0.18, 0.45)) == "reject"
    assert ask(readings((17.6, 45.0)), mix(0.18, 0.45)) == "accept"  # the label states the floor
    assert ask(readings((18.0, 45.0)), mix(0.18, 0.45)) == "accept"
    assert ask(readings((17.5, 45.0)), mix(0.175, 0.45)) == "accept"


def test_next_to_no_oxygen_is_never_relabelled():
    assert codes(readings((0.4, 70.0)), BOTTOM) == ["not-breathable"]
    assert ask(readings((0.4, 70.0)), BOTTOM) == "reject"


def test_a_station_may_allow_no_slack_at_the_hypoxic_edge():
    rules = Tolerances(hypoxic_slack_points=Decimal(0))
    assert ask(readings((18.0, 45.0)), mix(0.18, 0.45), rules=rules) == "accept"
    assert ask(readings((17.9, 45.0)), mix(0.18, 0.45), rules=rules) == "reject"


def test_beyond_the_cylinders_oxygen_service():
    limits = Limits(cylinder_max_o2=0.40)
    assert ask(readings(40.0), mix(0.40), limits=limits) == "accept"
    assert codes(readings(40.3), mix(0.40), limits=limits) == ["oxygen-service"]
    assert ask(readings(39.9, 40.1), mix(0.40), limits=limits) == "reject"


def test_beyond_the_divers_card():
    assert ask(readings(41.5), mix(0.40), limits=Limits(diver_max_o2=0.40)) == "reject"
    assert ask(readings(40.5), mix(0.40), limits=Limits(diver_max_o2=0.40)) == "accept"
    assert ask(readings((32.0, 3.0)), EAN32, limits=Limits(diver_helium=False)) == "reject"


@pytest.mark.parametrize(
    ("o2", "decision"), [(100.0, "accept"), (99.0, "accept"), (98.99, "relabel")]
)
def test_oxygen_means_the_stations_minimum(o2, decision):
    assert ask(readings(o2), OXYGEN) == decision


def test_nothing_wanted_nothing_decided():
    assert ask(readings(32.0), None) is None


def test_no_reading_is_refused():
    with pytest.raises(InputError):
        decide([], EAN32)


@given(st.floats(0.0, 1.0), st.one_of(st.none(), st.floats(0.0, 1.0)), st.floats(0.01, 1.0))
def test_there_is_always_one_answer_with_a_reason(o2, he, wanted):
    verdict = decide([Reading(o2, he)], mix(wanted))
    assert verdict.decision in ("accept", "relabel", "reject")
    assert verdict.reasons
    if verdict.decision == "accept":
        assert abs(o2 - wanted) <= 0.0101


def test_percent_sheds_the_binary_tail():
    assert percent(0.1 + 0.2) == Decimal("30.0")
    assert percent(AIR.o2) == Decimal("20.946")
