"""Blending by mass: carried out on an independent scale, with independent molar masses."""

from __future__ import annotations

import json
import math
import random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from blender.errors import InputError, NoFillError
from blender.gas import Mix, parse_gas
from blender.planning.mass import molar_mass_g_mol, parse_scale
from tests.executor import World, _plus, _times, carry_out
from tests.parts import parts
from tests.planning.test_random_requests import _WANTS, _pressure, _residual
from tui.commands.plan import answer, lines
from tui.commands.whatif import answer as whatif

WANTED = 1000
PLAIN = {"cylinder": "12L", "have": "60bar@20C:EAN28", "want": "230bar:EAN32", "method": "mass"}
# Standard atomic weights of IUPAC 2021, abridged (from memory): O2, He, N2, Ar [g/mol].
MOLAR = (31.998, 4.0026, 28.014, 39.95)


def weight(moles):
    return sum(n * m for n, m in zip(moles, MOLAR, strict=True))


def moved(plan):
    return [step for step in plan["steps"] if "scale_g" in step]


def by_scale(world, plan, readings=None):
    """Do every step by the scale alone: it shows what the cylinder gained since the start."""
    start, shown = weight(world.moles), iter(readings or [])

    def reading(step, key="scale_g"):
        return next(shown, step[key]) if readings else step[key]

    for step in moved(plan):
        if step["action"] == "drain":
            to = reading(step)
            world.moles = _times(world.moles, (start + to) / weight(world.moles))
            continue
        if "whip_gas" in step:
            world.moles = _plus(world.moles, tuple(step["whip_gas"].values()), step["whip_gas_mol"])
        gas = world.bottles[step["supply"]].gas
        gain = start + reading(step) - weight(world.moles)
        world.moles = _plus(world.moles, gas, gain / weight(gas))
        if step["action"] == "purge":
            to = reading(step, "scale_vented_g")
            world.moles = _times(world.moles, (start + to) / weight(world.moles))
    total = sum(world.moles)
    return world.moles[0] / total, world.moles[1] / total


def test_mass_fraction_of_oxygen_in_ean32():
    """0.34960 of O2 in 32 % O2 in N2: ISO 14912's definition, computed (D, checks.md).

    With atomic weights of IUPAC 2021 it is 0.349599; ours are those of GERG-2008.
    """
    gas = Mix(0.32, 0.0, 0.68, 0.0)
    assert 0.32 * MOLAR[0] / (0.32 * MOLAR[0] + 0.68 * MOLAR[2]) == pytest.approx(0.34960, abs=5e-6)
    oxygen_g = 0.32 * molar_mass_g_mol(parse_gas("oxygen"))
    assert oxygen_g / molar_mass_g_mol(gas) == pytest.approx(0.34960, abs=2e-5)


def test_the_plain_repeat_fill():
    """S1 (scenarios.md): 405.235 g of oxygen to 84.425 bar, 66.869 mol of air to 230."""
    plan = answer(**PLAIN)
    oxygen, air = moved(plan)
    assert oxygen["mass_g"] == pytest.approx(405.235, rel=1e-3)
    assert oxygen["scale_g"] == pytest.approx(oxygen["mass_g"], rel=1e-12)
    assert oxygen["to_bar"] == pytest.approx(84.425, abs=0.05)
    assert air["scale_g"] == pytest.approx(405.235 + 66.869 * 28.9656, rel=1e-3)
    assert "scale" not in plan
    assert any(w["code"] == "by-mass" and "--scale" in w["text"] for w in plan["warnings"])


def test_the_scale_shows_whole_steps():
    plan = answer(**PLAIN, scale="5g")
    assert [step["scale_g"] for step in moved(plan)] == [405.0, 2340.0]
    assert plan["request"]["scale_g"] == 5.0
    told = "\n".join(lines(plan))
    assert "until the scale shows 405 g" in told
    assert "cross-check" in told


