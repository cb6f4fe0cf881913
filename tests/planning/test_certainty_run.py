"""How sure a run of the compressor is: its meters, its filter tower, and a run that stopped."""

from __future__ import annotations

import math

import numpy as np
import pytest

from blender.planning import parse_gas_at, parse_want, plan
from blender.planning.budget import doubts_of
from blender.planning.certainty import with_certainty
from blender.planning.options import Options
from blender.planning.replay import replay
from blender.propagation import drawn
from tests.executor import AIR, _plus, _times, amount, reached
from tui.commands.trip import answer, lines

RUN = {"method": "continuous-flow", "rated_intake": "60%"}
TRIMIX = {**RUN, "inject": "helium,oxygen", "intake_air": "25C/60%"}
AMBIENT, LITRES, FILLS = 1.01325, 12.0, 20_000
TRIPS = 4_000


def made(have, want, **options):
    request = Options(**{**RUN, **options}).request(
        0.012, parse_gas_at(have, "have"), parse_want(want, "want")
    )
    return plan(request)


def off(found, **errors):
    named = {cause.replace("_", "."): np.atleast_1d(value) for cause, value in errors.items()}
    return replay(found, named, max((len(values) for values in named.values()), default=1))


def covered(values, low, high):
    return float(np.mean((values >= low) & (values <= high)))


# ---- single doubts, by hand


def test_the_meter_after_the_helium_tells_the_helium():
    """By hand: that meter sees air thinned by helium, 0.20946 (1 - share) in dry air."""
    found = made("45bar:air", "220bar:21/20", inject="helium,oxygen")
    step = found.steps[0]
    thinned = step.reading_after_helium
    share = 1.0 - thinned / 0.20946
    assert share == pytest.approx(step.intake_he / (step.intake_he + step.gas.n2 / 0.78120), 1e-9)
    truly = 1.0 - (thinned + 0.005) / 0.20946  # what flows past it when it shows 0.5 points less
    # The meter after the oxygen still shows what was planned: oxygen makes up the rest.
    air, helium = 1.0 - truly, truly
    oxygen = (step.intake_reading - 0.20946 * air) / (1.0 - step.intake_reading)
    delivered = helium / (1.0 + oxygen)
    ((_, he, _),) = off(found, **{"helium-meter": 0.005})
    begun = amount(AIR, 45.0 + AMBIENT, 20.0, LITRES)
    gas = (0.20946 * air + oxygen, helium, 0.78120 * air, 0.00934 * air)
    gas = _times(gas, 1.0 / (1.0 + oxygen))
    moles = reached(_times(AIR, begun), gas, 220.0 + AMBIENT, 20.0, LITRES, 80.0)
    assert he == pytest.approx(moles[1] / sum(moles), abs=1e-7)
    assert he < found.result.he - 0.01
    assert delivered == pytest.approx(gas[1])


def test_a_tower_that_holds_more_than_was_thought():
    """S5's tower: 3 L of air at 150 bar; a tenth more of it by pyaga8."""
    found = made("45bar:air", "220bar:EAN30", tower="3L@150bar:air")
    new = found.steps[1].gas.fractions
    begun = amount(AIR, 45.0 + AMBIENT, 20.0, LITRES)
    held = amount(AIR, 150.0 + AMBIENT, 20.0, 3.3)
    moles = _plus(_times(AIR, begun), AIR, held)
    moles = reached(moles, new, 220.0 + AMBIENT, 20.0, LITRES, 60.0)
    ((o2, _, bar),) = off(found, tower_volume=0.1)
    assert o2 == pytest.approx(moles[0] / sum(moles), abs=1e-7)
    assert bar == pytest.approx(220.0, abs=1e-6)
    thought, truly = ((bar + AMBIENT, at_c) for bar, at_c in ((150.0, 20.0), (150.25, 20.5)))
    warmer = amount(AIR, *truly, 3.0) / amount(AIR, *thought, 3.0)
    ((gauge, _, _),) = off(found, class_tower=0.25, temperature_tower=0.5)
    ((volume, _, _),) = off(found, tower_volume=warmer - 1.0)
    assert gauge == pytest.approx(volume, abs=2e-7)


