"""Continuous-flow blending: oxygen injected into a compressor's intake.

Helium, if wanted, goes in first by partial pressure, or is injected too (see `flow_trimix`); one
run of the compressor delivers the rest, after what still stands in its filter tower (see
`hold_up`).  The rated intake is compared with the dry fraction delivered.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from blender.errors import InputError, NoFillError
from blender.planning.alternatives import shown
from blender.planning.blend import Goal, Start, start
from blender.planning.flow_trimix import helium_figures, injected_helium
from blender.planning.hold_up import Filled, filled, old_gas
from blender.planning.intake import Intake, intake_figures
from blender.planning.oxygen import oxygen_of
from blender.planning.partial_pressure import MOST_OFF, check_near
from blender.planning.partial_pressure import attempt as by_partial_pressure
from blender.planning.recipe import Plan
from blender.planning.rehearsal import Rehearsal, stop_temperatures
from blender.planning.request import PlanRequest
from blender.planning.solve import NOTHING
from blender.planning.streams import Streams
from blender.planning.supplies import plain_name
from blender.planning.weak_bank import or_what_helps
from blender.vessel import Contents

_RATING_SLACK = 1e-12
_ON_TARGET = 1e-9


def plan_continuous_flow(request: PlanRequest) -> Plan:
    """Plan a fill by continuous flow.

    Parameters
    ----------
    request : PlanRequest
        What was asked; `rated_intake` must be given.

    Returns
    -------
    Plan
        Helium by partial pressure if wanted and not injected, then a flow: one step for each
        bottle injected from, and for a tower's old gas.

    Raises
    ------
    InputError
        If the compressor's rated intake is not known.
    NoFillError
        If the intake would be richer than rated, or no fill comes near enough.
    """
    return or_what_helps(request, attempt)


def attempt(request: PlanRequest) -> Plan:
    """Plan without looking for alternatives to a short bank.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Plan
        As of the function above.

    Raises
    ------
    ShortageError
        If the bottles do not hold enough.
    NoFillError
        For every other reason.
    """
    run = _run(request)
    begin = run.begin(within_rating=False)
    found = run.filled(begin)
    needed = run.delivered_o2(found)
    if needed > run.rated and found.blend.kept < 1.0 - NOTHING:
        # It is drained anyway: as far then as the rating needs.
        begin = run.begin(within_rating=True)
        within = run.filled(begin)
        if within.blend.miss(run.goal) < _ON_TARGET:
            found, needed = within, run.delivered_o2(within)
    if needed > run.rated:
        raise NoFillError(
            f"the compressor would have to draw in {needed:.3%} O2 (dry), more than its rated "
            f"{run.intake.rated:.3%}",
            code="rated-intake",
            alternatives=_below_the_rating(run),
        )
    _check_near(run, begin, found)
    return _carried_out(run, begin, found)


@dataclass(frozen=True, slots=True)
class _Run:
    """What a run of the compressor starts from, and what it is for."""

    request: PlanRequest
    goal: Goal
    intake: Intake
    tower: Contents | None

    @property
    def rated(self) -> float:
        """The rated intake, with what rounding may add [1]."""
        return self.intake.rated + _RATING_SLACK

    def begin(self, *, within_rating: bool) -> Start:
        """Begin with helium by partial pressure, and what the intake can take."""
        before = (s.gas for s in self.request.supplies if s.gas.he > 0.0)
        by_pressure = tuple(before) if self.intake.helium is None else ()
        through = self.intake.gases(within_rating=within_rating)
        return start(self.request, tuple(dict.fromkeys((*by_pressure, *through))))

    def filled(self, begin: Start) -> Filled:
        """Find the best blend."""
        return filled(begin, self.goal, self.intake, self.tower)

    def delivered_o2(self, found: Filled) -> float:
        """Oxygen fraction delivered, dry [1]."""
        return self.intake.streams(found.blend.added).delivered_o2


def _run(request: PlanRequest) -> _Run:
    rated = request.rated_intake
    if rated is None:
        raise InputError(
            "--rated-intake",
            "nothing",
            "give the highest O2 the compressor is rated for; no default",
        )
    goal = Goal(request.want.mix.o2, request.want.mix.he, request.want.gauge_bar)
    intake = Intake(request.top, oxygen_of(request), injected_helium(request), rated)
    return _Run(request, goal, intake, old_gas(request))


# -- refusals ---------------------------------------------------------------------------------


def _below_the_rating(run: _Run) -> list[dict[str, Any]]:
    """Return the best at the rating, with no drain and with one, and other ways."""
    rated, request, found = run.intake.rated, run.request, list[dict[str, Any]]()
    begin = run.begin(within_rating=True)
    if run.intake.top.o2 <= rated:

        def best(asked: PlanRequest, least_kept: float) -> Plan:
            mixing = replace(begin.mixing, least_kept=least_kept)
            capped = replace(begin, request=asked, mixing=mixing)
            return _carried_out(run, capped, run.filled(capped))

        total = begin.amount(request.want.mix, run.goal.gauge_bar)
        total -= run.tower.total_mol if run.tower else 0.0
        undrained = min(1.0, begin.mixing.kept_range(total)[1])
        text = f"the best at the rated intake of {rated:.3%}: {{result}}"
        found += shown("rated-intake", text, lambda asked: best(asked, undrained), request)
        text = f"drained first, then filled at the rated intake of {rated:.3%}: {{result}}"
        drained = shown("drain", text, lambda asked: best(asked, begin.mixing.least_kept), request)
        found += _if_drained(drained, run.goal)
    return found + _tower_purged(request) + _by_pressure(request)


def _if_drained(found: list[dict[str, Any]], goal: Goal) -> list[dict[str, Any]]:
    """Keep an alternative that does drain and lands on the goal, and say how far it drains."""
    kept = [
        one
        for one in found
        if one["steps"][0]["action"] == "drain"
        and abs(one["result"]["o2"] - goal.o2) < _ON_TARGET
        and abs(one["result"]["he"] - goal.he) < _ON_TARGET
    ]
    for one in kept:
        one["text"] = f"drain to {one['steps'][0]['to_bar']:.3f} bar: {one['text']}"
    return kept


def _tower_purged(request: PlanRequest) -> list[dict[str, Any]]:
    """Return the same fill with the tower purged, if there is one."""
    if request.tower is None:
        return []
    text = "purge the tower with the mixed gas first, then: {result}"
    return shown("purge-tower", text, attempt, replace(request, tower=None))


def _by_pressure(request: PlanRequest) -> list[dict[str, Any]]:
    """Return the same fill by partial pressure; what the compressor tops with must be pure."""
    tower, text = request.tower, "the same fill by partial pressure: {result}"
    if tower is not None and tower.mix != request.top:
        text = f"purge the tower with {plain_name(request.top)}, then {text}"
    partial = replace(request, method="partial-pressure", inject=(), tower=None)
    return shown("partial-pressure", text, by_partial_pressure, partial)


def _check_near(run: _Run, begin: Start, found: Filled) -> None:
    """Refuse a fill more than half a point from the goal, and name the nearest."""
    if run.tower is None and run.intake.helium is None:
        check_near(begin, found.blend, run.goal)
        return
    miss = found.blend.miss(run.goal)
    if miss <= MOST_OFF:
        return
    tower = f", after the filter tower's {plain_name(run.tower.mix)}" if run.tower else ""
    raise NoFillError(
        f"no way of filling reaches {plain_name(run.request.want.mix)} from this residual with "
        f"these gases{tower}; the nearest is {miss * 100:.3f} points off",
        code="unreachable",
        alternatives=[
            *shown(
                "nearest",
                "the nearest is {result}",
                lambda asked: _carried_out(run, replace(begin, request=asked), found),
                run.request,
            ),
            *_tower_purged(run.request),
        ],
    )


# -- steps ------------------------------------------------------------------------------------


def _carried_out(run: _Run, begin: Start, found: Filled) -> Plan:
    """Write a blend down as helium stops and a flow."""
    request, blend, known = begin.request, found.blend, run.intake.shares()
    helium = [(gas, mol) for gas, mol in blend.added if gas not in known]
    flows = len(blend.added) > len(helium) or found.tower_mol > NOTHING * blend.result.total_mol
    stops_c = stop_temperatures(request, len(helium) + flows)
    rehearsal = Rehearsal(request, begin.residual)
    if blend.kept < 1.0 - NOTHING:
        rehearsal.drain(blend.kept, request.first_temperature_c)
    last = len(helium) - 1
    for place, ((gas, amount_mol), stop_c) in enumerate(zip(helium, stops_c, strict=False)):
        rehearsal.add(gas, amount_mol, stop_c, more=place < last)
    if flows:
        first = (run.tower.mix, found.tower_mol) if run.tower else None
        streams = run.intake.streams(blend.added)
        rehearsal.flow(streams, stops_c[-1], lambda part: _figures(request, part), first)
    return rehearsal.finished()


def _figures(request: PlanRequest, streams: Streams) -> dict[str, float]:
    return intake_figures(request, streams) | helium_figures(request, streams)
