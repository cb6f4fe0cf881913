"""Partial-pressure blending: gas by gas, each to a gauge stop."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from blender.errors import NoFillError
from blender.gas import Mix
from blender.planning import small_steps
from blender.planning.air_first import due_mol
from blender.planning.alternatives import shown
from blender.planning.blend import Blend, Goal, Start, best_blends, start
from blender.planning.bound import out_of_reach
from blender.planning.draw import ShortageError
from blender.planning.oxygen import purged_alternatives
from blender.planning.recipe import Plan
from blender.planning.rehearsal import Rehearsal, stop_temperatures
from blender.planning.request import PlanRequest
from blender.planning.solve import NOTHING
from blender.planning.supplies import TOP_NAME, plain_name
from blender.planning.weak_bank import or_what_helps

# A request missed by more than this, only because of residual or purity, is not planned.
MOST_OFF = 0.005


def plan_partial_pressure(request: PlanRequest) -> Plan:
    """Plan a fill by partial pressures.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Plan
        The first way that the bank can carry out: least drain, fewest gases, least oxygen.

    Raises
    ------
    InputError
        If the list of temperatures does not suit.
    NoFillError
        If no fill comes near enough, or the bottles do not hold enough.
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
    begin = start(request, gases_in_order(request))
    goal = Goal(request.want.mix.o2, request.want.mix.he, request.want.gauge_bar)
    short: ShortageError | None = None
    for place, blend in enumerate(best_blends(begin, goal)):
        if place == 0 and (plan := without_small_steps(begin, goal, blend, carried_out)):
            return plan
        check_near(begin, blend, goal)
        if short and out_of_reach(begin, blend):
            continue
        try:
            return carried_out(begin, blend)
        except ShortageError as error:
            short = short or error
    assert short is not None  # there is at least one blend
    raise short


def without_small_steps(
    begin: Start, goal: Goal, blend: Blend, written: Callable[[Start, Blend], Plan]
) -> Plan | None:
    """Return the plan of a blend without its steps too small to be held.

    Parameters
    ----------
    begin : Start
        Residual and gases.
    goal : Goal
        What was wanted.
    blend : Blend
        The blend that is best on paper.
    written : callable
        Writes a blend down as steps.

    Returns
    -------
    Plan or None
        None if there is no such step, it cannot be done without, or the bottles do not allow it.
    """
    found = small_steps.spared(begin, goal, blend, MOST_OFF)
    if found is None:
        return None
    try:
        return small_steps.told(written(begin, found[0]), found[1])
    except ShortageError:
        return None


def gases_in_order(request: PlanRequest) -> tuple[Mix, ...]:
    """Return the gases there are, each once, in the order in which they are let in.

    Of several gases with one role, that of the lowest bottle goes first.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    tuple of Mix
        Helium-bearing, oxygen-bearing and top gas in the request's order.
    """

    def rank(gas: Mix) -> tuple[int, float, float]:
        if gas == request.top:
            return request.order.index(TOP_NAME), 0.0, 0.0
        role = request.order.index("helium" if gas.he > 0.0 else "oxygen")
        return role, lowest_bar(request, gas), -gas.o2

    gases = dict.fromkeys((*(supply.gas for supply in request.supplies), request.top))
    return tuple(sorted(filter(request.lets_in, gases), key=rank))


def lowest_bar(request: PlanRequest, gas: Mix) -> float:
    """Gauge pressure of the lowest bottle of a gas [bar]; infinite where none is limited.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    gas : Mix
        The gas.

    Returns
    -------
    float
        Gauge pressure at 20 degC [bar].
    """
    bottles = [supply.gauge_bar for supply in request.supplies if supply.gas == gas]
    return min((math.inf if bar is None else bar for bar in bottles), default=math.inf)


def check_near(begin: Start, blend: Blend, goal: Goal) -> None:
    """Refuse a blend more than half a point from the goal, and name the nearest.

    Parameters
    ----------
    begin : Start
        Residual and gases.
    blend : Blend
        The nearest there is.
    goal : Goal
        What was wanted.

    Raises
    ------
    NoFillError
        With the nearest fill, and with purges if oxygen was wanted purer.
    """
    miss = blend.miss(goal)
    if miss <= MOST_OFF:
        return
    mix = blend.result.mix
    helium = f" and {mix.he:.3%} He" if goal.he or mix.he > 1e-6 else ""
    text = f"nearest is {mix.o2:.3%} O2{helium} at {goal.gauge_bar:.1f} bar"
    raise NoFillError(
        f"no way of filling reaches {plain_name(begin.request.want.mix)} from this residual with "
        f"these gases; {text}, {miss * 100:.3f} points off",
        code="unreachable",
        alternatives=[
            *shown(
                "nearest",
                text,
                lambda request: carried_out(replace(begin, request=request), blend),
                begin.request,
            ),
            *purged_alternatives(begin.request),
        ],
    )


def carried_out(begin: Start, blend: Blend) -> Plan:
    """Write a blend down as steps.

    Parameters
    ----------
    begin : Start
        Residual and gases.
    blend : Blend
        The amounts.

    Returns
    -------
    Plan
        Helium, oxygen and top in order, each from its bottles; some of the top gas before
        oxygen, if the request's rule asks for it.

    Raises
    ------
    InputError
        If the list of temperatures does not suit.
    ShortageError
        If the bottles do not hold enough.
    """
    request = begin.request
    stops_c = stop_temperatures(request, len(blend.added))
    rehearsal = Rehearsal(request, begin.residual)
    if blend.kept < 1.0 - NOTHING:
        rehearsal.drain(blend.kept, request.first_temperature_c)
    last = len(blend.added) - 1
    top_mol = sum(mol for gas, mol in blend.added if gas == request.top)
    for place, ((gas, amount_mol), stop_c) in enumerate(zip(blend.added, stops_c, strict=True)):
        first_mol = due_mol(request, rehearsal.contents, gas, stop_c, top_mol)
        if first_mol:
            rehearsal.add(request.top, first_mol, stop_c, more=True)
            top_mol -= first_mol
        due_now = top_mol if gas == request.top else amount_mol
        if due_now > NOTHING * blend.result.total_mol:
            rehearsal.add(gas, due_now, stop_c, more=place < last)
    return rehearsal.finished()
