"""A compressor that trips, or is put right while it runs: what is in, what the rest needs.

The worked figures were made for this project with an independent GERG-2008 (pyaga8); random
trips are carried out with it (`tests/executor.py`).
"""

from __future__ import annotations

import json
import random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from blender.errors import FillwrightError, InputError, NoFillError
from blender.planning import GasAt, PlanRequest, Supply, parse_gas_at, parse_want, plan
from blender.planning.trip import trip
from blender.vessel import added_to_reach
from tests import executor
from tui import entry
from tui.commands import plan as plan_command
from tui.commands.trip import answer, lines

RUN = {
    "cylinder": "12L",
    "have": "45bar:air",
    "want": "220bar:EAN32",
    "rated_intake": "40%",
    "intake_air": "25C/60%",
    "delivery": "200L/min",
    "ambient": "760mmHg",
}
AT_150 = {**RUN, "reached": "150bar@20C", "average": "34.0%"}
AT_190 = {**RUN, "reached": "190bar@20C", "average": "33.0%"}


def point(percent):
    return pytest.approx(percent / 100.0, abs=1e-4)


def refused(**asked):
    with pytest.raises(NoFillError) as caught:
        answer(**asked)
    return caught.value


# ---- the worked figures


def test_a_trip_at_150_bar():
    found = answer(**AT_150)
    assert found["first"] == "close the oxygen"
    assert lines(found)[0] == "Close the oxygen."
    assert found["now"]["o2"] == point(29.998)
    assert found["rest"]["intake_o2"] == point(36.797)
    assert found["rest"]["intake_reading"] == point(36.243)
    assert found["rest"]["to_bar"] == pytest.approx(220.0)
    assert found["air"]["o2"] == point(27.368)
    assert found["result"]["o2"] == point(32.0)
    assert "DO NOT BREATHE" in lines(found)[1]
    json.dumps(found, allow_nan=False)


def test_a_trip_at_190_bar_cannot_be_saved():
    error = refused(**AT_190)
    assert (error.code, error.exit_code) == ("rated-intake", 3)
    assert error.text.startswith("close the oxygen; the cylinder now holds 30.028% O2")
    assert "46.085%" in error.text
    other = {one["kind"]: one for one in error.alternatives}
    assert other["rated-intake"]["result"]["o2"] == point(31.245)
    assert other["drain"]["result"]["o2"] == point(32.0)
    assert 0.28 < other["air"]["result"]["o2"] < 0.30
    assert not refused(**AT_190, running=True).text.startswith("close")


def test_the_same_while_it_runs_says_what_to_turn_the_oxygen_to():
    tripped, running = answer(**AT_150), answer(**AT_150, running=True)
    assert running["rest"] == tripped["rest"]
    assert running["first"] == f"turn the oxygen to {running['rest']['oxygen_l_min']:.1f} L/min"
    unrated = answer(**{**AT_150, "delivery": None}, running=True)
    assert unrated["first"] == "turn the oxygen until the meter reads 36.24%"
    rich = answer(**{**AT_150, "want": "220bar:EAN27.3678"}, running=True)
    assert rich["first"] in ("close the oxygen", "turn the oxygen to 0.0 L/min")


def test_where_the_rest_needs_a_drain_the_oxygen_is_closed_though_it_runs():
    found = answer(**{**AT_150, "average": "39%", "want": "160bar:EAN30"}, running=True)
    assert found["plan"]["steps"][0]["action"] == "drain"
    assert found["first"] == "close the oxygen"


def test_at_the_wanted_pressure_nothing_more_goes_in():
    whole = plan_command.answer(**RUN, method="continuous-flow")
    average = f"{whole['steps'][0]['intake_o2'] * 100:.13f}%"
    now = answer(**{**AT_150, "reached": "220bar@20C", "average": average})
    assert "rest" not in now
    assert "air" not in now
    assert now["first"] == "close the oxygen"


# ---- helium, and a tower

TRIMIX = {**RUN, "want": "220bar:21/20", "inject": "helium,oxygen"}


def test_helium_is_asked_for_and_both_are_turned():
    with pytest.raises(InputError, match="never 0") as caught:
        answer(**TRIMIX, reached="150bar", average="21%")
    assert caught.value.field == "--average-helium"
    asked = {**TRIMIX, "reached": "150bar", "average": "21%", "average_helium": "24%"}
    found = answer(**asked, running=True)
    rest = found["rest"]
    assert found["first"] == (
        f"turn the helium to {rest['helium_l_min']:.1f} L/min, then turn the oxygen to "
        f"{rest['oxygen_l_min']:.1f} L/min"
    )
    assert rest["intake_he"] > 0.26
    unrated = answer(**{**asked, "delivery": None}, running=True)
    assert "helium until the meter after it reads" in unrated["first"]
    assert found["request"]["average_intake_he"] == pytest.approx(0.24)


