"""How sure a plan's mix is before anybody has analysed it: a budget of what may be off.

The readings at the stops are taken as independent although one gauge shows them all: an error
common to all stops would partly cancel, so this is the careful side.  Water in compressed
breathing air is some 0.006 % (EN 12021, 50 mg/m3) and is left out; water in the intake of a
compressor is not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from blender.analysis import (
    AIR_STATE_HUMIDITY,
    AIR_STATE_K,
    STATED_CLASS_POINTS,
    UNSTATED_AIR,
)
from blender.errors import ModelRangeError
from blender.gas import AIR, Mix
from blender.humidity import AirState
from blender.planning.doubtful_run import is_delivered, runs_on
from blender.planning.doubts import Doubts, Gauge
from blender.planning.recipe import Assurance, Caution, Contribution, Plan, Step
from blender.planning.replay import RICH, replay
from blender.planning.straight import replay_nearby
from blender.planning.supplies import TOP_NAME, plain_name
from blender.planning.tower import TOWER_NAME
from blender.propagation import Budget, Doubt, drawn, interval, propagated
from blender.units import TYPED_MAX_C, TYPED_MIN_C, bar_to_pa

Array = NDArray[np.float64]
# Half-widths; common practice, no source, where none is named.
PURE = 0.005  # how much less than all a gas sold without a figure may be
GRADE = 0.0025  # how far a stated purity may be off
BANKED_O2, BANKED_HE = 0.005, 0.010  # of a mix in a bank, as an analysis knows it
METER_O2 = STATED_CLASS_POINTS / 100.0
STRETCH = 0.004  # a steel cylinder's volume at 232 bar: thin-wall estimate
TOWER_VOLUME = 0.05  # of a tower's free volume, its filling taken off
TOWER_K = 5.0  # it is warm after a run
SCALE_G = 5.0  # of a scale nobody described
COARSE = 0.01  # the usual tolerance of a mix
_NO_HELIUM = 1e-6
_NAMED = 2


def with_certainty(plan: Plan, draws: int = 0, seed: int = 1, more: Sequence[Doubt] = ()) -> Plan:
    """Return a plan that says how far its mix may be off.

    Parameters
    ----------
    plan : Plan
        The plan.
    draws : int
        Simulated fills to check the budget with (JCGM 101); none for 0.
    seed : int
        Where their draws begin.
    more : sequence of Doubt
        What else may be off, beside `doubts_of` the plan.

    Returns
    -------
    Plan
        With uncertainties (k = 2), what contributes to them, and a caution if the gauge is too
        coarse for a stop.  Without them where a doubt leads out of the equation's range.

    Notes
    -----
    Sources: JCGM 100:2008 and JCGM 101:2008; the half-widths name theirs.

    Examples
    --------
    >>> from blender.planning import PlanRequest, parse_gas_at, parse_want, plan
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32")
    >>> sure = with_certainty(plan(PlanRequest(0.012, have, want))).assurance
    >>> sure.contributions[0].text
    'oxygen stop read on a class 1.0 gauge of 250 bar'
    """
    doubts = (*doubts_of(plan), *more)

    def by_cause(errors: Array) -> tuple[dict[str, Array], int]:
        names = (doubt.cause for doubt in doubts)
        return dict(zip(names, errors.T, strict=True)), len(errors)

    try:
        budget = propagated(lambda errors: replay_nearby(plan, *by_cause(errors)), doubts)
        simulated = replay(plan, *by_cause(drawn(doubts, draws, seed))) if draws else None
    except ModelRangeError:
        return plan
    sure = _assurance(plan, budget, simulated)
    coarse = _coarse_gauge(sure)
    return replace(plan, assurance=sure, warnings=(*plan.warnings, *coarse))


def _assurance(plan: Plan, budget: Budget, simulated: Array | None) -> Assurance:
    o2, he, bar = (float(wide) for wide in budget.expanded)
    found = [
        Contribution(doubt.cause, doubt.text, float(bounds[0]), float(bounds[1]))
        for doubt, bounds in zip(budget.doubts, budget.bounds, strict=True)
    ]
    ranked = sorted(found, key=lambda one: -(one.o2**2 + one.he**2))
    gauge = plan.request.doubts.gauge_for(_highest_bar(plan))
    drawn_between = None
    if simulated is not None:
        drawn_between = (interval(simulated[:, 0]), interval(simulated[:, 1]))
    return Assurance(
        o2, he, bar, str(gauge), plan.request.doubts.gauge is not None, tuple(ranked), drawn_between
    )


def _coarse_gauge(sure: Assurance) -> Iterator[Caution]:
    """Warn of a stated gauge that alone may cost the usual tolerance at one stop."""
    worst = [one for one in sure.contributions if one.cause.startswith("class.")]
    points = max((max(one.o2, one.he) for one in worst), default=0.0)
    if sure.gauge_stated and points > COARSE:
        first = max(worst, key=lambda one: max(one.o2, one.he))
        yield Caution(
            "gauge-coarse",
            f"{first.text}: up to {points * 100:.1f} points off; use a finer gauge, or fill by "
            "mass or continuous flow, or expect to correct the mix after its analysis",
        )


# -- what may be off ------------------------------------------------------------------------


def doubts_of(plan: Plan) -> Iterator[Doubt]:
    """Yield everything that may be off in carrying out a plan.

    Parameters
    ----------
    plan : Plan
        The plan.

    Yields
    ------
    Doubt
        With the causes of `replay`.

    Raises
    ------
    InputError
        If the stated gauge's scale ends below the highest stop.
    """
    gauge = plan.request.doubts.gauge_for(_highest_bar(plan))
    yield from _of_residual(plan, gauge)
    yield from _of_gases(plan)
    yield from _of_steps(plan, gauge)
    yield from _of_intake(plan)
    yield from _of_tower(plan)
    if not _by_scale(plan):
        text = "the cylinder's stretch under pressure"
        yield Doubt("stretch", text, 0.0, STRETCH)
    if any(step.holds.he > _NO_HELIUM for step in plan.steps):
        pairs = plan.request.pairs
        text = f"helium with oxygen reckoned with the pair set '{pairs}'"
        yield Doubt("pairs", text, 0.0, 1.0)


def _highest_bar(plan: Plan) -> float:
    read = [plan.request.have.gauge_bar, *(step.to_bar or 0.0 for step in plan.steps)]
    return max(read)


def _by_scale(plan: Plan) -> bool:
    return any(step.scale_g is not None for step in plan.steps)


def _of_residual(plan: Plan, gauge: Gauge) -> Iterator[Doubt]:
    """Yield what may be off in the residual; an open cylinder at 0 bar is known to be at 0."""
    request, doubts = plan.request, plan.request.doubts
    if request.have.gauge_bar > 0.0:
        yield from _gauge("residual", "residual", gauge)
        # It has stood long enough for gas and wall to be alike.
        within = Doubt("temperature.residual", "", -2.0, 2.0)
        text = f"the residual's temperature within {within.bound:g} K"
        yield replace(within, text=text)
    points = doubts.residual_o2
    if points:
        text = f"the residual's oxygen known to {points * 100:.1f} points"
        yield Doubt("residual.o2", text, -points, points)
    if request.have.mix.he > _NO_HELIUM and doubts.residual_he:
        points = doubts.residual_he
        text = f"the residual's helium known to {points * 100:.1f} points"
        yield Doubt("residual.he", text, -points, points)


def _of_gases(plan: Plan) -> Iterator[Doubt]:
    """Yield the purity of every gas that goes in, but for the top gas if that is air."""
    supplied = {step.supply: step.gas for step in plan.steps if step.supply and step.gas}
    for name, gas in supplied.items():
        # What is injected is told by the meters, whatever its purity.
        flows = any(step.action == "flow" and step.supply == name for step in plan.steps)
        air = name == TOP_NAME and plan.request.top == AIR
        if not air and not flows:
            low, high = _purity(gas)
            yield Doubt(f"purity.{name}", f"the purity of {plain_name(gas)}", low, high)


def _purity(gas: Mix) -> tuple[float, float]:
    main = max(gas.o2, gas.he)
    if main <= RICH:
        return (-BANKED_HE, BANKED_HE) if gas.he > gas.o2 else (-BANKED_O2, BANKED_O2)
    if main >= 1.0 - 1e-9:
        return -PURE, 0.0
    return -GRADE, min(GRADE, 1.0 - main)


def _of_steps(plan: Plan, gauge: Gauge) -> Iterator[Doubt]:
    """Yield the readings that end each step: of the scale, or of the gauge and its gas."""
    weighed = _by_scale(plan)
    if weighed:
        yield _scale(plan, "start", "the scale's zero")
    for place, step in enumerate(plan.steps):
        if step.gas is None or runs_on(plan.steps[place:]):
            continue
        name = _stop_name(step, plan.steps[place + 1 :])
        if weighed:
            yield _scale(plan, str(place), f"{name} read on the scale")
            continue
        yield from _gauge(str(place), name, gauge)
        yield _temperature(plan, str(place), name)
        if step.action == "purge":
            yield from _gauge(f"{place}v", "end of the purge", gauge)


def _gauge(place: str, name: str, gauge: Gauge) -> Iterator[Doubt]:
    off, half = gauge.error_bar, gauge.step_bar / 2.0
    yield Doubt(f"class.{place}", f"{name} read on a {gauge}", -off, off)
    yield Doubt(f"step.{place}", f"{name} read to {gauge.step_bar:g} bar", -half, half)


def _scale(plan: Plan, place: str, name: str) -> Doubt:
    step_g = plan.request.scale_g or SCALE_G
    text = f"{name} in steps of {step_g:g} g"
    return Doubt(f"scale.{place}", text, -step_g / 2.0, step_g / 2.0)


def _temperature(plan: Plan, place: str, name: str) -> Doubt:
    kind, off_k = plan.request.doubts.temperature_kind, plan.request.doubts.temperature_k
    of = {"gas": "estimated", "wall": "taken of the wall", "room": "taken of the room"}[kind]
    text = f"the gas's temperature at the {name} ({of}) within {off_k:g} K"
    return Doubt(f"temperature.{place}", text, -off_k, off_k)


def _stop_name(step: Step, later: Sequence[Step]) -> str:
    assert step.gas is not None
    if step.action == "drain":
        return "drained pressure"
    if step.action == "purge":
        return "purge pressure"
    if step.supply == TOP_NAME or step.action == "flow":
        return "stop" if any(other.gas for other in later) else "last stop"
    if step.gas.he > RICH:
        return "helium stop"
    return "oxygen stop" if step.gas.o2 > RICH else f"{plain_name(step.gas)} stop"


def _of_intake(plan: Plan) -> Iterator[Doubt]:
    """Yield what may be off in the gas a compressor delivers: its meters, and the damp air.

    One meter serves the whole run, so that its error is the same in all of it.
    """
    flows = [step for step in plan.steps if step.action == "flow"]
    points, run = f"{METER_O2 * 100:.1f} points", [step for step in flows if is_delivered(step)]
    if any(step.supply != TOP_NAME for step in run):
        text = f"the meter in the intake within {points}"
        yield Doubt("meter", text, -METER_O2, METER_O2)
    if any(step.reading_after_helium is not None for step in run):
        text = f"the meter after the helium within {points} of oxygen"
        yield Doubt("helium-meter", text, -METER_O2, METER_O2)
    if run:
        low, high = _damp(plan.request.intake_air, bar_to_pa(plan.request.ambient_bar))
        yield Doubt("damp", "the water in the air drawn in", low, high)


def _of_tower(plan: Plan) -> Iterator[Doubt]:
    """Yield what may be off in what a filter tower gives."""
    tower = plan.request.tower
    if tower is None or all(step.supply != TOWER_NAME for step in plan.steps):
        return
    if any(runs_on(plan.steps[place:]) for place in range(len(plan.steps))):
        yield from _gauge("tower", "filter tower", Doubts().gauge_for(tower.gauge_bar))
        text = f"the filter tower's temperature within {TOWER_K:g} K"
        yield Doubt("temperature.tower", text, -TOWER_K, TOWER_K)
        text = f"the filter tower's volume within {TOWER_VOLUME:.0%}"
        yield Doubt("tower.volume", text, -TOWER_VOLUME, TOWER_VOLUME)
    if tower.mix != AIR:
        text = f"the oxygen in the filter tower known to {BANKED_O2 * 100:.1f} points"
        yield Doubt("tower.o2", text, -BANKED_O2, BANKED_O2)
    if tower.mix.he > _NO_HELIUM:
        text = f"the helium in the filter tower known to {BANKED_HE * 100:.1f} points"
        yield Doubt("tower.he", text, -BANKED_HE, BANKED_HE)
    yield Doubt("tower.mixing", "old and new gas mixing in the filter tower", 0.0, 1.0)


def _damp(air: AirState | None, ambient_pa: float) -> tuple[float, float]:
    """Bounds of the water fraction's error [1]."""
    if air is None:
        return 0.0, UNSTATED_AIR.water(ambient_pa)
    here = air.water(ambient_pa)
    warmer = min(air.temperature_c + AIR_STATE_K, TYPED_MAX_C)
    colder = max(air.temperature_c - AIR_STATE_K, TYPED_MIN_C)
    damper = AirState(warmer, min(1.0, air.humidity + AIR_STATE_HUMIDITY))
    drier = AirState(colder, max(0.0, air.humidity - AIR_STATE_HUMIDITY))
    return drier.water(ambient_pa) - here, damper.water(ambient_pa) - here


def in_words(sure: Assurance, named: int = _NAMED) -> Sequence[str]:
    """Return the largest contributions in plain words, the largest first.

    Parameters
    ----------
    sure : Assurance
        What is known of a plan.
    named : int
        How many.

    Returns
    -------
    sequence of str
        Such as ``oxygen stop read on a class 1.6 gauge of 400 bar: 2.4 points``.
    """
    return [one.in_words() for one in sure.contributions[:named]]
