"""Continuous flow with helium injected, and with a filter tower allowed for.

Plans are carried out with an independent GERG-2008 (pyaga8, `tests/executor.py`); readings at
the intake are worked out from flows with the vapour pressure of CoolProp; the worked example is
this project's own, made with pyaga8.
"""

from __future__ import annotations

import random

import pytest
from CoolProp.CoolProp import PropsSI

from blender.errors import InputError, NoFillError
from blender.gas import AIR, HELIUM, OXYGEN, parse_gas
from blender.planning.intake import Intake, streams_of
from tests.executor import World, can_make, carry_out, check_drain, least_kept
from tests.parts import parts
from tui.commands import row, ways
from tui.commands.plan import answer, lines

FLOW = {
    "cylinder": "12L",
    "have": "45bar:air",
    "method": "continuous-flow",
    "rated_intake": "40%",
    "intake_air": "25C/60%",
    "delivery": "200L/min",
    "ambient": "1.01325bar",
}
TRIMIX = {**FLOW, "want": "220bar:21/20", "inject": "helium,oxygen"}
WANTED = 1000


def flows(plan):
    return [step for step in plan["steps"] if step["action"] == "flow"]


def point(percent):
    return pytest.approx(percent / 100.0, abs=1e-4)


def refused(**asked):
    with pytest.raises(NoFillError) as caught:
        answer(**asked)
    return caught.value


def codes(plan):
    return {warning["code"] for warning in plan["warnings"]}


# ---- the tower


def test_a_tower_of_air_goes_in_first_and_the_rest_is_richer():
    found = answer(**FLOW, want="220bar:EAN32", tower="3L@150bar:air")
    old, new = flows(found)
    assert (old["supply"], old["to_bar"]) == ("tower", pytest.approx(82.105, abs=0.05))
    assert old["amount_mol"] == pytest.approx(18.545, rel=1e-3)
    assert old["gas"]["o2"] == pytest.approx(0.20946)
    assert new["intake_o2"] == point(39.107)
    # Who leaves the oxygen closed until the tower is spent fills it with air once more.
    assert old["intake_o2"] == pytest.approx(new["intake_o2"], abs=1e-12)
    assert old["oxygen_l_min"] == pytest.approx(new["oxygen_l_min"])
    assert found["result"]["o2"] == point(32.0)
    assert "tower" in codes(found)
    assert "hold-up" not in codes(found)  # who purges as well gets too much
    assert found["request"]["tower"] == {
        "volume_l": 3.0, "pressure_bar": 150.0, "gas": AIR.as_dict(),
    }  # fmt: skip
    written = "\n".join(lines(found))
    assert "the filter tower's air goes in first; hold from the start" in written
    assert "never both" in written


def test_without_a_tower_nothing_is_said_of_one():
    found = answer(**FLOW, want="220bar:EAN32")
    assert not {"tower", "inject"} & set(found["request"])
    (flow,) = flows(found)
    assert set(flow) == {
        "action", "supply", "gas", "from_bar", "to_bar", "temperature_c", "amount_mol", "mass_g",
        "intake_o2", "intake_reading", "oxygen_l_min", "oxygen_mol", "minutes", "holds",
    }  # fmt: skip
    assert "hold-up" in codes(found)


def test_a_tower_above_the_rating_is_refused_with_what_helps():
    error = refused(**{**FLOW, "rated_intake": "38%"}, want="220bar:EAN32", tower="3L@150bar:air")
    assert error.code == "rated-intake"
    other = {one["kind"]: one for one in error.alternatives}
    (purged,) = (s for s in other["purge-tower"]["steps"] if s["action"] == "flow")
    assert purged["intake_o2"] == point(35.051)
    assert other["rated-intake"]["result"]["o2"] < 0.32
    assert other["drain"]["result"]["o2"] == point(32.0)
    assert other["drain"]["steps"][0]["action"] == "drain"
    assert other["partial-pressure"]["result"]["o2"] == point(32.0)


def test_partial_pressure_instead_asks_to_purge_a_tower_of_another_gas():
    changed = {**FLOW, "rated_intake": "30%", "want": "220bar:EAN36", "tower": "3L@150bar:EAN32"}
    error = refused(**changed)
    other = {one["kind"]: one["text"] for one in error.alternatives}
    assert other["partial-pressure"].startswith("purge the tower with air, then")


def test_a_tower_not_spent_by_the_end_is_no_reason_to_drain():
    asked = {**FLOW, "have": "200bar:EAN32", "want": "220bar:EAN32", "tower": "3L@200bar:EAN32"}
    found = answer(**asked)
    (step,) = flows(found)
    assert (step["supply"], step["to_bar"]) == ("tower", pytest.approx(220.0))
    assert not any(step["action"] == "drain" for step in found["steps"])
    carry_out(asked, found)