def test_a_tower_gives_what_was_delivered_last_before_the_correction_comes():
    high = {**AT_150, "rated_intake": "60%"}
    plain, held = answer(**high), answer(**high, tower="1L@150bar:air")
    old, new = (step for step in held["plan"]["steps"] if step["action"] == "flow")
    assert old["supply"] == "tower"
    assert old["gas"]["o2"] == pytest.approx(0.34)
    assert held["now"]["o2"] < plain["now"]["o2"]  # some of what came was the old air
    assert new["intake_o2"] > plain["rest"]["intake_o2"]
    early = answer(**{**high, "reached": "60bar", "average": "34%"}, tower="3L@150bar:air")
    assert early["now"]["o2"] == point(20.946)  # nothing but the tower's air has come yet
    mixed = early["plan"]["steps"][0]["gas"]["o2"]
    assert 0.20946 < mixed < 0.34


# ---- what cannot be


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"reached": "40bar@20C"}, "--reached"),
        ({"reached": "150"}, "--reached"),
        ({"reached": "150bar@"}, "--reached"),
        ({"reached": "150bar@x"}, "--reached"),
        ({"average": "20%"}, "--average"),
        ({"average": "x"}, "--average"),
        ({"average": "101%"}, "--average"),
        ({"average_helium": "10%"}, "--average-helium"),
        ({"rated_intake": None}, "--rated-intake"),
        ({"method": "banked"}, "--method"),
        ({"way": "top"}, "--way"),
        ({"tower": "3L"}, "--tower"),
        ({"inject": "helium"}, "--inject"),
        ({"want": "220bar"}, "--want"),
    ],
)
def test_what_cannot_be_names_its_option(changes, field):
    with pytest.raises(InputError) as caught:
        answer(**{**AT_150, **changes})
    assert caught.value.field == field
    assert caught.value.exit_code == 2


def test_a_method_of_another_kind_is_no_run():
    request = PlanRequest(0.012, parse_gas_at("45bar:air", "have"), parse_want("220bar:EAN32"))
    with pytest.raises(InputError, match="continuous-flow"):
        trip(request, GasAt(150.0, request.have.mix), 0.34)


def test_an_average_above_the_rating_is_told():
    found = answer(**{**AT_150, "average": "41%", "reached": "60bar"})
    assert found["warnings"][0]["code"] == "average-above-rating"


@pytest.mark.parametrize("as_json", [False, True])
def test_the_command(capsys, as_json):
    words = ["trip", "--cylinder", "12L", "--have", "45bar:air", "--want", "220bar:EAN32",
             "--rated-intake", "40%", *(["--json"] if as_json else [])]  # fmt: skip
    assert entry.run([*words, "--reached", "150bar@20C", "--average", "34.0%"]) == 0
    said = capsys.readouterr()
    first = json.loads(said.out)["first"] if as_json else said.out.splitlines()[0]
    assert first.lower().rstrip(".") == "close the oxygen"
    assert entry.run([*words, "--reached", "150bar@20C", "--average", "34", "--running"]) == 0
    assert "turn the oxygen" in capsys.readouterr().out.lower()
    assert entry.run([*words, "--reached", "190bar@20C", "--average", "33%"]) == 3
    said = capsys.readouterr()
    assert said.err.startswith("fillwright: close the oxygen;")
    if as_json:
        told = json.loads(said.out)
        assert told["error"]["code"] == "rated-intake"
        assert "rated-intake" in {one["kind"] for one in told["alternatives"]}
    assert entry.run([*words, "--reached", "1bar", "--average", "34%"]) == 2


# ---- planning again changes nothing