def test_a_drain_is_weighed_too():
    """S3 (scenarios.md): 32.833 mol of EAN40 go out, 40.926 mol of air in."""
    plan = answer(**{**PLAIN, "have": "180bar:EAN40", "want": "200bar:EAN32"})
    drain, air = moved(plan)
    ean40 = weight((0.4, 0.0, 0.6 * 0.98819, 0.6 * 0.01181))
    assert drain["scale_g"] == pytest.approx(-32.833 * ean40, rel=1e-3)
    assert air["scale_g"] - drain["scale_g"] == pytest.approx(40.926 * 28.9656, rel=1e-3)
    assert "the scale's reading stays" in "\n".join(lines(plan))


def test_purges_are_weighed_in_and_out():
    """S6: 0.000 bar of air, oxygen99.5, one purge to 10 bar, 150 bar: 99.455 %."""
    asked = {"cylinder": "7L", "have": "0bar:air", "want": "150bar:oxygen", "method": "mass",
             "supply": ["o1=oxygen99.5"], "oxygen_minimum": "99.4%"}  # fmt: skip
    plan = answer(**asked)
    purge = moved(plan)[0]
    assert purge["action"] == "purge"
    assert 0.0 < purge["scale_vented_g"] < 2.0 < purge["scale_g"]
    o2, _ = by_scale(World(asked), plan)
    assert o2 == pytest.approx(0.99455, abs=1e-4)
    assert "scale" in "\n".join(lines(plan)[1:2])


# ---- random requests, carried out by the scale


def _request(rng):
    kind = rng.choice(["nitrox"] * 3 + ["trimix"] * 3 + ["heliox", "oxygen", "bank", "bank"])
    asked = {
        "method": "mass",
        "cylinder": rng.choice(["12L", "7L", "2x12L", "80cuft@3000psi", "10L", "0.5L"]),
        "settle_at": rng.choice(["20C", "15C", "70F", f"{rng.uniform(0, 35):.1f}C"]),
        "ambient": f"{rng.choice([1.01325, rng.uniform(0.7, 1.05)]):.5f}bar",
    }
    bar = rng.choice([0.0, rng.uniform(0, 60), rng.uniform(0, 230)])
    read_at = rng.choice(["", f"@{rng.uniform(-5, 45):.1f}C"])
    asked["have"] = f"{_pressure(rng, bar)}{read_at}:{_residual(rng, kind)}"
    if rng.random() < 0.6:
        asked["temperature"] = f"{rng.uniform(0, 45):.1f}C"
    if asked["cylinder"] != "0.5L" and rng.random() < 0.2:
        asked["whip"] = f"{rng.uniform(0.05, 0.3):.2f}L"
    _WANTS[kind](rng, asked)
    return asked


@pytest.mark.parametrize("part", parts(4))
def test_random_fills_by_mass_land_where_asked(part):
    rng = random.Random(4200 + part)
    planned = drained = purged = 0
    while planned < WANTED // 4:
        asked = _request(rng)
        try:
            plan = answer(**asked)
        except NoFillError:
            continue
        world = World(asked)
        try:
            o2, he = by_scale(world, plan)
            off = any(w["code"] == "off-target" for w in plan["warnings"])
            want = plan["result"] if off or "oxygen" in asked["want"] else plan["request"]["want"]
            want = want.get("gas", want)
            assert o2 == pytest.approx(want["o2"], abs=1e-4)
            assert he == pytest.approx(want["he"], abs=1e-4)
            assert world.gauge(world.settle) == pytest.approx(world.want_bar, abs=0.05)
            if planned % 5 == 0:
                carry_out(asked, plan)  # the cross-check: by the gauge it is the same fill
        except AssertionError as error:
            raise AssertionError(f"{asked}: {error}") from error
        actions = [step["action"] for step in plan["steps"]]
        drained += "drain" in actions
        purged += "purge" in actions
        planned += 1
    assert drained > 20
    assert purged > 0


# ---- temperature, conservation, order


