"""The budget of a fill: everything that may be off in carrying it out, each with its source.

The readings at the stops are taken as independent although one gauge shows them all: an error
common to all stops would partly cancel, so this is the careful side.  Water in compressed
breathing air is some 0.006 % (EN 12021, 50 mg/m3) and is left out; water in the intake of a
compressor is not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from blender.analysis import (
    AIR_STATE_HUMIDITY,
    AIR_STATE_K,
    STATED_CLASS_POINTS,
    UNSTATED_AIR,
)
from blender.gas import AIR, Mix
from blender.humidity import AirState
from blender.planning.doubtful_run import is_delivered, runs_on
from blender.planning.doubts import Doubts, Gauge, serving
from blender.planning.recipe import Plan, Step
from blender.planning.replay import RICH
from blender.planning.supplies import TOP_NAME, plain_name
from blender.planning.tower import TOWER_NAME
from blender.propagation import Doubt
from blender.units import TYPED_MAX_C, TYPED_MIN_C, bar_to_pa

# Half-widths; common practice, no source, where none is named.
PURE = 0.005  # how much less than all a gas sold without a figure may be
GRADE = 0.0025  # how far a stated purity may be off
BANKED_O2, BANKED_HE = 0.005, 0.010  # of a mix in a bank, as an analysis knows it
METER_O2 = STATED_CLASS_POINTS / 100.0
STRETCH = 0.004  # a steel cylinder's volume at 232 bar: thin-wall estimate
TOWER_VOLUME = 0.05  # of a tower's free volume, its filling taken off
TOWER_K = 5.0  # it is warm after a run
SCALE_G = 5.0  # of a scale nobody described
_NO_HELIUM = 1e-6


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
    plan.request.doubts.gauge_for(highest_bar(plan))  # one that was stated holds every stop
    yield from _of_residual(plan)
    yield from _of_gases(plan)
    yield from _of_steps(plan)
    yield from _of_intake(plan)
    yield from _of_tower(plan)
    if not _by_scale(plan):
        text = "the cylinder's stretch under pressure"
        yield Doubt("stretch", text, 0.0, STRETCH)
    if any(step.holds.he > _NO_HELIUM for step in plan.steps):
        pairs = plan.request.pairs
        text = f"helium with oxygen reckoned with the pair set '{pairs}'"
        yield Doubt("pairs", text, 0.0, 1.0)


def highest_bar(plan: Plan) -> float:
    """Return the highest pressure that is read [bar]."""
    read = [plan.request.have.gauge_bar, *(step.to_bar or 0.0 for step in plan.steps)]
    return max(read)


def gauge_of(plan: Plan, step: Step) -> Gauge:
    """Return the gauge a step of a plan is read on.

    Parameters
    ----------
    plan : Plan
        The plan.
    step : Step
        One of its steps that lets gas in or out.
    """
    serves, read_bar = serving(step.action, step.gas), step.to_bar or 0.0
    return plan.request.doubts.gauge_at(serves, read_bar, highest_bar(plan))


def _by_scale(plan: Plan) -> bool:
    return any(step.scale_g is not None for step in plan.steps)


def _of_residual(plan: Plan) -> Iterator[Doubt]:
    """Yield what may be off in the residual; an open cylinder at 0 bar is known to be at 0."""
    request, doubts = plan.request, plan.request.doubts
    if request.have.gauge_bar > 0.0:
        read_bar = request.have.gauge_bar
        gauge = doubts.gauge_at("top", read_bar, highest_bar(plan))
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


def _of_steps(plan: Plan) -> Iterator[Doubt]:
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
        gauge = gauge_of(plan, step)
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