@given(
    o2=st.floats(26.0, 36.0),
    he=st.one_of(st.just(0.0), st.floats(3.0, 30.0)),
    bar=st.floats(150.0, 280.0),
    celsius=st.floats(5.0, 40.0),
    share=st.floats(0.02, 0.98),
    injected=st.booleans(),
)
@settings(max_examples=120, deadline=None)
def test_a_trip_at_the_planned_average_needs_the_same_intake(o2, he, bar, celsius, share, injected):
    """Amounts exact: a run stopped anywhere goes on as it was planned."""
    want = parse_want(f"{bar:.4f}bar:{o2:.4f}/{he:.4f}" if he else f"{bar:.4f}bar:EAN{o2:.4f}")
    inject = ("helium", "oxygen") if injected else ()
    request = PlanRequest(
        0.012, parse_gas_at("40bar@20C:EAN28", "have"), want, "continuous-flow",
        temperatures_c=(celsius,), rated_intake=0.70, delivery_l_min=200.0, inject=inject,
    )  # fmt: skip
    whole = plan(request)
    start, flow = request.residual(), next(s for s in whole.steps if s.action == "flow")
    for step in whole.steps:  # helium by partial pressure comes before the run
        if step.action == "add":
            start = start.with_gas(step.gas, step.amount_mol)
    here = start.with_gas(flow.gas, share * flow.amount_mol)
    began = GasAt(start.gauge_bar(celsius), start.mix, celsius)
    asked = PlanRequest(
        0.012, began, want, "continuous-flow", temperatures_c=(celsius,), rated_intake=0.70,
        delivery_l_min=200.0, inject=inject,
    )  # fmt: skip
    reached = GasAt(here.gauge_bar(celsius), here.mix, celsius)
    found = trip(asked, reached, flow.intake_o2, flow.intake_he if inject else None)
    assert found.now.mix.o2 == pytest.approx(here.mix.o2, abs=1e-9)
    assert found.rest.intake_o2 == pytest.approx(flow.intake_o2, abs=1e-7)
    assert found.rest.oxygen_l_min == pytest.approx(flow.oxygen_l_min, abs=1e-3)
    assert found.plan.result.o2 == pytest.approx(whole.result.o2, abs=1e-9)
    if flow.intake_he is not None:
        assert found.rest.intake_he == pytest.approx(flow.intake_he, abs=1e-7)


@given(share=st.floats(0.02, 0.98), litres=st.floats(0.5, 3.0))
@settings(max_examples=40, deadline=None)
def test_with_a_tower_too(share, litres):
    asked = {**RUN, "tower": f"{litres:.3f}L@150bar:air", "rated_intake": "60%"}
    whole = plan_command.answer(**asked, method="continuous-flow")
    old, new = (s for s in whole["steps"] if s["action"] == "flow")
    request = PlanRequest(0.012, parse_gas_at("45bar:air", "have"), parse_want("220bar:EAN32"))
    first = request.residual().with_gas(request.top, old["amount_mol"])
    gas = parse_gas_at(f"1bar:{new['intake_o2']:.15f}/0", "x").mix
    here = first.with_gas(gas, share * new["amount_mol"])
    if here.total_mol + 1.02 * old["amount_mol"] > first.total_mol + new["amount_mol"]:
        return  # what stands in the tower, richer now, is more than goes in: it ends within it
    found = answer(
        **asked, reached=f"{here.gauge_bar(20.0):.9f}bar@20C", average=f"{new['intake_o2']:.12%}"
    )
    again = [s for s in found["plan"]["steps"] if s["action"] == "flow"][-1]
    assert again["intake_o2"] == pytest.approx(new["intake_o2"], abs=2e-6)


# ---- random trips, carried out with pyaga8


def test_random_trips_land_where_asked():
    rng = random.Random(7)
    done = refused = 0
    while done < 300:
        asked = _run(rng)
        world = executor.World(asked)
        average = rng.uniform(0.22, 0.40)
        gas = executor.gas_of(f"EAN{average * 100:.9f}")
        at = rng.uniform(5, 45)
        low = world.gauge(at)
        reached = rng.uniform(low, max(low, world.want_bar))
        mol = executor._let_in(world, gas, reached, at)
        now = executor._plus(world.moles, gas, mol)
        typed = {"reached": f"{reached:.12f}bar@{at:.12f}C", "average": f"{average * 100:.12f}%"}
        world.moles = now
        if world.gauge(world.settle) > world.want_bar:
            continue
        try:
            found = answer(**asked, **typed)
        except NoFillError as error:
            assert error.code in ("rated-intake", "unreachable")
            assert f"{now[0] / sum(now):.3%}"[:5] in error.text
            refused += 1
            continue
        assert found["now"]["o2"] == pytest.approx(now[0] / sum(now), abs=1e-7)
        assert found["now"]["added_mol"] == pytest.approx(mol, abs=1e-6 * sum(now))
        held = f"{reached:.12f}bar@{at:.12f}C:{now[0] / sum(now):.12f}/0.0"
        executor.carry_out({**asked, "have": held}, found["plan"])
        done += 1
    assert refused > 20


