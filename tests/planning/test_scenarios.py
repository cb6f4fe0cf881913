"""Fills worked for this project with an independent GERG-2008 implementation (pyaga8).

Moles conserved step by step; stops and pressures within 0.05 bar, fractions within 0.01
points, amounts within 0.1 %.
"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from blender.errors import InputError, NoFillError
from blender.gas import AIR, mix, parse_gas
from blender.planning import PlanRequest, parse_gas_at, parse_want, plan
from blender.planning.hold_up import after_hold_up
from blender.planning.ways import one_way, ways
from blender.units import bar_to_psi
from blender.vessel import Contents, added_to_reach, contents_at, root
from tui.commands.plan import answer

BAR, POINT, MOL = 0.05, 1e-4, 1e-3


def bar(value):
    return pytest.approx(value, abs=BAR)


def point(percent):
    return pytest.approx(percent / 100.0, abs=POINT)


def mol(value):
    return pytest.approx(value, rel=MOL)


def done(asked, action):
    return [step for step in asked["steps"] if step["action"] == action]


def adds(asked):
    return done(asked, "add")


def refused(**asked):
    with pytest.raises(NoFillError) as caught:
        answer(**asked)
    return caught.value


def kinds(error):
    return {other["kind"]: other for other in error.alternatives}


# ---- plain repeat fill


def test_repeat_fill():
    found = answer("12L", "60bar@20C:EAN28", "230bar:EAN32")
    oxygen, air = adds(found)
    assert oxygen["amount_mol"] == mol(12.664)
    assert oxygen["mass_g"] == mol(405.235)
    assert oxygen["to_bar"] == bar(84.425)
    assert air["amount_mol"] == mol(66.869)
    assert air["to_bar"] == bar(230.0)
    assert found["result"]["o2"] == pytest.approx(0.32, abs=1e-9)
    # A class 1.0 gauge of 250 bar alone puts it 0.92 points off either way (S1, by pyaga8).
    assert 0.0092 * 2.0 / 3.0**0.5 < found["result"]["o2_uncertainty"] < 0.02


def test_repeat_fill_with_impure_oxygen():
    found = answer("12L", "60bar:EAN28", "230bar:EAN32", supply=["o1=oxygen99.5"])
    assert adds(found)[0]["to_bar"] == bar(84.582)


def test_hot_cylinder_each_stop_at_its_own_temperature():
    found = answer("12L", "60bar@33C:EAN28", "230bar:EAN32", temperature="30C,41C", limit="232bar")
    oxygen, air = adds(found)
    assert (oxygen["amount_mol"], oxygen["to_bar"]) == (mol(12.796), bar(85.163))
    assert (air["amount_mol"], air["to_bar"]) == (mol(68.219), bar(254.667))
    assert found["result"]["pressure_bar"] == pytest.approx(230.0, abs=1e-6)
    assert [w["code"] for w in found["warnings"]][:1] == ["hot-stop"]


def test_too_rich_is_drained_no_further_than_needed():
    found = answer("12L", "180bar:EAN40", "200bar:EAN32")
    drain, rest, air = found["steps"][:3]
    assert (drain["action"], rest["action"], air["action"]) == ("drain", "rest", "add")
    assert drain["to_bar"] == bar(111.462)
    assert drain["amount_mol"] == mol(32.833)
    assert (air["amount_mol"], air["to_bar"]) == (mol(40.926), bar(200.0))


def test_topping_too_rich_gas_without_a_drain():
    request = PlanRequest(0.012, parse_gas_at("180bar:EAN40", "have"), parse_want("200bar:EAN32"))
    assert one_way(request, "top").result.o2 == point(38.298)


def test_rebound_after_a_quick_bleed():
    """The gas at -18.238 degC shows 111.462 bar; warm again 135.282; topped from there 34.259 %."""
    held = contents_at(parse_gas("EAN40"), 111.462, -18.238, 0.012)
    assert held.gauge_bar(20.0) == bar(135.282)
    topped = held.with_gas(AIR, added_to_reach(held, AIR, 200.0, 20.0))
    assert topped.mix.o2 == point(34.259)


# ---- trimix in a set


TRIMIX = {
    "cylinder": "2x12L",
    "have": "40bar:21/35",
    "want": "220bar:18/45",
    "supply": ["o1=oxygen99.5", "he=helium"],
}


def test_trimix_helium_first():
    found = answer(**TRIMIX)
    helium, oxygen, air = adds(found)
    assert (helium["to_bar"], helium["amount_mol"]) == (bar(121.894), mol(73.043))
    assert (oxygen["to_bar"], oxygen["amount_mol"]) == (bar(136.142), mol(12.200))
    assert (air["to_bar"], air["amount_mol"]) == (bar(220.0), mol(68.226))
    assert helium["holds"] == {"o2": point(7.409), "he": point(77.067)}
    assert oxygen["holds"] == {"o2": point(16.393), "he": point(69.549)}
    assert air["holds"] == {"o2": point(18.0), "he": point(45.0)}
    codes = {w["code"] for w in found["warnings"]}
    assert {"hypoxic-step", "helium-pairs"} <= codes


def test_trimix_oxygen_first():
    found = answer(**TRIMIX, order="oxygen,helium,top")
    assert [step["to_bar"] for step in adds(found)] == [bar(52.430), bar(136.142), bar(220.0)]
    assert adds(found)[0]["holds"] == {"o2": point(39.411), "he": point(26.791)}


def test_trimix_planned_again_after_the_isolator_was_opened():
    both = "86.823bar:0.17506/0.61205"
    found = answer(**{**TRIMIX, "have": both})
    helium, oxygen, air = adds(found)
    assert (helium["to_bar"], helium["amount_mol"]) == (bar(129.016), mol(36.522))
    assert (oxygen["to_bar"], oxygen["amount_mol"]) == (
        bar(136.142),
        pytest.approx(6.100, rel=2e-3),  # the state above is rounded to 0.001 points
    )
    assert (air["to_bar"], air["amount_mol"]) == (bar(220.0), mol(68.226))


# ---- continuous flow

FLOW = {
    "cylinder": "12L",
    "have": "45bar:air",
    "method": "continuous-flow",
    "rated_intake": "40%",
    "intake_air": "25C/60%",
    "delivery": "200L/min",
    "ambient": "760mmHg",
}


def test_flow_to_32():
    found = answer(want="220bar:EAN32", **FLOW)
    (flow,) = done(found, "flow")
    assert flow["intake_o2"] == point(35.051)
    assert flow["intake_reading"] == point(34.509)
    assert flow["oxygen_l_min"] == mol(35.132)
    assert flow["minutes"] == mol(10.32)
    assert flow["amount_mol"] == mol(83.022)
    assert flow["gas"]["o2"] == flow["intake_o2"]


def test_flow_to_36_needs_more_than_rated_although_the_damp_reading_is_below():
    found = answer(want="220bar:EAN36", **{**FLOW, "rated_intake": "41%"})
    (flow,) = done(found, "flow")
    assert flow["intake_o2"] == point(40.130)
    assert flow["intake_reading"] == point(39.557)
    assert flow["oxygen_l_min"] == mol(47.840)
    assert flow["amount_mol"] == mol(83.526)

    error = refused(want="220bar:EAN36", **FLOW)
    assert error.code == "rated-intake"
    other = kinds(error)
    assert other["rated-intake"]["result"]["o2"] == point(35.898)
    assert other["drain"]["steps"][0]["to_bar"] == bar(43.866)
    assert other["drain"]["result"]["o2"] == point(36.0)
    assert other["partial-pressure"]["result"]["o2"] == point(36.0)


def test_flow_without_a_rating_is_bad_input():
    with pytest.raises(InputError, match="rated-intake"):
        answer(want="220bar:EAN32", **{**FLOW, "rated_intake": None})


def _flowed(stop, o2):
    start = contents_at(AIR, 45.0, 20.0, 0.012)
    return start.with_gas(mix(o2), added_to_reach(start, mix(o2), stop, 20.0))


def _from(contents: Contents, stop, **changes):
    have = f"{stop}bar:{contents.mix.o2:.12f}/0.0"
    return {**FLOW, "have": have, "want": "220bar:EAN32", **changes}


def test_flow_tripped_at_150_bar():
    now = _flowed(150.0, 0.34)
    assert now.mix.o2 == point(29.998)
    (flow,) = done(answer(**_from(now, 150.0)), "flow")
    assert flow["intake_o2"] == point(36.797)
    assert flow["intake_reading"] == point(36.243)
    with_air = now.with_gas(AIR, added_to_reach(now, AIR, 220.0, 20.0))
    assert with_air.mix.o2 == point(27.368)


def test_flow_tripped_at_190_bar_cannot_be_saved():
    now = _flowed(190.0, 0.33)
    assert now.mix.o2 == point(30.028)
    error = refused(**_from(now, 190.0))
    assert "46.08" in error.text
    assert kinds(error)["rated-intake"]["result"]["o2"] == point(31.245)


def test_filter_tower_full_of_air():
    start = contents_at(AIR, 45.0, 20.0, 0.012)
    tower = contents_at(AIR, 150.0, 20.0, 0.003)
    spent = after_hold_up(start, tower)
    assert spent.gauge_bar(20.0) == bar(82.105)
    # The figure is for the amount of the undisturbed plan, 83.022 mol in all; the leaner gas
    # then shows 220.75 bar.  Stopped at 220.000 bar it is 29.515 %.
    end = spent.with_gas(mix(0.35051), 83.022 - tower.total_mol)
    assert end.mix.o2 == point(29.531)
    assert end.gauge_bar(20.0) == bar(220.75)
    (flow,) = done(answer(**_from(spent, spent.gauge_bar(20.0))), "flow")
    assert flow["intake_o2"] == point(39.107)


# ---- oxygen

OXYGEN = {"cylinder": "7L", "have": "0bar:air"}


def test_exactly_pure_oxygen_is_out_of_reach():
    error = refused(**OXYGEN, want="150bar:1.0/0", supply=["o1=oxygen99.5"])
    assert error.code == "unreachable"
    assert kinds(error)["nearest"]["result"]["o2"] == point(99.006)
    assert kinds(error)["nearest"]["steps"][0]["amount_mol"] == mol(45.988)
    purged = [other for other in error.alternatives if other["kind"] == "purge"]
    assert [other["result"]["o2"] for other in purged] == [
        point(99.455),
        point(99.496),
        point(99.500),
    ]


@pytest.mark.parametrize(
    ("minimum", "purges", "o2", "empty"),
    [
        ("99%", 0, 99.006, None),
        ("99.4%", 1, 99.455, 92.323),
        ("99.49%", 2, 99.496, 98.844),
        ("99.498%", 3, 99.500, 99.440),
    ],
)
def test_oxygen_as_few_purges_as_needed(minimum, purges, o2, empty):
    asked = {**OXYGEN, "want": "150bar:oxygen", "supply": ["o1=oxygen99.5"]}
    found = answer(**asked, oxygen_minimum=minimum)
    steps = done(found, "purge")
    assert len(steps) == purges
    assert found["result"]["o2"] == point(o2)
    if steps:
        assert steps[-1]["holds"]["o2"] == point(empty)
        assert (steps[-1]["from_bar"], steps[-1]["to_bar"]) == (bar(0.0), bar(10.0))


def test_oxygen_from_a_full_bank():
    found = answer(**OXYGEN, want="150bar:oxygen", supply=["b1=oxygen99.5@180barx50L"])
    (oxygen,) = adds(found)
    assert oxygen["supply_to_bar"] == bar(158.917)
    assert oxygen["to_bar"] == bar(150.0)


def test_oxygen_from_a_bank_that_equalises():
    error = refused(**OXYGEN, want="150bar:oxygen", supply=["b1=oxygen99.5@140barx50L"])
    assert error.code == "bank"
    result = kinds(error)["pressure"]["result"]
    assert result["pressure_bar"] == bar(123.176)
    assert result["o2"] == point(98.897)


# ---- cascade

STAGE = {"cylinder": "11.1L", "have": "30bar:EAN50", "want": "200bar:EAN50"}


def _bottles(*pressures, gas="oxygen99.5"):
    return [f"b{i}={gas}@{p}barx50L" for i, p in enumerate(pressures, start=1)]


def test_cascade_low_bottle_first():
    found = answer(**STAGE, supply=_bottles(190, 60, 110))
    first, second, air = adds(found)
    assert (first["supply"], second["supply"]) == ("b2", "b3")
    assert (first["supply_to_bar"], first["amount_mol"]) == (bar(54.647), mol(11.735))
    assert (second["supply_to_bar"], second["amount_mol"]) == (bar(102.421), mol(16.994))
    assert (first["to_bar"], second["to_bar"]) == (bar(54.647), bar(89.536))
    assert (air["amount_mol"], air["to_bar"]) == (mol(48.947), bar(200.0))


def test_the_high_bottle_alone():
    found = answer(**STAGE, supply=_bottles(190))
    assert adds(found)[0]["supply_to_bar"] == bar(176.631)
    assert adds(found)[0]["to_bar"] == bar(89.536)


def test_bank_too_weak_offers_both_ways():
    error = refused(**STAGE, supply=_bottles(40, 70, 80))
    assert error.code == "bank"
    other = kinds(error)
    assert other["mix"]["result"]["pressure_bar"] == bar(200.0)
    assert 0.44 < other["mix"]["result"]["o2"] < 0.46
    assert other["pressure"]["result"]["o2"] == point(50.0)
    assert 150.0 < other["pressure"]["result"]["pressure_bar"] < 200.0
    # at both ends the last bottle has come down to the cylinder
    for way in (other["mix"], other["pressure"]):
        last = [s for s in way["steps"] if "supply_to_bar" in s][-1]
        assert last["supply_to_bar"] == pytest.approx(last["to_bar"], abs=1e-3)


def test_boat_trip_from_one_bank():
    """Four 12-L cylinders from 50 to 200 bar, three 50-L banks of EAN32."""
    standing = [200.0, 230.0, 260.0]
    expected = [
        (168.683, 221.819, 260.000),
        (144.586, 207.399, 260.000),
        (125.721, 190.665, 257.423),
        (110.788, 174.421, 250.336),
    ]
    for after in expected:
        supply = [f"b{i}=EAN32@{p:.9f}barx50L" for i, p in enumerate(standing)]
        found = answer("12L", "50bar:EAN32", "200bar:EAN32", supply=supply)
        for step in adds(found):
            standing[int(step["supply"][1:])] = step["supply_to_bar"]
        assert standing == [bar(value) for value in after]


# ---- overshoot


OVERSHOT = "92.000bar:0.53397/0.0"


def test_overshoot_going_on_or_filling_on():
    request = PlanRequest(0.012, parse_gas_at(OVERSHOT, "have"), parse_want("230bar:EAN32"))
    assert one_way(request, "top").result.o2 == point(34.794)
    assert one_way(replace(request, limit_bar=310.0), "fill-on").pressure_bar == bar(306.326)
    rated = replace(request, limit_bar=232.0)
    assert one_way(rated, "limit").result.o2 == point(34.695)
    assert [way.kind for way in ways(rated)] == ["bleed", "limit", "top", "leave"]


def test_analysed_too_rich_at_the_end():
    """Bleed to 196.483 and top again for 32.000 %; topped to 232 alone it is 33.418 %."""
    now = parse_gas_at("228bar:0.336/0", "have")
    request = PlanRequest(0.012, now, parse_want("230bar:EAN32"), limit_bar=232.0)
    bleed = one_way(request, "bleed")
    assert bleed.steps[0].to_bar == bar(196.483)
    assert bleed.steps[0].amount_mol == mol(13.314)
    assert bleed.result.o2 == point(32.0)
    assert one_way(request, "limit").result.o2 == point(33.418)
    richer = replace(request, want=parse_want("230bar:EAN33"))
    assert one_way(richer, "bleed").steps[0].to_bar == bar(217.135)


def test_overshoot_bled():
    found = answer("12L", OVERSHOT, "230bar:EAN32")
    assert found["steps"][0]["to_bar"] == bar(73.163)
    assert found["steps"][0]["amount_mol"] == mol(9.637)
    assert found["result"]["o2"] == point(32.0)


@pytest.mark.parametrize(("layer", "o2"), [("oxygen", 27.825), ("EAN28", 34.195)])
def test_bled_before_it_had_mixed(layer, o2):
    """Only one layer leaves, down to the planned 73.163 bar; then topped to 230."""
    start = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    held = start.with_gas(parse_gas("oxygen"), added_to_reach(start, parse_gas("oxygen"), 92, 20))
    assert held.mix.o2 == point(53.397)
    gas = parse_gas(layer)
    leaving = root(lambda n: 73.163 - held.with_gas(gas, -n).gauge_bar(20.0), 0.0, 15.0)
    left = held.with_gas(gas, -leaving)
    assert left.with_gas(AIR, added_to_reach(left, AIR, 230.0, 20.0)).mix.o2 == point(o2)


@pytest.mark.parametrize(
    ("want", "to", "out"), [("EAN32", 196.483, 13.314), ("EAN33", 217.135, None)]
)
def test_correction_after_analysis(want, to, out):
    found = answer("12L", "228bar:0.336/0.0", f"230bar:{want}")
    assert found["steps"][0]["to_bar"] == bar(to)
    if out:
        assert found["steps"][0]["amount_mol"] == mol(out)


# ---- imperial


def test_imperial_stops():
    found = answer(
        "80cuft@3000psi",
        "700psi@75F:air",
        "3000psi:EAN32",
        temperature="80F,105F",
        settle_at="70F",
    )
    oxygen, air = adds(found)
    assert (oxygen["amount_mol"], air["amount_mol"]) == (mol(12.861), mol(56.854))
    assert bar_to_psi(oxygen["to_bar"]) == pytest.approx(1111.635, abs=0.7)
    assert bar_to_psi(air["to_bar"]) == pytest.approx(3289.179, abs=0.7)
    cold = answer(
        "80cuft@3000psi", "700psi@75F:air", "3000psi:EAN32", temperature="70F", settle_at="70F"
    )
    assert bar_to_psi(adds(cold)[0]["to_bar"]) == pytest.approx(1086.833, abs=0.7)


# ---- leak


def test_planned_again_after_a_leak():
    found = answer("12L", "78.0bar@12C:0.49126/0.0", "230bar:EAN32", temperature="12C,20C")
    oxygen, air = adds(found)
    assert oxygen["amount_mol"] == pytest.approx(0.677, abs=0.002)
    assert oxygen["to_bar"] == bar(79.247)
    assert (air["amount_mol"], air["to_bar"]) == (mol(68.091), bar(230.0))


def test_the_plan_of_a_request_is_json_ready():
    request = PlanRequest(0.012, parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32"))
    assert json.loads(json.dumps(plan(request).as_dict()))["method"] == "partial-pressure"
