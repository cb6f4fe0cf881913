"""Gas let over from cylinder to cylinder, against an independent GERG-2008 (pyaga8)."""

from __future__ import annotations

import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.errors import InputError, NoFillError
from tests.executor import _plus, _times, amount, gas_of, litres_of, pressure_bar
from tui.commands.transfer import answer, lines

AMBIENT = 1.01325


class Tank:
    """A cylinder as typed, in the independent equation of state."""

    def __init__(self, typed, celsius=20.0, ambient=AMBIENT):
        size, held = typed.split("=")
        bar, gas = held.split(":")
        bar, _, at = bar.partition("@")
        self.litres, self.gas, self.at, self.ambient = (
            litres_of(size),
            gas_of(gas),
            celsius,
            ambient,
        )
        read_at = float(at[:-1]) if at else celsius
        mol = amount(self.gas, float(bar[:-3]) + ambient, read_at, self.litres)
        self.moles = _times(self.gas, mol)

    def gauge(self, moles=None):
        return pressure_bar(moles or self.moles, self.at, self.litres) - self.ambient

    def o2(self):
        return self.moles[0] / sum(self.moles)


def flow(full, low, until):
    """Move gas until a function of the two gauges is met, by halving."""
    least, most, start, total = 0.0, 0.9999 * sum(full.moles), low.moles, sum(full.moles)
    for _ in range(80):
        moved = 0.5 * (least + most)
        low.moles = _plus(start, full.gas, moved)
        full.moles = _times(full.gas, total - moved)
        least, most = (moved, most) if until(full.gauge(), low.gauge()) > 0.0 else (least, moved)
    return 0.5 * (least + most)


def check(found, full, low):
    (giver,), (taker,) = found["from"], found["into"]
    assert giver["after"]["pressure_bar"] == pytest.approx(full.gauge(), abs=1e-4)
    assert taker["after"]["pressure_bar"] == pytest.approx(low.gauge(), abs=1e-4)
    assert taker["after"]["o2"] == pytest.approx(low.o2(), abs=1e-6)
    assert taker["after"]["he"] == pytest.approx(low.moles[1] / sum(low.moles), abs=1e-6)
    assert giver["after"]["o2"] == pytest.approx(giver["before"]["o2"], abs=1e-12)


def test_shared_whips():
    """S12 (scenarios.md): 12 L at 60 bar EAN28 and at 100 bar EAN50: 80.045 bar, 33.497 %."""
    found = answer(["12L=100bar:EAN50"], ["12L=60bar:EAN28"])
    (giver,), (taker,) = found["from"], found["into"]
    assert giver["after"]["pressure_bar"] == pytest.approx(80.045, abs=0.05)
    assert taker["after"]["pressure_bar"] == pytest.approx(80.045, abs=0.05)
    assert taker["after"]["o2"] == pytest.approx(0.33497, abs=1e-4)
    assert found["moved_mol"] == pytest.approx(10.158, rel=1e-3)
    assert {w["code"] for w in found["warnings"]} == {"transfer", "oxygen-service"}
    assert "analyse it" in "\n".join(lines(found))


def test_an_equalising_bank():
    """S6 (scenarios.md): bank 50 L at 140 into 7 L of air at 0: 123.176 bar, 98.897 %."""
    found = answer(["50L=140bar:oxygen99.5"], ["7L=0bar:air"])
    assert found["into"][0]["after"]["pressure_bar"] == pytest.approx(123.176, abs=0.05)
    assert found["into"][0]["after"]["o2"] == pytest.approx(0.98897, abs=1e-4)