def test_a_tower_that_holds_more_than_goes_in_is_refused_or_drained_for():
    error = refused(
        **{**FLOW, "want": "20bar:EAN32", "have": "0bar:air", "tower": "30L@200bar:air"}
    )
    assert error.code in ("unreachable", "tower")
    assert "purge-tower" in {one["kind"] for one in error.alternatives} or "purge" in error.text


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"method": "partial-pressure"}, "--tower"),
        ({"method": "banked"}, "--tower"),
        ({"way": "top"}, "--tower"),
        ({"tower": "3L"}, "--tower"),
        ({"tower": "3L@150bar"}, "--tower"),
        ({"tower": "3@150bar:air"}, "--tower"),
        ({"tower": "3L@150:air"}, "--tower"),
        ({"tower": "3L@150bar@x:air"}, "--tower"),
        ({"tower": "3L@150bar:argon"}, "--tower"),
        ({"tower": "3L@150bar:" + "a" * 200}, "--tower"),
        ({"supply": ["tower=oxygen"]}, "--supply"),
        ({"inject": "oxygen,helium"}, "--inject"),
        ({"inject": "helium"}, "--inject"),
        ({"inject": ""}, "--inject"),
        ({"inject": "oxygen", "tower": None, "method": "mass"}, "--inject"),
        ({"inject": "helium,oxygen", "tower": None, "method": "banked"}, "--inject"),
    ],
)
def test_what_does_not_go_together_names_its_option(changes, field):
    asked = {**FLOW, "want": "220bar:EAN32", "tower": "3L@150bar:air", **changes}
    with pytest.raises(InputError) as caught:
        answer(**asked)
    assert caught.value.field == field


def test_rows_and_ways_refuse_a_tower():
    run = {"method": "continuous-flow", "rated_intake": "40%", "tower": "3L@150bar:air"}
    with pytest.raises(InputError, match="holds new gas"):
        row.answer(["12L 45bar:air 220bar:EAN32"] * 2, **run)
    with pytest.raises(InputError, match="--tower"):
        ways.answer("12L", "92bar:0.534/0", "230bar:EAN32", **run)


# ---- helium through the compressor


def test_helium_and_oxygen_injected_one_after_the_other():
    found = answer(**TRIMIX)
    (flow,) = flows(found)
    assert (found["result"]["o2"], found["result"]["he"]) == (point(21.0), point(20.0))
    assert not any(step["action"] == "add" for step in found["steps"])
    assert (flow["gas"]["o2"], flow["gas"]["he"]) == (flow["intake_o2"], flow["intake_he"])
    assert (flow["supply"], flow["helium_supply"]) == ("oxygen", "helium")
    assert {"helium-intake", "hypoxic-intake"} <= codes(found)
    assert found["request"]["inject"] == ["helium", "oxygen"]
    written = "\n".join(lines(found))
    assert f"{flow['reading_after_helium']:.2%}" in written
    assert "DO NOT BREATHE at the intake" in written
    carry_out(TRIMIX, found)


def _check_readings(asked, flow):
    """Work the readings out from the flows, as volumes a minute through the inlet."""
    celsius, _, humid = asked["intake_air"].partition("/")
    kelvin = float(celsius[:-1]) + 273.15
    vapour = PropsSI("P", "T", kelvin, "Q", 0, "Water") * float(humid.rstrip("%")) / 100.0
    dry = 1.0 - vapour / (float(asked["ambient"].removesuffix("bar")) * 1e5)
    helium, oxygen, whole = flow.get("helium_l_min", 0.0), flow["oxygen_l_min"], 200.0
    pure = 0.995 if "oxygen99.5" in str(asked.get("supply")) else 1.0

    def reads(helium, oxygen, air):
        return (air * dry * 0.20946 + oxygen * pure) / (helium + oxygen + air)

    air = whole - helium - oxygen
    close = {"abs": 3e-5}  # the vapour pressures of two tables
    assert flow["intake_reading"] == pytest.approx(reads(helium, oxygen, air), **close)
    if helium:
        assert flow["reading_after_helium"] == pytest.approx(reads(helium, 0.0, air), **close)
        before = reads(helium, 0.0, whole - helium)
        assert flow["reading_before_oxygen"] == pytest.approx(before, **close)
        more = whole - oxygen
        lost = (more * dry * 0.20946 + oxygen * pure) / (oxygen + more * dry)
        assert flow["intake_without_helium"] == pytest.approx(lost, **close)
        assert flow["intake_he"] == pytest.approx(helium / (helium + oxygen + air * dry), **close)
        assert flow["reading_after_helium"] <= flow["reading_before_oxygen"] + 1e-12


