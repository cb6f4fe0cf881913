"""Ways on from a wrong gas: ranked, each a plan of its own, none beyond the limit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.errors import InputError, NoFillError
from blender.planning import PlanRequest, parse_gas_at, parse_want, plan
from blender.planning.ways import Way, one_way, ways
from tui.commands import ways as command
from tui.commands.plan import answer


def asked(have: str, want: str, limit: float | None = None, way: str = "") -> PlanRequest:
    return PlanRequest(
        0.012, parse_gas_at(have, "have"), parse_want(want), limit_bar=limit, way=way
    )


def test_no_gas_is_let_out_where_that_lands() -> None:
    found = ways(asked("200bar:0.17/0.47", "220bar:18/45", 232.0))
    assert found[0].kind == "no-bleed"
    assert found[0].miss < 1e-6
    assert not found[0].drains


def test_more_than_it_may_hold_is_let_out_first() -> None:
    with pytest.raises(
        NoFillError, match=r"shows 92\.0 bar and may hold 80\.0 bar: drain"
    ) as caught:
        ways(asked("92bar:0.534/0", "230bar:EAN32", 80.0))
    assert caught.value.code == "limit"


def test_every_bleed_asks_for_rest_and_analysis_first() -> None:
    bleed = ways(asked("228bar:0.336/0", "230bar:EAN32", 232.0))[0]
    assert bleed.kind == "bleed"
    assert "rest and analyse first" in bleed.text


def test_the_isolator_found_closed_and_opened() -> None:
    """Worked out beforehand in pyaga8: 86.823 bar, 17.506 / 61.205 %, then He 129.016, O2 136.142,
    air 220; topped with air alone 19.509 / 25.558 %."""
    found = command.answer(
        "2x12L", "136.142bar@20C:0.1639296/0.6954866", "220bar:18/45", "40bar@20C:21/35",
        supply=["he=helium", "o1=oxygen99.5"],
    )  # fmt: skip
    now = found["request"]["have"]
    assert now["pressure_bar"] == pytest.approx(86.823, abs=0.05)
    assert now["gas"]["o2"] == pytest.approx(0.17506, abs=1e-4)
    assert now["gas"]["he"] == pytest.approx(0.61205, abs=1e-4)
    best = found["ways"][0]
    stops = {step["supply"]: step["to_bar"] for step in best["steps"] if step["action"] == "add"}
    assert best["kind"] == "no-bleed"
    assert stops == {
        "he": pytest.approx(129.016, abs=0.05), "o1": pytest.approx(136.142, abs=0.05),
        "top": pytest.approx(220.0, abs=0.05),
    }  # fmt: skip
    topped = next(way for way in found["ways"] if way["kind"] == "top")
    assert topped["result"]["o2"] == pytest.approx(0.19509, abs=1e-4)
    assert topped["result"]["he"] == pytest.approx(0.25558, abs=1e-4)


def test_both_full_halves_opened_after_one_was_filled() -> None:
    """Worked out beforehand in pyaga8: 124.852 bar, 18.512 % O2, 43.292 % He."""
    found = command.answer("2x12L", "220bar@20C:18/45", "220bar:18/45", "40bar@20C:21/35")
    now = found["request"]["have"]
    assert now["pressure_bar"] == pytest.approx(124.852, abs=0.05)
    assert now["gas"]["o2"] == pytest.approx(0.18512, abs=1e-4)
    assert now["gas"]["he"] == pytest.approx(0.43292, abs=1e-4)


def test_a_way_is_planned_by_its_name() -> None:
    found = answer("12L", "92bar:0.53397/0", "230bar:EAN32", way="top")
    assert [step["action"] for step in found["steps"]] == ["add", "rest", "analyse"]
    assert found["request"]["way"] == "top"
    with pytest.raises(InputError, match="the ways are"):
        answer("12L", "92bar:0.53397/0", "230bar:EAN32", way="sideways")
    with pytest.raises(NoFillError) as refused:
        answer("12L", "92bar:0.53397/0", "230bar:EAN32", way="fill-on", limit="232bar")
    assert refused.value.alternatives[0]["kind"] == "bleed"


_HAVE = st.tuples(st.floats(0.0, 230.0), st.floats(0.1, 0.9), st.floats(0.0, 0.5))


@given(_HAVE, st.floats(0.22, 0.6), st.floats(100.0, 230.0), st.none() | st.floats(230.0, 300.0))
def test_every_way_is_a_plan_and_the_first_misses_least_of_its_sort(
    have: tuple[float, float, float], o2: float, want_bar: float, limit: float | None
) -> None:
    bar, left_o2, left_he = have
    left_he = min(left_he, 0.95 - left_o2)
    request = asked(f"{bar:.3f}bar:{left_o2:.5f}/{max(left_he, 0.0):.5f}",
                    f"{want_bar:.2f}bar:{o2:.5f}/0", limit)  # fmt: skip
    found = ways(request)
    assert "leave" in {way.kind for way in found}
    assert [_rank(way) for way in found] == sorted(_rank(way) for way in found)
    for way in found:
        assert limit is None or way.plan.pressure_bar <= limit + 1e-6
        assert way.plan.pressure_bar == pytest.approx(
            one_way(request, way.kind).pressure_bar, abs=1e-9
        )
    for way in found:
        if way.kind == "no-bleed":
            at_want = [w for w in found if not w.drains and _at(w, request)]
            assert way.miss <= min(w.miss for w in at_want) + 1e-6


def _rank(way: Way) -> tuple[bool, bool, float]:
    return (way.miss > 1e-6, way.drains, round(way.miss, 6))


def _at(way: Way, request: PlanRequest) -> bool:
    return abs(way.plan.pressure_bar - request.want.gauge_bar) < 1e-6


@given(st.floats(10.0, 150.0), st.sampled_from(["air", "EAN28", "EAN36"]))
def test_where_nothing_went_wrong_the_first_way_is_the_plan(bar: float, left: str) -> None:
    request = asked(f"{bar:.2f}bar:{left}", "230bar:EAN32")
    usual, first = plan(request), ways(request)[0]
    assert first.plan.result.o2 == pytest.approx(usual.result.o2, abs=1e-9)
    assert first.drains == any(step.action == "drain" for step in usual.steps)