def test_a_tower_that_mixes_keeps_what_a_stirred_tank_keeps():
    """exp(-flow / content) of the old gas stays, textbook washout, from memory."""
    found = made("45bar:air", "220bar:EAN30", tower="3L@150bar:air")
    held = found.steps[0].amount_mol
    stays = held * math.exp(-(held + found.steps[1].amount_mol) / held)
    ((o2, _, _),) = off(found, tower_mixing=1.0)
    new = found.steps[1].gas.fractions
    begun = amount(AIR, 45.0 + AMBIENT, 20.0, LITRES)
    moles = _times(AIR, begun + held - stays)
    moles = reached(moles, new, 220.0 + AMBIENT, 20.0, LITRES, 60.0)
    assert o2 == pytest.approx(moles[0] / sum(moles), abs=1e-7)
    assert o2 > found.result.o2


def test_a_plan_that_ends_within_the_tower_ends_by_the_gauge():
    """8 L of EAN32 at 200 bar into 12 L: the compressor's own gas never comes."""
    found = made("45bar:air", "90bar:0.266/0", tower="8L@200bar:EAN32")
    assert [step.supply for step in found.steps if step.gas][-1:] == ["tower"]
    assert len([step for step in found.steps if step.action == "flow"]) == 1
    causes = {doubt.cause for doubt in doubts_of(found)}
    assert {"tower.o2", "tower.mixing"} <= causes
    assert "tower.volume" not in causes
    assert any(cause.startswith("class.") and cause != "class.residual" for cause in causes)
    assert with_certainty(found).assurance.o2_uncertainty > 0.0


def test_a_run_of_air_alone_asks_no_meter():
    causes = {doubt.cause for doubt in doubts_of(made("45bar:air", "220bar:air"))}
    assert "meter" not in causes
    both = {doubt.cause for doubt in doubts_of(made("45bar:air", "220bar:21/20", **TRIMIX))}
    assert {"meter", "helium-meter", "damp"} <= both


def test_helium_and_oxygen_without_air_are_known_by_the_oxygen_alone():
    """No air passes the meter after the helium: it shows nothing, and less it cannot show."""
    found = made("0bar:heliox 20/80", "200bar:heliox 20/80", inject="helium,oxygen")
    ((o2, he, _),) = off(found)
    assert (o2, he) == pytest.approx((found.result.o2, found.result.he), abs=1e-7)
    assert with_certainty(found).assurance.he_uncertainty > 0.0


def test_one_meter_serves_two_bottles():
    """Its error is the same with either: two bottles are no surer than one."""
    one = made("45bar:air", "220bar:EAN32")
    two = made("45bar:air", "220bar:EAN32", supply=("a=oxygen@20barx10L", "b=oxygen"))
    assert len([step for step in two.steps if step.action == "flow"]) == 2
    alone, shared = (with_certainty(found).assurance.contributions for found in (one, two))
    costs = [next(c.o2 for c in of if c.cause == "meter") for of in (alone, shared)]
    assert costs[1] == pytest.approx(costs[0], rel=1e-3)


# ---- the whole budget


@pytest.mark.parametrize(
    ("have", "want", "options"),
    [
        ("45bar:air", "220bar:EAN30", {"tower": "3L@150bar:air"}),
        ("45bar:air", "220bar:EAN32", {"tower": "3L@150bar:EAN40", "intake_air": "25C/60%"}),
        ("45bar:air", "220bar:21/20", TRIMIX),
        ("40bar:air", "220bar:25/20", {**TRIMIX, "tower": "2L@180bar:21/10"}),
    ],
    ids=["tower", "rich tower", "helium", "helium and tower"],
)
def test_coverage_with_tower_and_helium(have, want, options):
    """20 000 fills each with errors drawn anew, another seed than the plan's."""
    found = with_certainty(made(have, want, **options), draws=FILLS)
    doubts = list(doubts_of(found))
    errors = dict(zip((d.cause for d in doubts), drawn(doubts, FILLS, 9).T, strict=True))
    fills, sure = replay(found, errors, FILLS), found.assurance
    for at, wide in ((0, sure.o2_uncertainty), (1, sure.he_uncertainty)):
        mean = (found.result.o2, found.result.he)[at]
        if mean == 0.0:
            continue
        assert 0.94 <= covered(fills[:, at], *sure.drawn[at]) <= 0.96
        assert covered(fills[:, at], mean - wide, mean + wide) >= 0.94
        assert sure.drawn[at][1] - mean < 1.6 * wide


# ---- a run that stopped

TRIP = {"cylinder": "12L", "have": "45bar:air", "want": "220bar:EAN32", "rated_intake": "40%",
        "reached": "150bar@20C", "average": "34.0%"}  # fmt: skip