@given(
    o2=st.floats(22.0, 60.0),
    he=st.sampled_from([0.0, 0.0, 25.0]),
    bar=st.floats(100.0, 280.0),
    have=st.floats(0.0, 200.0),
    one=st.floats(5.0, 50.0),
    other=st.floats(5.0, 50.0),
)
@settings(max_examples=50, deadline=None)
def test_no_temperature_changes_what_is_weighed(o2, he, bar, have, one, other):
    def planned(celsius):
        asked = {**PLAIN, "have": f"{have:.4f}bar@20C:EAN30", "temperature": f"{celsius:.4f}C"}
        try:
            return answer(**{**asked, "want": f"{bar:.4f}bar:{o2:.4f}/{he}"})
        except (NoFillError, InputError):
            assume(False)

    cold, warm = planned(one), planned(other)
    assume(not any(w["code"] == "off-target" for w in (*cold["warnings"], *warm["warnings"])))
    assert len(cold["steps"]) == len(warm["steps"])
    for here, there in zip(moved(cold), moved(warm), strict=True):
        assert here["scale_g"] == pytest.approx(there["scale_g"], rel=1e-9, abs=1e-6)
        assert here["mass_g"] == pytest.approx(there["mass_g"], rel=1e-9, abs=1e-6)


@given(st.floats(30.0, 80.0), st.floats(0.001, 15.0), st.floats(120.0, 280.0))
@settings(max_examples=40, deadline=None)
def test_more_oxygen_asked_never_lowers_its_mass(low, more, bar):
    def oxygen_g(percent):
        plan = answer(**{**PLAIN, "want": f"{bar:.5f}bar:EAN{percent:.6f}"})
        return sum(step["mass_g"] for step in moved(plan) if step.get("supply") == "oxygen")

    assert oxygen_g(low + more) >= oxygen_g(low) - 1e-7


@given(st.floats(12.0, 60.0), st.floats(2.0, 38.0), st.floats(120.0, 280.0), st.floats(0.01, 200.0))
@settings(max_examples=40, deadline=None)
def test_what_the_scale_gained_is_what_went_in(o2, he, bar, step_g):
    try:
        plan = answer(**{**PLAIN, "want": f"{bar:.4f}bar:{o2:.4f}/{he:.4f}"},
                      scale=f"{step_g:.3f}g")  # fmt: skip
    except NoFillError:
        assume(False)
    step_g = plan["request"]["scale_g"]
    gained = 0.0
    for step in moved(plan):
        gained += -step["mass_g"] if step["action"] == "drain" else step["mass_g"]
        assert step["scale_g"] == pytest.approx(gained, abs=0.5 * step_g + 1e-6)
        assert step["scale_g"] / step_g == pytest.approx(round(step["scale_g"] / step_g), abs=1e-6)


# ---- what the steps of the scale cost


@pytest.mark.parametrize(
    "asked",
    [
        {**PLAIN, "scale": "20g"},
        {**PLAIN, "want": "220bar:18/45", "have": "40bar:21/35", "scale": "10g"},
        {**PLAIN, "have": "180bar:EAN40", "want": "200bar:EAN32", "scale": "50g"},
    ],
)
def test_the_cost_told_is_what_random_roundings_do(asked):
    """Rectangular, +-d/2 at zero and at every reading (JCGM 101's way of propagating)."""
    plan, rng = answer(**asked), random.Random(5)
    step_g, exact = plan["scale"]["resolution_g"], answer(**{**asked, "scale": "0.001g"})
    readings = [step["scale_g"] for step in moved(exact)]
    o2, he = [], []
    for _ in range(3000):
        zero = rng.uniform(-0.5, 0.5) * step_g
        off = [g + rng.uniform(-0.5, 0.5) * step_g - zero for g in readings]
        got = by_scale(World(asked) if not o2 else _again(asked), exact, off)
        o2.append(got[0])
        he.append(got[1])
    assert plan["scale"]["o2_uncertainty"] == pytest.approx(2.0 * _spread(o2), rel=0.06)
    assert plan["scale"]["he_uncertainty"] == pytest.approx(2.0 * _spread(he), rel=0.06, abs=1e-12)
    there = by_scale(World(asked), plan)
    assert plan["scale"]["o2"] == pytest.approx(there[0], abs=2e-5)
    assert plan["scale"]["he"] == pytest.approx(there[1], abs=2e-5)


_KEPT: dict[str, World] = {}


def _again(asked):
    key = json.dumps(asked)
    world = _KEPT.setdefault(key, World(asked))
    world.moles = world.residual
    return world