def test_random_transfers_against_the_independent_equation_of_state():
    rng, shut = random.Random(31), 0
    gases = ["air", "EAN32", "EAN50", "oxygen99.5", "helium", "18/45", "heliox 20/80"]
    for turn in range(250):
        celsius, ambient = round(rng.uniform(0, 40), 1), round(rng.uniform(0.7, 1.05), 5)
        high = rng.uniform(60, 300)
        at = rng.choice(["", f"@{celsius}C"])
        one = f"{rng.choice(['12L', '50L', '2x12L'])}={high:.2f}bar{at}:{rng.choice(gases)}"
        small = f"{rng.choice(['12L', '3L', '10L'])}={rng.uniform(0, high):.2f}bar"
        two = f"{small}{at}:{rng.choice(gases)}"
        options = {"temperature": f"{celsius}C", "ambient": f"{ambient}bar"}
        full, low = Tank(one, celsius, ambient), Tank(two, celsius, ambient)
        shown = low.gauge()
        mol = flow(full, low, lambda a, b: a - b)
        level = low.gauge()
        if turn % 2:
            shut += 1
            to = round(rng.uniform(shown + 0.01, level), 3)
            if not shown < to < level - 1e-3:
                continue
            full, low = Tank(one, celsius, ambient), Tank(two, celsius, ambient)
            mol = flow(full, low, lambda _, b, to=to: to - b)
            options["to"] = f"{to}bar"
        found = answer([one], [two], **options)
        check(found, full, low)
        assert found["moved_mol"] == pytest.approx(mol, rel=1e-5, abs=1e-6)
    assert shut > 50


def test_a_reading_has_its_own_temperature():
    found = answer(["12L=200bar@35C:EAN32"], ["10L=20bar@5C:air"], temperature="20C")
    full, low = Tank("12L=200bar@35C:EAN32"), Tank("10L=20bar@5C:air")
    assert found["from"][0]["before"]["pressure_bar"] == pytest.approx(full.gauge(), abs=1e-4)
    flow(full, low, lambda a, b: a - b)
    check(found, full, low)


# ---- what is refused


def test_unlike_mixes_at_once_are_refused_and_say_why():
    with pytest.raises(NoFillError) as caught:
        answer(["12L=200bar:EAN32", "12L=180bar:EAN50"], ["10L=20bar:air"])
    assert caught.value.code == "unlike-mixes"
    assert "EAN32, EAN50, air" in caught.value.text
    (other,) = caught.value.alternatives
    assert other["kind"] == "one-by-one"
    low, second, first = (
        Tank(t) for t in ("10L=20bar:air", "12L=200bar:EAN32", "12L=180bar:EAN50")
    )
    for full in (first, second):
        flow(full, low, lambda a, b: a - b)
    assert other["into"][0]["pressure_bar"] == pytest.approx(low.gauge(), abs=1e-3)
    assert other["into"][0]["o2"] == pytest.approx(low.o2(), abs=1e-6)
    assert other["from"][1]["pressure_bar"] == pytest.approx(first.gauge(), abs=1e-3)


def test_two_takers_of_unlike_gas_are_refused_too():
    with pytest.raises(NoFillError) as caught:
        answer(["50L=200bar:EAN32"], ["12L=50bar:air", "12L=60bar:EAN50"])
    assert caught.value.code == "unlike-mixes"


def test_several_that_hold_alike_are_levelled():
    found = answer(["12L=200bar:EAN32", "12L=180bar:EAN32"], ["10L=20bar:EAN32"])
    gas = gas_of("EAN32")
    tanks = [Tank(t) for t in ("12L=200bar:EAN32", "12L=180bar:EAN32", "10L=20bar:EAN32")]
    mol, litres = sum(sum(t.moles) for t in tanks), sum(t.litres for t in tanks)
    bar = pressure_bar(_times(gas, mol), 20.0, litres) - AMBIENT
    for one in (*found["from"], *found["into"]):
        assert one["after"]["pressure_bar"] == pytest.approx(bar, abs=1e-4)
        assert one["after"]["o2"] == pytest.approx(0.32, abs=1e-12)


def test_nothing_flows_back():
    with pytest.raises(NoFillError) as caught:
        answer(["12L=20bar:EAN32"], ["10L=120bar:air"])
    assert caught.value.code == "backflow"
    with pytest.raises(NoFillError) as caught:  # read hot, it is the lower one
        answer(["12L=100bar@50C:EAN32"], ["10L=95bar@10C:air"], temperature="20C")
    assert caught.value.code == "backflow"


