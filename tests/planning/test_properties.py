"""What must hold for every plan, whatever is asked."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from blender.errors import InputError, NoFillError
from blender.gas import Mix, mix, parse_gas
from blender.planning import GasAt, PlanRequest, Supply, parse_gas_at, parse_want, plan
from tui.commands.plan import answer, lines


def _request(have, want, **changes):
    return PlanRequest(0.012, parse_gas_at(have, "have"), parse_want(want), **changes)


@given(
    have=st.floats(0.0, 80.0),
    low=st.floats(33.0, 90.0),
    more=st.floats(0.001, 9.0),
    bar=st.floats(120.0, 300.0),
)
@settings(max_examples=60)
def test_more_oxygen_asked_never_lowers_the_oxygen_stop(have, low, more, bar):
    def stop(percent):
        found = plan(_request(f"{have:.6f}bar:EAN28", f"{bar:.6f}bar:EAN{percent:.6f}"))
        return next(step.to_bar for step in found.steps if step.supply == "oxygen")

    assert stop(low + more) >= stop(low) - 1e-9


@given(
    o2=st.floats(12.0, 40.0),
    he=st.floats(2.0, 55.0),
    bar=st.floats(150.0, 280.0),
    celsius=st.floats(0.0, 40.0),
)
@settings(max_examples=60)
def test_planning_again_half_way_changes_nothing(o2, he, bar, celsius):
    request = _request("30bar:EAN28", f"{bar:.4f}bar:{o2:.4f}/{he:.4f}", temperatures_c=(celsius,))
    try:
        whole = plan(request)
    except NoFillError:
        assume(False)
    adds = [step for step in whole.steps if step.action == "add"]
    assume(len(adds) > 1 and all(warning.code != "off-target" for warning in whole.warnings))
    half = adds[0]
    now = GasAt(half.to_bar, half.holds, celsius)
    rest = [s for s in plan(_with_have(request, now)).steps if s.action == "add"]
    assert [step.supply for step in rest] == [step.supply for step in adds[1:]]
    for again, before in zip(rest, adds[1:], strict=True):
        assert again.amount_mol == pytest.approx(before.amount_mol, rel=1e-6, abs=1e-7)
        assert again.to_bar == pytest.approx(before.to_bar, abs=1e-6)


def _with_have(request: PlanRequest, have: GasAt) -> PlanRequest:
    return replace(request, have=have)


@pytest.mark.parametrize("rounding", [-1e-13, 0.0, 1e-13])
def test_rounding_is_no_reason_to_drain_or_to_add(rounding):
    """An EAN32 cylinder is filled from an EAN32 bank alone, whatever the last digit is."""
    bank = (Supply("b1", parse_gas("EAN32")),)
    request = _request("50bar:EAN32", "200bar:EAN32", supplies=bank)
    held = mix(0.32 + rounding)
    found = plan(_with_have(request, GasAt(50.0, held)))
    assert [step.action for step in found.steps] == ["add", "rest", "analyse"]


def _finite(value):
    if isinstance(value, dict):
        return all(_finite(item) for item in value.values())
    if isinstance(value, list):
        return all(_finite(item) for item in value)
    return not isinstance(value, float) or math.isfinite(value)


# Words that nearly are what is asked for, and words that are not at all.
words = st.one_of(
    st.text(max_size=30),
    st.sampled_from(
        [
            "",
            "0bar:air",
            "499bar:oxygen",
            "230bar:EAN32",
            "1e5bar:air",
            "60bar@33C:EAN28",
            "-1bar:air",
            "230bar:heliox 20/80",
            "nan",
            "infbar:air",
            "230bar:argon",
            "5bar:helium",
            "230bar:1.0/0",
            "0.1psi:21/35",
            "230bar@20C:EAN32",
            "[/]",
            "=1+1",
            "١٢bar:air",
            "12,000bar:air",
            "499bar:10/70",
        ]
    ),
)
sizes = st.one_of(
    st.text(max_size=12), st.sampled_from(["12L", "2x12L", "0L", "80cuft@3000psi", "0.2L"])
)
degrees = st.one_of(
    st.text(max_size=10),
    st.sampled_from(["20C", "-20C", "60C", "20C,60C", "0C,0C,0C", "999C", "30,5C"]),
)
sources = st.lists(
    st.one_of(
        st.text(max_size=20),
        st.sampled_from(
            [
                "o1=oxygen",
                "he=helium",
                "o2=oxygen99.5@180barx50L",
                "b=EAN32@1barx0.2L",
                "b=EAN32@499barx1000L",
                "top=air",
                "t=21/35@100barx50L",
                "a=argon",
                "z=oxygen@0barx50L",
            ]
        ),
    ),
    max_size=4,
)
percents = st.one_of(st.none(), st.text(max_size=6), st.sampled_from(["0%", "40%", "100%", "-1%"]))


@given(
    cylinder=sizes,
    have=words,
    want=words,
    method=st.sampled_from(["partial-pressure", "continuous-flow", "banked", "mass", "x"]),
    supply=sources,
    top=st.sampled_from(["air", "air", "EAN32", "oxygen", "helium", "argon", "18/45", "?"]),
    temperature=degrees,
    settle_at=degrees,
    ambient=st.sampled_from(["1.01325bar", "0.5bar", "795mbar", "9bar", "x"]),
    limit=st.one_of(st.none(), words, st.sampled_from(["232bar", "0bar"])),
    rated_intake=percents,
    intake_air=st.one_of(st.none(), st.text(max_size=9), st.sampled_from(["25C/60%", "60C/100%"])),
    delivery=st.one_of(st.none(), st.text(max_size=9), st.sampled_from(["200L/min", "0L/min"])),
    purge_to=st.sampled_from(["10bar", "0bar", "50bar", "51bar", "x"]),
    order=st.one_of(st.none(), st.text(max_size=9), st.just("top,oxygen,helium")),
)
@settings(max_examples=250, deadline=None)
def test_any_words_give_an_answer_or_a_told_reason(**asked):
    _answers(asked)


@given(
    have=st.tuples(st.floats(0, 499), st.floats(0, 100), st.floats(0, 100), st.floats(-20, 60)),
    want=st.tuples(st.floats(0, 499), st.floats(0, 100), st.floats(0, 100)),
    method=st.sampled_from(["partial-pressure", "continuous-flow"]),
    bottle=st.one_of(st.none(), st.tuples(st.floats(0, 499), st.floats(0.2, 1000))),
    ambient=st.floats(0.5, 1.1),
    celsius=st.floats(-20, 60),
    top=st.sampled_from(["air", "air", "EAN32", "oxygen", "helium", "18/45"]),
)
@settings(max_examples=250, deadline=None)
def test_any_numbers_give_a_finite_answer_or_a_told_reason(
    have, want, method, bottle, ambient, celsius, top
):
    asked = {
        "cylinder": "12L",
        "have": f"{have[0]:.3f}bar@{have[3]:.2f}C:{_pair(have)}",
        "want": f"{want[0]:.3f}bar:{_pair(want)}",
        "method": method,
        "ambient": f"{ambient:.5f}bar",
        "temperature": f"{celsius:.2f}C",
        "top": top,
        "rated_intake": "40%",
    }
    if bottle:
        asked["supply"] = [f"o1=oxygen99.5@{bottle[0]:.2f}barx{bottle[1]:.2f}L", "he=helium"]
    _answers(asked)


def _pair(numbers):
    o2, share = numbers[1:3]
    return f"{o2:.3f}/{share * (1 - o2 / 100):.3f}"


def _answers(asked):
    try:
        found = answer(**asked)
    except NoFillError as error:
        assert error.text
        known = ("unreachable", "bank", "rated-intake", "drain", "limit", "oxygen-line")
        assert error.code in known
        assert _finite(error.alternatives)
        json.dumps(error.alternatives, allow_nan=False)
        return
    except InputError as error:
        assert error.text
        return
    assert _finite(found)
    json.dumps(found, allow_nan=False)
    assert all(isinstance(line, str) for line in lines(found))
    for step in found["steps"]:
        assert step.get("amount_mol", 0.0) >= 0.0
        assert 0.0 <= step["holds"]["o2"] <= 1.0 + 1e-12


def test_the_mix_given_is_the_mix_used():
    gas = Mix(0.3, 0.2, 0.49, 0.01)
    found = plan(_with_have(_request("50bar:air", "200bar:21/35"), GasAt(50.0, gas)))
    assert found.request.residual().mix.o2 == pytest.approx(0.3)
