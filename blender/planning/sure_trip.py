"""How sure a run that stopped part-way leaves what is in the cylinder, and the rest of the fill.

What has gone in and what is still to come are one fill: residual, meters and gauge are the same
in both, so that their errors must not be counted as if the cylinder had been analysed between.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from blender.gas import Mix
from blender.planning.budget import METER_O2
from blender.planning.certainty import with_certainty
from blender.planning.flow_trimix import helium_figures
from blender.planning.hold_up import old_gas
from blender.planning.intake import Intake, intake_figures, streams_of
from blender.planning.recipe import Assurance, Plan, Step
from blender.planning.request import PlanRequest
from blender.planning.streams import Streams
from blender.planning.supplies import TOP_NAME
from blender.planning.tower import TOWER_NAME
from blender.propagation import Doubt
from blender.vessel import Contents

# How far an average of a meter's readings may be from that of the gas delivered, beside what the
# meter itself is off: as much again; common practice, no source.
AVERAGE = METER_O2
_NOTHING_MOL = 1e-9


def sure_of_both(
    request: PlanRequest, so_far: tuple[Step, ...], rest: Plan
) -> tuple[Assurance | None, Plan]:
    """Return how sure the gas in the cylinder is, and the rest with its uncertainty.

    Parameters
    ----------
    request : PlanRequest
        The fill as it was asked for.
    so_far : tuple of Step
        What has gone in, as of `steps_so_far`.
    rest : Plan
        What is still to come.

    Returns
    -------
    tuple of Assurance, or None, and Plan
        None where nothing has gone in, or a doubt leads out of the equation's range.
    """
    more = tuple(_of_averages(so_far))
    whole = Plan(request, (*so_far, *rest.steps), rest.result, rest.pressure_bar)
    sure = with_certainty(whole, more=more)
    told = replace(rest, assurance=sure.assurance, warnings=(*rest.warnings, *sure.warnings))
    if not so_far:
        return None, told
    last = so_far[-1]
    now = Plan(request, so_far, last.holds, last.to_bar or 0.0)
    return with_certainty(now, more=more).assurance, told


def _of_averages(so_far: tuple[Step, ...]) -> Iterator[Doubt]:
    for place, step in enumerate(so_far):
        if step.supply == TOWER_NAME:
            continue
        text = f"the intake's average known to {AVERAGE * 100:.1f} points beside its meter"
        yield Doubt(f"average.{place}", text, -AVERAGE, AVERAGE)
        if step.reading_after_helium is not None:
            text = f"the average after the helium known to {AVERAGE * 100:.1f} points of oxygen"
            yield Doubt(f"average-he.{place}", text, -AVERAGE, AVERAGE)


def steps_so_far(
    request: PlanRequest, intake: Intake, now: Contents, average: Mix, at: tuple[float, float]
) -> tuple[Step, ...]:
    """Return what has gone in as steps of a plan.

    Parameters
    ----------
    request : PlanRequest
        With what was in the cylinder, and in a tower, when the compressor began.
    intake : Intake
        What goes into the intake.
    now : Contents
        What the cylinder holds.
    average : Mix
        The gas delivered on average.
    at : tuple of float
        What its gauge shows [bar], and the temperature of the gas there [degC].

    Returns
    -------
    tuple of Step
        A tower's gas, then what was delivered; none where nothing has gone in.
    """
    begin, tower = request.residual(), old_gas(request)
    added_mol = now.total_mol - begin.total_mol
    from_tower_mol = min(tower.total_mol, added_mol) if tower else 0.0
    streams = streams_of(intake, average.o2, average.he, max(added_mol, _NOTHING_MOL))
    assert streams is not None  # the average was made of them
    figures, steps, holds = _figures(request, streams), [], begin
    for name, gas, mol in (
        (TOWER_NAME, tower.mix if tower else average, from_tower_mol),
        (_injected(request, streams), average, added_mol - from_tower_mol),
    ):
        if mol > _NOTHING_MOL:
            from_bar = holds.gauge_bar(at[1], request.ambient_bar)
            holds = holds.with_gas(gas, mol)
            to_bar = holds.gauge_bar(at[1], request.ambient_bar)
            steps.append(
                Step("flow", holds.mix, name, gas, from_bar, to_bar, at[1], mol, **figures)
            )
    return tuple(steps)


def _figures(request: PlanRequest, streams: Streams) -> dict[str, Any]:
    told = intake_figures(request, streams) | helium_figures(request, streams)
    timed = ("oxygen_l_min", "helium_l_min", "minutes")
    return {name: value for name, value in told.items() if name not in timed}


def _injected(request: PlanRequest, streams: Streams) -> str:
    """Name the supply of the oxygen injected; the top gas where none was."""
    named = (supply.name for supply in request.supplies if supply.gas == streams.oxygen)
    return next(named, TOP_NAME) if streams.oxygen_mol > _NOTHING_MOL else TOP_NAME