def _run(rng):
    return {
        "cylinder": rng.choice(["12L", "2x12L", "7L"]),
        "have": f"{rng.uniform(0, 100):.3f}bar:EAN{rng.uniform(21, 40):.3f}",
        "want": f"{rng.uniform(150, 280):.3f}bar:EAN{rng.uniform(24, 38):.3f}",
        "rated_intake": "40%",
        "ambient": f"{rng.uniform(0.7, 1.05):.5f}bar",
        "temperature": f"{rng.uniform(5, 40):.2f}C",
        "settle_at": f"{rng.uniform(10, 30):.2f}C",
    }


# ---- contradictory input

odd = st.one_of(
    st.none(),
    st.text(max_size=12),
    st.sampled_from(["helium,oxygen", "oxygen", "3L@150bar:air", "30L@499bar:oxygen", "0.2L@0bar:x",
                     "3L@200bar@60C:18/45", "1000L@0bar:helium", "tower", ","]),
)  # fmt: skip
bars = st.sampled_from(["0bar", "44bar", "45bar", "150bar@20C", "150bar@60C", "220bar", "499bar",
                        "500bar@-20C", "-1bar", "x", "3000psi"])  # fmt: skip
percents = st.sampled_from(
    ["0%", "20.946%", "20.9", "34%", "40", "99.6%", "100%", "101%", "-3", "x"]
)


@given(
    have=st.sampled_from(["45bar:air", "0bar:air", "200bar:18/45", "300bar@60C:EAN90", "x"]),
    want=st.sampled_from(
        ["220bar:EAN32", "220bar:21/20", "40bar:EAN32", "499bar:10/70", "150bar:oxygen", "0bar:air"]
    ),
    inject=odd,
    tower=odd,
    reached=bars,
    average=percents,
    average_helium=st.one_of(st.none(), percents),
    running=st.booleans(),
    supply=st.sampled_from(
        [
            [],
            ["o1=oxygen99.5@3barx50L"],
            ["he=helium"],
            ["tower=oxygen"],
            ["t=21/35", "he=heliox 20/80"],
            ["a=air"],
        ]
    ),
    top=st.sampled_from(["air", "air", "EAN32", "18/45", "oxygen", "helium"]),
    rated_intake=st.sampled_from(["40%", "0%", "100%", "20%"]),
    intake_air=st.sampled_from([None, "25C/60%", "60C/100%"]),
)
@example(
    have="45bar:air", want="40bar:EAN32", inject=None, tower=None, reached="0bar", average="0%",
    average_helium=None, running=False, supply=[], top="oxygen", rated_intake="100%",
    intake_air=None,
)  # fmt: skip
@settings(max_examples=300, deadline=None)
def test_contradictory_words_give_an_answer_or_a_told_reason(
    reached, average, average_helium, running, **asked
):
    asked |= {"cylinder": "12L", "delivery": "200L/min"}
    for ask in (
        lambda: lines(answer(**asked, reached=reached, average=average,
                             average_helium=average_helium, running=running)),
        lambda: plan_command.lines(plan_command.answer(**asked, method="continuous-flow")),
    ):  # fmt: skip
        try:
            assert all(isinstance(line, str) for line in ask())
        except (InputError, NoFillError) as error:
            assert error.text
            assert isinstance(error, FillwrightError)
            json.dumps(getattr(error, "alternatives", []), allow_nan=False)


def test_supplies_are_as_they_stand_now():
    have, want = parse_gas_at("45bar:air", "have"), parse_want("220bar:EAN32")
    bottle = (Supply("o1", parse_gas_at("1bar:oxygen", "x").mix, 5.0, 0.05),)
    request = PlanRequest(0.012, have, want, "continuous-flow", bottle, rated_intake=0.40)
    found = trip(request, GasAt(150.0, have.mix, 20.0), 0.34)
    assert found.rest.supply_from_bar == pytest.approx(5.0)
    mol = added_to_reach(request.residual(), found.now.mix, 150.0, 20.0)
    assert found.added_mol == pytest.approx(mol, rel=0.01)


def test_a_rest_of_air_alone_says_that_the_oxygen_is_shut():
    """Half-way at 55 %, EAN32 at 220 bar needs less than air's oxygen: a drain, then air."""
    found = answer(**RUN, reached="120bar@20C", average="55%")
    words = "\n".join(plan_command.lines(found["plan"]))
    assert "Compressor with the oxygen shut to 220.0 bar" in words
    assert "Compressor with oxygen in the intake" not in words
