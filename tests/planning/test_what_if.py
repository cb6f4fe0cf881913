"""Topping and its inverse, against an independent GERG-2008 (pyaga8)."""

from __future__ import annotations

import json
import random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from blender.errors import InputError, NoFillError
from tests.executor import World, _let_in, _plus, gas_of
from tui.commands import depth
from tui.commands.plan import answer as plan
from tui.commands.whatif import answer, lines

PLAIN = {"cylinder": "12L", "have": "60bar:EAN28"}
GASES = ["air", "EAN32", "EAN36", "EAN50", "oxygen", "oxygen99.5", "helium", "18/45", "21/35"]


def world(asked):
    return World({**{key: asked[key] for key in asked if key != "top"}, "want": "1bar:air"})


# ---- forwards


def test_several_tops_at_once_each_through_depth():
    found = answer(**PLAIN, top=["EAN32", "air"], to=["230bar"])
    assert [one["top"] for one in found["tops"]] == ["EAN32", "air"]
    for one in found["tops"]:
        o2 = one["result"]["o2"]
        figures = depth.answer(f"{o2:.15f}/0")
        for key in ("mod_m", "mod_ft", "mod_m_shown", "floor_m"):
            assert one["depth"][key] == pytest.approx(figures[key], rel=1e-12)
    told = "\n".join(lines(found))
    assert "EAN30.9, 230.0 bar" in told
    assert "MOD 35 m" in told


def test_the_trap_of_blind_topping():
    """S3 (scenarios.md): 180 bar EAN40 topped with air to 200 bar is 38.298 %."""
    found = answer(cylinder="12L", have="180bar:EAN40", top=["air"], to=["200bar"])
    assert found["tops"][0]["result"]["o2"] == pytest.approx(0.38298, abs=1e-4)


def test_a_chain_is_a_plan_read_the_other_way():
    """S4 (scenarios.md): He to 121.894, oxygen99.5 to 136.142, air to 220 is 18/45."""
    found = answer(cylinder="24L", have="40bar:21/35", top=["helium"],
                   to=["121.894bar", "136.142bar", "220bar"],
                   then=["oxygen99.5", "air"])  # fmt: skip
    (one,) = found["tops"]
    holds = [step["holds"] for step in one["steps"]]
    assert holds[0]["o2"] == pytest.approx(0.07409, abs=1e-4)
    assert holds[1]["he"] == pytest.approx(0.69549, abs=1e-4)
    assert one["result"]["o2"] == pytest.approx(0.18, abs=1e-4)
    assert one["result"]["he"] == pytest.approx(0.45, abs=1e-4)
    assert {w["code"] for w in one["warnings"]} == {"hypoxic-step", "oxygen-service"}


def test_a_gas_nobody_can_breathe_has_no_depth():
    found = answer(cylinder="12L", have="0bar:helium", top=["helium"], to=["100bar"])
    (one,) = found["tops"]
    assert "depth" not in one
    assert "NOT for breathing" in "\n".join(lines(found))


def test_random_chains_against_the_independent_equation_of_state():
    rng, done = random.Random(77), 0
    for _ in range(250):
        count = rng.randint(1, 3)
        stops = sorted(rng.uniform(100, 300) for _ in range(count))
        celsius = [f"{rng.uniform(0, 40):.1f}C" for _ in range(count)]
        gases = [rng.choice(GASES) for _ in range(count)]
        asked = {
            "cylinder": rng.choice(["12L", "7L", "2x12L", "80cuft@3000psi"]),
            "have": f"{rng.uniform(0, 80):.2f}bar@{rng.uniform(0, 30):.1f}C:{rng.choice(GASES)}",
            "ambient": f"{rng.uniform(0.7, 1.05):.5f}bar",
            "temperature": ",".join(celsius),
            "settle_at": f"{rng.uniform(0, 35):.1f}C",
        }
        try:
            found = answer(
                **asked, top=gases[:1], then=gases[1:], to=[f"{b:.3f}bar" for b in stops]
            )
        except InputError as error:  # cooler at the next stop, it may show less than before
            assert error.field == "--to"
            continue
        there = world(asked)
        for step, name, bar, at in zip(
            found["tops"][0]["steps"], gases, stops, celsius, strict=True
        ):
            gas = gas_of(name)
            mol = _let_in(there, gas, round(bar, 3), float(at[:-1]))
            there.moles = _plus(there.moles, gas, mol)
            assert step["amount_mol"] == pytest.approx(mol, rel=1e-6, abs=1e-7)
            assert step["holds"]["o2"] == pytest.approx(there.moles[0] / sum(there.moles), abs=1e-7)
        done += 1
        result = found["tops"][0]["result"]
        assert result["he"] == pytest.approx(there.moles[1] / sum(there.moles), abs=1e-7)
        assert result["pressure_bar"] == pytest.approx(there.gauge(there.settle), abs=1e-4)
    assert done > 200