def test_lost_helium_beyond_the_rating_is_said():
    found = answer(**{**TRIMIX, "want": "220bar:30/40", "rated_intake": "36%"})
    (flow,) = flows(found)
    assert flow["intake_o2"] < 0.36 < flow["intake_without_helium"]
    (said,) = (w["text"] for w in found["warnings"] if w["code"] == "helium-intake")
    assert said.endswith("more than the compressor is rated for")


def test_rated_intake_is_the_dry_oxygen_of_all_that_is_delivered():
    asked = {**TRIMIX, "have": "0bar:air", "want": "220bar:36/20"}
    (flow,) = flows(answer(**{**asked, "rated_intake": "36.5%"}))
    limit = flow["intake_o2"]
    assert flow["intake_reading"] < limit
    between = 0.5 * (limit + flow["intake_reading"])
    error = refused(**{**asked, "rated_intake": f"{between * 100:.9f}%"})
    assert error.code == "rated-intake"
    best = next(one for one in error.alternatives if one["kind"] == "rated-intake")
    assert best["result"]["o2"] <= between
    assert max(s["intake_o2"] for s in best["steps"] if s["action"] == "flow") <= between + 1e-9
    assert "partial-pressure" in {one["kind"] for one in error.alternatives}


def test_no_helium_wanted_is_plain_continuous_flow():
    plain = answer(**FLOW, want="220bar:EAN32")
    asked = answer(**FLOW, want="220bar:EAN32", inject="helium,oxygen")
    assert asked["steps"] == plain["steps"]
    assert answer(**FLOW, want="220bar:EAN32", inject="oxygen")["steps"] == plain["steps"]


def test_finite_bottles_of_both_gases_change_where_they_run_out():
    supply = ["o1=oxygen@2barx50L", "o2=oxygen@200barx50L",
              "h1=helium@6barx50L", "h2=helium@200barx50L"]  # fmt: skip
    asked = {**TRIMIX, "supply": supply}
    found = answer(**asked)
    pairs = [(step["supply"], step["helium_supply"]) for step in flows(found)]
    assert pairs == [("o1", "h1"), ("o1", "h2"), ("o2", "h2")]
    carry_out(asked, found)
    intakes = [(step["intake_o2"], step["intake_he"]) for step in flows(found)]
    assert all(pair == pytest.approx(intakes[0], abs=1e-12) for pair in intakes)


def test_helium_bottles_too_small_are_told_with_what_helps():
    error = refused(**TRIMIX, supply=["o=oxygen", "h1=helium@5barx50L"])
    assert error.code == "bank"
    assert "helium" in error.text
    assert {"mix", "pressure", "fuller-bottle"} <= {one["kind"] for one in error.alternatives}


def test_bottles_of_helium_count_in_a_row():
    run = {"method": "continuous-flow", "rated_intake": "40%", "inject": "helium,oxygen"}
    supply = ["o=oxygen", "h=helium@25barx50L"]
    found = row.answer(["12L 45bar:air 220bar:21/20"] * 3, supply=supply, **run)
    assert len(found["fills"]) == 2
    (left,) = (s for s in found["supplies_after"] if s["name"] == "h")
    steps = found["fills"][-1]["plan"]["steps"]
    assert left["pressure_bar"] == pytest.approx(steps[0]["helium_supply_to_bar"])


def test_streams_of_a_mix():
    """By hand: 20 mol He, and oxygen o with o + 0.20946 (80 - o) = 21."""
    found = streams_of(Intake(AIR, OXYGEN, HELIUM, 0.4), 0.21, 0.20, 100.0)
    oxygen = (21.0 - 80.0 * 0.20946) / (1.0 - 0.20946)
    assert found.helium_mol == pytest.approx(20.0)
    assert found.oxygen_mol == pytest.approx(oxygen)
    assert found.top_mol == pytest.approx(80.0 - oxygen)
    assert streams_of(Intake(AIR, OXYGEN, None, 0.4), 0.21, 0.20, 1.0) is None
    assert streams_of(Intake(AIR, OXYGEN, HELIUM, 0.4), 0.10, 0.20, 1.0) is None
    assert streams_of(Intake(AIR, AIR, None, 0.4), 0.30, 0.0, 1.0) is None
    assert streams_of(Intake(AIR, HELIUM, HELIUM, 0.4), 0.10, 0.20, 1.0) is None
    weak = parse_gas("oxygen98")
    assert streams_of(Intake(AIR, weak, None, 0.4), 0.34, 0.0, 1.0).delivered_o2 == point(34.0)