def _spread(values):
    mean = sum(values) / len(values)
    return math.sqrt(sum((v - mean) ** 2 for v in values) / (len(values) - 1))


def test_zero_and_one_reading_are_029_of_a_step_each():
    """JCGM 100 F.2.2.1: a display of step d has u = 0.29 d (from memory).

    Topped with air alone: x = n(O2)/n, so dx/dm = (air's O2 - x) / (n M(air)).
    """
    topped = whatif(cylinder="12L", have="100bar:EAN32", top=["air"], to=["200bar"])
    o2 = topped["tops"][0]["result"]["o2"]
    asked = {**PLAIN, "have": "100bar:EAN32", "want": f"200bar:{o2:.15f}/0", "scale": "1g"}
    plan = answer(**asked)
    (step,) = moved(plan)
    total = sum(World(asked).residual) + step["amount_mol"]
    slope = abs(0.20946 - o2) / total / 28.9656
    told = plan["scale"]["o2_uncertainty"]
    assert told == pytest.approx(2.0 * 0.29 * math.sqrt(2.0) * slope, rel=0.01)


def test_a_coarse_scale_is_told():
    codes = [w["code"] for w in answer(**PLAIN, scale="50g")["warnings"]]
    assert "scale-coarse" in codes
    fine = answer(**PLAIN, scale="5g")
    assert "scale-coarse" not in [w["code"] for w in fine["warnings"]]
    text = next(w["text"] for w in fine["warnings"] if w["code"] == "by-mass")
    assert f"{fine['scale']['o2_uncertainty'] * 100:.2f} points O2" in text
    small = answer(**{**PLAIN, "cylinder": "0.5L"}, scale="5g")
    assert "scale-coarse" in [w["code"] for w in small["warnings"]]


# ---- what is typed


@pytest.mark.parametrize(
    "text", ["", "5", "5 bar", "-5g", "0g", "1e3g", "6kg", "nan g", "1,234g", "g", "5gg", "٥g"]
)
def test_a_scale_that_cannot_be_read(text):
    with pytest.raises(InputError) as caught:
        answer(**PLAIN, scale=text)
    assert caught.value.field == "--scale"


def test_scales_in_other_units():
    """1 lb = 453.59237 g exactly (NIST SP 811, appendix B)."""
    assert parse_scale("0.01lb") == pytest.approx(4.5359237)
    assert parse_scale("0,05 kg") == 50.0


@given(
    have=st.tuples(st.floats(0, 300), st.floats(0, 100), st.floats(0, 100)),
    want=st.tuples(st.floats(0, 300), st.floats(0, 100), st.floats(0, 100)),
    size=st.sampled_from(["0.2L", "12L", "1000L"]),
    scale=st.one_of(st.none(), st.floats(0.0001, 6000).map(lambda g: f"{g:.4f}g"),
                    st.text(max_size=6)),
    method=st.sampled_from(["mass", "mass", "banked"]),
    line=st.one_of(st.none(), st.text(max_size=5), st.sampled_from(["40%", "0%", "100%"])),
    way=st.sampled_from([None, None, "top", "bleed"]),
)  # fmt: skip
@settings(max_examples=200, deadline=None)
def test_anything_is_an_answer_or_a_told_reason(have, want, size, scale, method, line, way):
    def gas(numbers):
        return f"{numbers[1]:.3f}/{numbers[2] * (1 - numbers[1] / 100):.3f}"

    typed = {"scale": scale, "oxygen_line": line, "way": way}
    given_ = {key: value for key, value in typed.items() if value is not None}
    try:
        plan = answer(cylinder=size, have=f"{have[0]:.3f}bar:{gas(have)}",
                      want=f"{want[0]:.3f}bar:{gas(want)}", method=method, **given_)  # fmt: skip
    except (InputError, NoFillError) as error:
        assert error.exit_code in (2, 3)
        json.dumps(getattr(error, "alternatives", []), allow_nan=False)
        return
    json.dumps(plan, allow_nan=False)
    assert all(isinstance(row, str) for row in lines(plan))
    if method == "mass":
        active = [s for s in plan["steps"] if s["action"] in ("add", "drain", "purge")]
        assert all("scale_g" in step for step in active)