@given(
    have=st.floats(0.0, 90.0), low=st.floats(100.0, 200.0), more=st.floats(0.01, 80.0),
    gas=st.sampled_from(GASES),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_more_topping_brings_it_nearer_to_the_top(have, low, more, gas):
    def off(bar):
        found = answer(cylinder="12L", have=f"{have:.5f}bar:EAN28", top=[gas], to=[f"{bar:.5f}bar"])
        return [
            abs(found["tops"][0]["result"][k] - gas_of(gas)[i]) for i, k in enumerate(("o2", "he"))
        ]

    here, there = off(low), off(low + more)
    assert there[0] <= here[0] + 1e-12
    assert there[1] <= here[1] + 1e-12


@given(o2=st.floats(24.0, 60.0), bar=st.floats(100.0, 280.0), celsius=st.floats(5.0, 40.0))
@settings(max_examples=40, deadline=None)
def test_the_stops_of_a_plan_lead_to_its_mix(o2, bar, celsius):
    options = {"temperature": f"{celsius:.3f}C", "cylinder": "12L", "have": "20bar:EAN24"}
    made = plan(**options, want=f"{bar:.4f}bar:EAN{o2:.5f}")
    adds = [step for step in made["steps"] if step["action"] == "add"]
    assume(len(adds) == 2 and made["steps"][0]["action"] == "add")
    found = answer(**options, top=[adds[0]["supply"]], then=["air"],
                   to=[f"{step['to_bar']:.12f}bar" for step in adds])  # fmt: skip
    assert found["tops"][0]["result"]["o2"] == pytest.approx(o2 / 100, abs=6e-8)
    assert found["tops"][0]["result"]["pressure_bar"] == pytest.approx(bar, abs=1e-4)


@pytest.mark.parametrize("bar", [281.6, 300.0, 350.0, 450.0])
@pytest.mark.parametrize("gas", GASES)
def test_high_pressures_in_the_cold(bar, gas):
    asked = {"cylinder": "12L", "have": "1bar:EAN28", "temperature": "0C", "settle_at": "0C"}
    found = answer(**asked, top=[gas], to=[f"{bar}bar"])
    there = world(asked)
    mol = _let_in(there, gas_of(gas), bar, 0.0)
    assert found["tops"][0]["steps"][0]["amount_mol"] == pytest.approx(mol, rel=1e-7)


# ---- backwards


def test_filling_on_to_the_right_oxygen():
    """S8 (scenarios.md): 53.397 % at 92 bar needs air to 306.326 bar to come to 32 %."""
    found = answer(cylinder="12L", have="92bar:0.53397/0", top=["air"], reach="32%")
    assert found["tops"][0]["steps"][0]["to_bar"] == pytest.approx(306.326, abs=0.05)
    with pytest.raises(NoFillError) as caught:
        answer(cylinder="12L", have="92bar:0.53397/0", top=["air"], reach="32%", limit="232bar")
    assert caught.value.code == "limit"
    step = caught.value.alternatives[0]["steps"][0]
    assert step["to_bar"] == pytest.approx(232.0)
    assert step["holds"]["o2"] == pytest.approx(0.34695, abs=1e-4)


@given(
    have=st.floats(1.0, 120.0), here=st.floats(20.0, 60.0), wanted=st.floats(21.0, 60.0),
    gas=st.sampled_from(GASES), celsius=st.floats(0.0, 40.0),
)  # fmt: skip
@settings(max_examples=120, deadline=None)
def test_topping_to_the_pressure_told_gives_the_oxygen_asked(have, here, wanted, gas, celsius):
    asked = {"cylinder": "12L", "have": f"{have:.4f}bar:EAN{here:.4f}", "top": [gas],
             "temperature": f"{celsius:.3f}C"}  # fmt: skip
    wanted = round(wanted, 5)  # as it is typed
    try:
        found = answer(**asked, reach=f"{wanted:.5f}%")
    except NoFillError as error:
        between = sorted((round(here, 4), gas_of(gas)[0] * 100))
        assert error.code == "limit" or not between[0] < wanted < between[1]
        return
    bar = found["tops"][0]["steps"][0]["to_bar"]
    again = answer(**asked, to=[f"{bar:.12f}bar"])
    assert again["tops"][0]["result"]["o2"] == pytest.approx(wanted / 100, abs=1e-7)
    there = world(asked)
    mol = _let_in(there, gas_of(gas), bar, float(f"{celsius:.3f}"))
    there.moles = _plus(there.moles, gas_of(gas), mol)
    assert there.moles[0] / sum(there.moles) == pytest.approx(wanted / 100, abs=1e-6)


def test_what_one_top_cannot_another_may():
    found = answer(cylinder="12L", have="60bar:EAN36", top=["air", "EAN50"], reach="32%")
    assert "depth" in found["tops"][0]
    assert found["tops"][1]["error"]["code"] == "unreachable"
    assert "not possible" in "\n".join(lines(found))
    with pytest.raises(NoFillError):
        answer(cylinder="12L", have="60bar:EAN36", top=["EAN50"], reach="32%")


def test_the_last_of_a_chain_may_be_left_open():
    found = answer(**PLAIN, top=["oxygen"], to=["80bar"], then=["air"], reach="32%")
    assert found["tops"][0]["result"]["o2"] == pytest.approx(0.32, abs=1e-12)


# ---- what is typed


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"top": [], "to": ["100bar"]}, "--top"),
        ({"top": ["argon"], "to": ["100bar"]}, "--top"),
        ({"top": ["air"]}, "--to"),
        ({"top": ["air"], "to": ["100bar", "200bar"]}, "--to"),
        ({"top": ["air"], "to": ["100bar"], "reach": "25%"}, "--to"),
        ({"top": ["air"], "to": ["50bar"]}, "--to"),
        ({"top": ["air"], "to": ["233bar"], "limit": "232bar"}, "--to"),
        ({"top": ["air"], "to": ["600bar"]}, "--to"),
        ({"top": ["air"], "to": ["499bar"]}, "--to"),
        ({"top": ["air"], "to": ["100"]}, "--to"),
        ({"top": ["air"], "to": ["450bar"], "temperature": "0C", "settle_at": "40C"}, "--to"),
        ({"top": ["air"], "to": ["100bar"], "then": ["nitrogen"]}, "--then"),
        ({"top": ["air"], "reach": "132%"}, "--reach"),
        ({"top": ["air"], "to": ["100bar"], "temperature": "20C,30C"}, "--temperature"),
        ({"top": ["air"], "to": ["100bar"], "ppo2": "9"}, "--ppo2"),
        ({"top": ["air"], "to": ["100bar"], "water": "beer"}, "--water"),
    ],
)
def test_bad_input_names_its_option(more, field):
    with pytest.raises(InputError) as caught:
        answer(**PLAIN, **more)
    assert caught.value.field == field


words = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["air", "helium", "oxygen", "EAN32", "18/45", "argon", "0/100", "100bar",
                     "230bar", "499bar", "0bar", "60bar:air", "0bar@60C:oxygen", "32%", "20C"]),
)  # fmt: skip


@given(
    have=words, top=st.lists(words, max_size=3), to=st.lists(words, max_size=3),
    then=st.lists(words, max_size=2), reach=st.one_of(st.none(), words),
    temperature=st.sampled_from(["20C", "20C,60C", "-20C", "x"]),
    ppo2=st.sampled_from(["1.4", "0.2", "1.6", "x"]),
)  # fmt: skip
@settings(max_examples=200, deadline=None)
def test_anything_typed_is_an_answer_or_a_told_reason(
    have, top, to, then, reach, temperature, ppo2
):
    try:
        found = answer("12L", have, top=top, to=to, then=then, reach=reach,
                       temperature=temperature, ppo2=ppo2)  # fmt: skip
    except (InputError, NoFillError) as error:
        assert error.exit_code in (2, 3)
        json.dumps(getattr(error, "alternatives", []), allow_nan=False)
        return
    json.dumps(found, allow_nan=False)
    assert all(isinstance(row, str) for row in lines(found))


@given(
    have=st.tuples(st.floats(0, 499), st.floats(0, 100), st.floats(0, 100), st.floats(-20, 60)),
    top=st.tuples(st.floats(0, 100), st.floats(0, 100)),
    bar=st.one_of(st.none(), st.floats(0, 499)), reach=st.floats(0, 100),
)  # fmt: skip
@settings(max_examples=200, deadline=None)
def test_any_numbers_give_an_answer_or_a_told_reason(have, top, bar, reach):
    def gas(o2, share):
        return f"{o2:.3f}/{share * (1 - o2 / 100):.3f}"

    how = {"reach": f"{reach:.3f}%"} if bar is None else {"to": [f"{bar:.3f}bar"]}
    try:
        found = answer("12L", f"{have[0]:.3f}bar@{have[3]:.2f}C:{gas(*have[1:3])}",
                       top=[gas(*top)], **how)  # fmt: skip
    except (InputError, NoFillError) as error:
        assert error.exit_code in (2, 3)
        json.dumps(getattr(error, "alternatives", []), allow_nan=False)
        return
    json.dumps(found, allow_nan=False)
    assert all(isinstance(row, str) for row in lines(found))