def _simulated_trip(rest_o2, count, seed):
    """Both halves of a trip in pyaga8, errors drawn here: the rest is held at `rest_o2`."""
    dice = np.random.default_rng(seed)
    now, end = [], []

    def gauge(bar):
        return bar + dice.uniform(-2.5, 2.5) + dice.uniform(-0.5, 0.5) + AMBIENT

    for _ in range(count):
        stretch, meter = dice.uniform(0.0, 0.004), dice.uniform(-0.005, 0.005)
        water = dice.uniform(0.0, 0.02308)  # 17.535 mmHg of 760 (CRC, at 20 degC)

        def space(bar, stretch=stretch):
            return LITRES * (1.0 + stretch * (bar - AMBIENT) / 232.0)

        def delivered(o2, water=water, meter=meter, more=0.0):
            """A damp stream of which a meter shows `o2`: air with its water, and oxygen."""
            truly, damp = o2 + meter + more, 1.0 / (1.0 - water)
            oxygen = (truly * damp - AIR[0]) / (1.0 - truly)
            gas = (AIR[0] + oxygen, 0.0, AIR[2], AIR[3])
            return _times(gas, 1.0 / (1.0 + oxygen))

        o2 = AIR[0] + dice.uniform(-0.005, 0.005)
        residual = (o2, 0.0, AIR[2] + AIR[0] - o2, AIR[3])
        bar = gauge(45.0)
        begun = amount(residual, bar, 20.0 + dice.uniform(-2.0, 2.0), space(bar))
        moles, bar = _times(residual, begun), gauge(150.0)
        gas = delivered(0.34, more=dice.uniform(-0.005, 0.005))
        at_c = 20.0 + dice.uniform(-2.0, 2.0)
        moles = reached(moles, gas, bar, at_c, space(bar), 55.0)
        now.append(moles[0] / sum(moles))
        bar, at_c = gauge(220.0), 20.0 + dice.uniform(-2.0, 2.0)
        moles = reached(moles, delivered(rest_o2), bar, at_c, space(bar), 28.0)
        end.append(moles[0] / sum(moles))
    return np.array(now), np.array(end)


def test_a_trip_is_as_sure_as_thousands_of_them():
    """In pyaga8, both halves with one meter: k = 2 holds at least 94 %, and is not just wide."""
    found = answer(**TRIP)
    now, end = _simulated_trip(found["rest"]["intake_o2"], TRIPS, seed=5)
    for values, told in ((now, found["now"]), (end, found["result"])):
        wide = told["o2_uncertainty"]
        assert covered(values, told["o2"] - wide, told["o2"] + wide) >= 0.94
        half = (np.quantile(values, 0.975) - np.quantile(values, 0.025)) / 2.0
        assert half > 0.7 * wide
    assert found["now"]["he_uncertainty"] == 0.0
    assert "Sure to O2" in "\n".join(lines(found))


def test_the_meter_of_a_trip_by_hand():
    """Of the gas in the cylinder 65.0 % came by the meter: half a point there is 0.33 points."""
    found = answer(**TRIP)
    share = found["now"]["added_mol"] / found["now"]["amount_mol"]
    causes = {c["cause"]: c for c in found["plan"]["uncertainty"]["contributions"]}
    total = amount(AIR, 220.0 + AMBIENT, 20.0, LITRES)
    assert causes["average.0"]["o2"] == pytest.approx(
        0.005 * found["now"]["added_mol"] / total, rel=0.03
    )
    assert causes["meter"]["o2"] > causes["average.0"]["o2"]
    assert found["now"]["o2_uncertainty"] > 2.0 * 0.005 * share / math.sqrt(3.0)


@pytest.mark.parametrize(
    "more",
    [
        {"tower": "1L@150bar:air"},
        {"tower": "3L@150bar:air", "reached": "60bar", "average": "34%"},
        {"want": "220bar:21/20", "inject": "helium,oxygen", "average": "21%",
         "average_helium": "24%"},
        {"reached": "45bar@20C", "average": "20.946%"},
        {"want": "220bar:EAN25", "average": "20.946%"},
    ],
    ids=["tower", "within the tower", "helium", "nothing in yet", "air so far"],
)  # fmt: skip
def test_every_kind_of_trip_has_its_uncertainty(more):
    found = answer(**{**TRIP, "rated_intake": "60%", **more})
    assert found["result"]["o2_uncertainty"] > 0.001
    if found["now"]["added_mol"] > 1e-6:
        assert found["now"]["o2_uncertainty"] > 0.0
        assert found["now"]["he_uncertainty"] >= 0.0
    else:
        assert found["now"]["o2_uncertainty"] is None