# ---- a thousand random requests of each, carried out with pyaga8


def _request(rng, kind):
    asked = {
        "cylinder": rng.choice(["12L", "7L", "2x12L", "80cuft@3000psi", "10L"]),
        "method": "continuous-flow",
        "rated_intake": rng.choice(["40%", "40%", "36%"]),
        "settle_at": rng.choice(["20C", "15C", f"{rng.uniform(0, 35):.1f}C"]),
        "ambient": f"{rng.choice([1.01325, rng.uniform(0.7, 1.05)]):.5f}bar",
        "have": f"{rng.choice([0.0, rng.uniform(0, 60), rng.uniform(0, 200)]):.2f}bar:"
        + rng.choice(["air", "EAN28", "EAN36", "21/35", "18/45"] if kind != "tower" else
                     ["air", "EAN28", "EAN32", f"EAN{rng.uniform(21, 50):.1f}"]),
    }  # fmt: skip
    if rng.random() < 0.6:
        asked["temperature"] = f"{rng.uniform(0, 45):.1f}C"
    if rng.random() < 0.7:
        asked["intake_air"] = f"{rng.uniform(5, 35):.0f}C/{rng.randint(20, 90)}%"
        asked["delivery"] = "200L/min"
    mix = f"EAN{rng.uniform(22, 38):.1f}"
    if kind != "tower":
        asked["inject"] = "helium,oxygen"
        mix = f"{rng.uniform(12, 32):.1f}/{rng.uniform(3, 50):.1f}"
    elif rng.random() < 0.2:  # helium by partial pressure, then the tower, then the flow
        mix = f"{rng.uniform(15, 30):.1f}/{rng.uniform(10, 40):.1f}"
    asked["want"] = f"{rng.uniform(120, 300):.2f}bar:{mix}"
    oxygen = rng.choice(["oxygen", "oxygen99.5"])
    if rng.random() < 0.5:
        asked["supply"] = [f"o1={oxygen}@{rng.uniform(1, 40):.1f}barx50L", f"o2={oxygen}"]
        asked["supply"] += [f"h1=helium@{rng.uniform(1, 60):.1f}barx50L", "h2=helium"]
    if kind == "tower" or rng.random() < 0.2:
        gas = rng.choice(["air", "EAN32", f"EAN{rng.uniform(22, 40):.1f}"])
        at = rng.choice(["", f"@{rng.uniform(5, 40):.1f}C"])
        asked["tower"] = f"{rng.uniform(0.3, 5.0):.2f}L@{rng.uniform(20, 250):.1f}bar{at}:{gas}"
    return asked


def _check_refusal(asked, error):
    world = World(asked)
    o2, he = world.want_gas[:2]
    if error.code == "bank":  # helium by partial pressure from a low bottle
        assert "helium" in error.text
        return
    assert error.code in ("unreachable", "rated-intake", "tower")
    free = World({key: value for key, value in asked.items() if key != "rated_intake"})
    assert not can_make(world, 1.0, o2, he), "refused, yet it can be made"
    if error.code == "rated-intake" and can_make(free, 1.0, o2, he):
        return  # only the rating would force a drain
    least = least_kept(world)
    for part in range(21):
        kept = least + (1.0 - least) * part / 20.0
        assert not can_make(world, kept, o2, he), "refused, yet it can be made"


@pytest.mark.parametrize("part", parts(2))
@pytest.mark.parametrize("kind", ["trimix", "tower"])
def test_random_runs_land_where_asked(kind, part):
    rng = random.Random(f"{kind}{part}")
    planned = refused = several = drained = helium = both = 0
    while planned < WANTED // 2:
        asked = _request(rng, kind)
        try:
            plan = answer(**asked)
        except NoFillError as error:
            refused += 1
            try:
                _check_refusal(asked, error)
            except AssertionError as wrong:
                raise AssertionError(f"{asked}: {wrong}") from wrong
            continue
        try:
            carry_out(asked, plan)
            if "tower" not in asked:
                drained += check_drain(World(asked), plan)
            for step in flows(plan):
                helium += "intake_he" in step
                both += "intake_he" in step and step["supply"] == "tower"
                if "delivery" in asked:
                    _check_readings(asked, step)
        except AssertionError as wrong:
            raise AssertionError(f"{asked}: {wrong}") from wrong
        several += len(flows(plan)) > 1
        planned += 1
    assert several > 50
    assert refused < planned
    if kind == "trimix":
        assert helium > 400
        assert both > 50
        assert drained > 5
