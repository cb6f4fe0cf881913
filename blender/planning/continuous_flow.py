"""Continuous-flow blending: oxygen injected into a compressor's intake.

Helium, if wanted, goes in first by partial pressure; one flow step delivers the rest.  The
compressor's rated intake is compared with the dry fraction delivered; a meter in the damp
stream reads less.  Water comes with the air only, the injected oxygen is dry.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from blender.errors import InputError, NoFillError
from blender.gas import Mix
from blender.planning.alternatives import shown
from blender.planning.blend import Blend, Goal, Start, best_blends, start
from blender.planning.oxygen import oxygen_of
from blender.planning.partial_pressure import attempt as by_partial_pressure
from blender.planning.partial_pressure import check_near
from blender.planning.recipe import Plan
from blender.planning.rehearsal import Rehearsal, stop_temperatures
from blender.planning.request import PlanRequest
from blender.planning.solve import NOTHING
from blender.planning.weak_bank import or_what_helps
from blender.units import bar_to_pa, c_to_k
from blender.vessel import Contents

_GAS_CONSTANT = 8.314462618  # exact, SI 2019 [J/(mol K)]
_DRY_INLET_C = 20.0
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
        Helium by partial pressure if wanted, then one flow per oxygen bottle used.

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
    rated = request.rated_intake
    if rated is None:
        raise InputError(
            "--rated-intake",
            "nothing",
            "give the highest O2 the compressor is rated for; no default",
        )
    oxygen = oxygen_of(request)
    goal = Goal(request.want.mix.o2, request.want.mix.he, request.want.gauge_bar)
    begin = _with_richest(request, oxygen)
    blend = next(best_blends(begin, goal))
    needed = _delivered_o2(blend)
    if needed > rated + _RATING_SLACK and blend.kept < 1.0 - NOTHING:
        # It is drained anyway: as far then as the rating needs.
        richest = _at_rating(request.top, oxygen, rated)
        begin = _with_richest(request, richest) if richest else begin
        within = next(best_blends(begin, goal))
        if within.miss(goal) < _ON_TARGET:
            blend, needed = within, _delivered_o2(within)
    if needed > rated + _RATING_SLACK:
        raise NoFillError(
            f"the compressor would have to draw in {needed:.3%} O2 (dry), more than its rated "
            f"{rated:.3%}",
            code="rated-intake",
            alternatives=_below_the_rating(request, goal, oxygen, rated),
        )
    check_near(begin, blend, goal)
    return _carried_out(begin, blend, oxygen)


def _with_richest(request: PlanRequest, richest: Mix) -> Start:
    """Begin with helium, the top gas, and the richest gas that is delivered."""
    helium = (supply.gas for supply in request.supplies if supply.gas.he > 0.0)
    return start(request, tuple(dict.fromkeys((*helium, richest, request.top))))


def _delivered_o2(blend: Blend) -> float:
    delivered = [(gas, mol) for gas, mol in blend.added if gas.he == 0.0]
    total = sum(mol for _, mol in delivered)
    return sum(gas.o2 * mol for gas, mol in delivered) / total if total else 0.0


def _below_the_rating(
    request: PlanRequest, goal: Goal, oxygen: Mix, rated: float
) -> list[dict[str, Any]]:
    """Return the best at the rating, with no drain and with one, and partial pressure."""
    found: list[dict[str, Any]] = []
    richest = _at_rating(request.top, oxygen, rated)
    if richest is not None:
        begin = _with_richest(request, richest)

        def best(asked: PlanRequest, least_kept: float) -> Plan:
            mixing = replace(begin.mixing, least_kept=least_kept)
            capped = replace(begin, request=asked, mixing=mixing)
            return _carried_out(capped, next(best_blends(capped, goal)), oxygen)

        total = begin.amount(request.want.mix, goal.gauge_bar)
        undrained = min(1.0, begin.mixing.kept_range(total)[1])
        text = f"the best at the rated intake of {rated:.3%}: {{result}}"
        found += shown("rated-intake", text, lambda asked: best(asked, undrained), request)
        text = f"drained first, then filled at the rated intake of {rated:.3%}: {{result}}"
        drained = shown("drain", text, lambda asked: best(asked, begin.mixing.least_kept), request)
        found += _if_drained(drained, goal)
    partial = replace(request, method="partial-pressure")
    text = "the same fill by partial pressure: {result}"
    return found + shown("partial-pressure", text, by_partial_pressure, partial)


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


def _at_rating(top: Mix, oxygen: Mix, rated: float) -> Mix | None:
    """Return the gas delivered at the rated intake, None if air alone is richer."""
    if not top.o2 <= rated < oxygen.o2:
        return None
    share = (rated - top.o2) / (oxygen.o2 - top.o2)
    o2, he, n2, ar = (
        a + share * (b - a) for a, b in zip(top.fractions, oxygen.fractions, strict=True)
    )
    return Mix(o2, he, n2, ar)


def _carried_out(begin: Start, blend: Blend, oxygen: Mix) -> Plan:
    """Write a blend down as helium stops and a flow."""
    request = begin.request
    helium = [(gas, mol) for gas, mol in blend.added if gas.he > 0.0]
    flows = len(blend.added) > len(helium)
    stops_c = stop_temperatures(request, len(helium) + flows)
    rehearsal = Rehearsal(request, begin.residual)
    if blend.kept < 1.0 - NOTHING:
        rehearsal.drain(blend.kept, request.first_temperature_c)
    last = len(helium) - 1
    for place, ((gas, amount_mol), stop_c) in enumerate(zip(helium, stops_c, strict=False)):
        rehearsal.add(gas, amount_mol, stop_c, more=place < last)
    if flows:
        oxygen_mol, top_mol = _shares(blend, oxygen, request.top)
        rehearsal.flow(
            (oxygen, oxygen_mol),
            (request.top, top_mol),
            stops_c[-1],
            lambda oxygen_mol, top_mol: intake_figures(request, oxygen, oxygen_mol, top_mol),
        )
    return rehearsal.finished()


def _shares(blend: Blend, oxygen: Mix, top: Mix) -> tuple[float, float]:
    """Split what is delivered into injected oxygen and air drawn in [mol]."""
    oxygen_mol = top_mol = 0.0
    for gas, mol in blend.added:
        if gas.he == 0.0:
            richer = oxygen.o2 - top.o2
            share = (gas.o2 - top.o2) / richer if richer else 0.0
            oxygen_mol += mol * share
            top_mol += mol * (1.0 - share)
    return oxygen_mol, top_mol


def intake_figures(
    request: PlanRequest, oxygen: Mix, oxygen_mol: float, top_mol: float
) -> dict[str, float]:
    """What to set and watch at the intake while given amounts go in.

    Flow and time are counted at the compressor's inlet, as a delivery is rated: at the
    temperature and pressure of the air there, its water included.

    Parameters
    ----------
    request : PlanRequest
        With the air's state and, for flow and time, the compressor's delivery.
    oxygen : Mix
        The gas injected.
    oxygen_mol, top_mol : float
        Amounts of gas injected and of dry air drawn in [mol].

    Returns
    -------
    dict
        ``intake_o2``, ``intake_reading`` [1]; ``oxygen_l_min`` [L/min], ``minutes`` [min].
    """
    ambient_pa = bar_to_pa(request.ambient_bar)
    air = request.intake_air
    water = air.water(ambient_pa) if air else 0.0
    dry_mol = oxygen_mol + top_mol
    damp_mol = oxygen_mol + top_mol / (1.0 - water)
    o2_mol = oxygen_mol * oxygen.o2 + top_mol * request.top.o2
    figures = {"intake_o2": o2_mol / dry_mol, "intake_reading": o2_mol / damp_mol}
    if request.delivery_l_min is not None:
        inlet_k = c_to_k(air.temperature_c if air else _DRY_INLET_C)
        litres = damp_mol * _GAS_CONSTANT * inlet_k / ambient_pa * 1000.0
        figures["oxygen_l_min"] = request.delivery_l_min * oxygen_mol / damp_mol
        figures["minutes"] = litres / request.delivery_l_min
    return figures


def after_hold_up(contents: Contents, tower: Contents) -> Contents:
    """What a cylinder holds when a filter tower's old gas has gone in first.

    Parameters
    ----------
    contents : Contents
        What the cylinder held.
    tower : Contents
        What the tower held at the fill's end pressure: as much is pushed out of it.

    Returns
    -------
    Contents
        The cylinder with the tower's gas.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> from blender.vessel import contents_at
    >>> cylinder = contents_at(AIR, 45.0, 20.0, 0.012)
    >>> tower = contents_at(AIR, 150.0, 20.0, 0.003)
    >>> round(after_hold_up(cylinder, tower).gauge_bar(20.0), 1)
    82.1
    """
    return contents.with_gas(tower.mix, tower.total_mol)