def test_beyond_level_is_told_with_where_it_ends():
    with pytest.raises(NoFillError) as caught:
        answer(["12L=200bar:EAN32"], ["10L=20bar:air"], to="150bar")
    assert caught.value.code == "level"
    (other,) = caught.value.alternatives
    level = answer(["12L=200bar:EAN32"], ["10L=20bar:air"])["into"][0]["after"]
    assert other["into"][0]["pressure_bar"] == pytest.approx(level["pressure_bar"])
    found = answer(["12L=200bar:EAN32"], ["10L=20bar:air"], to=f"{level['pressure_bar']:.9f}bar")
    assert found["into"][0]["after"]["o2"] == pytest.approx(level["o2"], abs=1e-9)


@pytest.mark.parametrize(
    ("sources", "targets", "more", "field"),
    [
        ([], ["10L=20bar:air"], {}, "--from"),
        (["12L=200bar:EAN32"], [], {}, "--into"),
        (["12L 200bar:EAN32"], ["10L=20bar:air"], {}, "--from"),
        (["12L=200bar"], ["10L=20bar:air"], {}, "--from"),
        (["12=200bar:air"], ["10L=20bar:air"], {}, "--from"),
        (["12L=200bar:argon"], ["10L=20bar:air"], {}, "--from"),
        (["12L=200bar:air"], ["10L=20bar:nitrogen"], {}, "--into"),
        (["12L=200bar:air"], ["10L=20bar:air"], {"to": "10bar"}, "--to"),
        (["12L=200bar:air"], ["10L=20bar:air"], {"to": "fast"}, "--to"),
        (["12L=200bar:air"], ["10L=20bar:air"] * 2, {"to": "50bar"}, "--to"),
        (["12L=200bar:air"], ["10L=20bar:air"], {"temperature": "90C"}, "--temperature"),
        (["12L=200bar:air"], ["10L=20bar:air"], {"ambient": "9bar"}, "--ambient"),
    ],
)
def test_bad_input_names_its_option(sources, targets, more, field):
    with pytest.raises(InputError) as caught:
        answer(sources, targets, **more)
    assert caught.value.field == field


# ---- properties


@st.composite
def tanks(draw):
    o2, share = draw(st.floats(0, 100)), draw(st.floats(0, 100))
    bar, litres = draw(st.floats(0, 400)), draw(st.floats(0.2, 1000))
    return f"{litres:.3f}L={bar:.3f}bar:{o2:.3f}/{share * (1 - o2 / 100):.3f}"


@given(one=tanks(), two=tanks(), celsius=st.floats(-10, 50), to=st.none() | st.floats(0, 400))
@settings(max_examples=200, deadline=None)
def test_no_gas_is_lost_and_none_goes_back(one, two, celsius, to):
    options = {"temperature": f"{celsius:.3f}C"}
    options |= {} if to is None else {"to": f"{to:.3f}bar"}
    try:
        found = answer([one], [two], **options)
    except (InputError, NoFillError) as error:
        assert error.exit_code in (2, 3)
        json.dumps(getattr(error, "alternatives", []), allow_nan=False)
        return
    json.dumps(found, allow_nan=False)
    assert all(isinstance(row, str) for row in lines(found))
    (giver,), (taker,) = found["from"], found["into"]
    for part in ("o2", "he", None):
        before, after = (
            sum(x[when]["amount_mol"] * (x[when][part] if part else 1.0) for x in (giver, taker))
            for when in ("before", "after")
        )
        assert after == pytest.approx(before, rel=1e-7)
    assert found["moved_mol"] >= -1e-7 * before
    assert giver["after"]["o2"] == pytest.approx(giver["before"]["o2"], abs=1e-12)
    assert giver["after"]["pressure_bar"] >= taker["after"]["pressure_bar"] - 1e-3


@given(
    sources=st.lists(tanks() | st.text(max_size=8), max_size=3),
    targets=st.lists(tanks() | st.text(max_size=8), max_size=3),
)
@settings(max_examples=100, deadline=None)
def test_anything_typed_is_an_answer_or_a_told_reason(sources, targets):
    try:
        found = answer(sources, targets)
    except (InputError, NoFillError) as error:
        assert error.exit_code in (2, 3)
        json.dumps(getattr(error, "alternatives", []), allow_nan=False)
        return
    json.dumps(found, allow_nan=False)
