"""Banked mixes: fills of ready nitrox, top gas and helium, so that no rich oxygen is handled.

No gas above the line for oxygen service goes in (`PlanRequest.oxygen_line`, 40 % unless the
request says otherwise).  Among the recipes that make the mix, the first of these is taken:

1. the least drain: the customer's gas is never let out for the sake of a bank alone;
2. the fewest gases: fewer changes of whip, fewer stops to miss;
3. the least drawn from the most valuable gas, then from the next: helium before oxygen, rich
   before lean.  All recipes take up the same oxygen and helium in the end; what differs is which
   bank gives it, and a rich bank makes mixes a lean one cannot.

Gas from the lower bank goes in first, unlimited gas last; if the bottles do not allow that, any
other order of the gases, then the next recipe, then as much of the first as the bottles give and
the rest by another (to a 64th).  Gases are let in one after the other, never by turns.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from blender.errors import NoFillError
from blender.gas import OXYGEN, Mix
from blender.planning import small_steps
from blender.planning.alternatives import shown
from blender.planning.blend import (
    Blend,
    Chooser,
    Goal,
    Start,
    alike,
    best_blends,
    settled,
    shared,
    start,
    used_in,
)
from blender.planning.bound import out_of_reach
from blender.planning.draw import ShortageError
from blender.planning.gas_order import in_some_order
from blender.planning.oxygen import attempt as oxygen_alone
from blender.planning.partial_pressure import (
    MOST_OFF,
    check_near,
    gases_in_order,
    without_small_steps,
)
from blender.planning.partial_pressure import attempt as by_partial_pressure
from blender.planning.recipe import Plan
from blender.planning.request import PlanRequest
from blender.planning.solve import Amounts, exact_amounts
from blender.planning.supplies import Supply, plain_name
from blender.planning.weak_bank import what_helps

_MOST_WAYS = 24
_ON_TARGET = 1e-9
_SAME_KEPT = 1e-6
_SHARE_STEP = 1.0 / 64.0


def plan_banked(request: PlanRequest) -> Plan:
    """Plan a fill of banked mixes.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Plan
        Each bottle its own step, none with gas above the line.

    Raises
    ------
    InputError
        If the list of temperatures does not suit.
    NoFillError
        If it takes richer gas, no fill comes near enough, or the bottles do not hold enough;
        where the same fill is possible by partial pressure, that is an alternative.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> from blender.planning.supplies import parse_supply
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("200bar:EAN32")
    >>> banks = tuple(map(parse_supply, ("b1=EAN32@230barx50L", "b2=EAN36@240barx50L")))
    >>> asked = PlanRequest(0.012, have, want, method="banked", supplies=banks)
    >>> [step.supply for step in plan_banked(asked).steps if step.action == "add"]
    ['b1', 'b2']
    """
    try:
        return attempt(request)
    except ShortageError as short:
        found = [*what_helps(request, attempt, short), *with_richer_gas(request)]
        raise NoFillError(short.text, code=short.code, alternatives=found) from None
    except NoFillError as error:
        if error.code in ("oxygen-line", "unreachable"):
            error.alternatives += with_richer_gas(request)
        raise


def attempt(request: PlanRequest) -> Plan:
    """Plan without looking for partial pressure, or for what helps a short bank.

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
    nearest = next(best_blends(begin, goal))
    if nearest.miss(goal) > _ON_TARGET:
        unheld = _check_line(begin, nearest, goal)
        check_near(begin, nearest, goal)
        made = in_some_order(begin, nearest)
        return small_steps.told(made, unheld) if unheld else made
    if plan := without_small_steps(begin, goal, nearest, in_some_order):
        return plan
    return _first_possible(begin, goal, _recipes(begin, goal, nearest.result.total_mol))


def _check_line(begin: Start, nearest: Blend, goal: Goal) -> tuple[Mix, ...]:
    """Refuse what richer gas would bring nearer; return what too little of would go in."""
    request = begin.request
    gases = tuple(dict.fromkeys((*begin.mixing.gases, *_rich(request))))
    best = next(best_blends(replace(begin, mixing=replace(begin.mixing, gases=gases)), goal))
    does = best.miss(goal) <= MOST_OFF or request.want.oxygen_only
    if not does or best.miss(goal) >= nearest.miss(goal) - _ON_TARGET:
        return ()
    if found := small_steps.spared(begin, goal, best, MOST_OFF):
        return found[1]  # so little of the richer gas would go in
    mix = nearest.result.mix
    helium = f" and {mix.he:.3%} He" if goal.he or mix.he > 1e-6 else ""
    raise NoFillError(
        f"{plain_name(request.want.mix)} from this residual takes gas with more than "
        f"{request.richest_o2:.1%} O2, which a banked fill does not handle; banked, the nearest is "
        f"{mix.o2:.3%} O2{helium}; blend by partial pressure, or connect another bank",
        code="oxygen-line",
        alternatives=shown(
            "nearest",
            "the nearest of banked gas: {result}",
            lambda asked: in_some_order(replace(begin, request=asked), nearest),
            request,
        ),
    )


def _rich(request: PlanRequest) -> Iterator[Mix]:
    """Yield the gases above the line; helium only where some is wanted."""
    for supply in request.supplies:
        if not request.lets_in(supply.gas) and (supply.gas.he == 0.0 or request.want.mix.he):
            yield supply.gas


def with_richer_gas(request: PlanRequest) -> list[dict[str, Any]]:
    """Return the same fill by partial pressure, from these supplies or from pure oxygen.

    Parameters
    ----------
    request : PlanRequest
        What was asked of the banks.

    Returns
    -------
    list of dict
        One alternative, JSON-ready, of kind ``partial-pressure``; or none.
    """
    asked = replace(request, method="partial-pressure", oxygen_line=None)
    planner = oxygen_alone if request.want.oxygen_only else by_partial_pressure
    text = "by partial pressure, in oxygen service: {result}"
    found = shown("partial-pressure", text, planner, asked)
    if found:
        return found
    helium = tuple(supply for supply in request.supplies if supply.gas.he > 0.0)
    names = {supply.name for supply in helium}
    name = next(n for n in ("oxygen", *(f"oxygen{i}" for i in range(2, 999))) if n not in names)
    draw = tuple(name for name in request.draw if name in names)
    pure = replace(asked, supplies=(*helium, Supply(name, OXYGEN)), draw=draw)
    text = "by partial pressure with pure oxygen, in oxygen service: {result}"
    return shown("partial-pressure", text, planner, pure)


# -- recipes --------------------------------------------------------------------------------


def _recipes(begin: Start, goal: Goal, total_mol: float) -> list[Chooser]:
    """Return the recipes that make a mix exactly, the best first."""
    exact = exact_amounts(begin.mixing, goal.o2, goal.he, total_mol)
    exact = sorted(exact, key=lambda amounts: _cost(begin, amounts, total_mol))[:_MOST_WAYS]
    return [partial(alike, begin, goal, used_in(amounts)) for amounts in exact]


def _first_possible(begin: Start, goal: Goal, recipes: Sequence[Chooser]) -> Plan:
    """Return the plan of the first recipe its bottles allow, or of the first two shared."""
    found = _Found(begin, goal)
    for choose in recipes:
        plan = found.plan(choose)
        if plan is None:
            continue
        if _kept(plan) >= found.most_kept - _SAME_KEPT:
            return plan
        return found.best_share(recipes[0], choose, 0.0, plan)  # it drains less
    for eighths in range(7, 0, -1) if len(recipes) > 1 else ():
        share = eighths / 8.0
        plan = found.plan(partial(shared, recipes[0], recipes[1], share))
        if plan is not None:
            return found.best_share(recipes[0], recipes[1], share, plan)
    raise found.short or ShortageError("no recipe holds at this pressure; ask for another")


class _Found:
    """Tries recipes with the bottles, and keeps why the first fell short."""

    def __init__(self, begin: Start, goal: Goal) -> None:
        self._begin, self._goal = begin, goal
        self.short: ShortageError | None = None
        self.most_kept = 0.0

    def plan(self, choose: Chooser) -> Plan | None:
        """Return the plan of a recipe, None if its bottles do not allow it."""
        blend = settled(self._begin, self._goal.gauge_bar, choose)
        if blend is None:
            return None
        self.most_kept = max(self.most_kept, blend.kept)
        if self.short and out_of_reach(self._begin, blend):
            return None
        try:
            return in_some_order(self._begin, blend)
        except ShortageError as error:
            self.short = self.short or error
            return None

    def best_share(self, one: Chooser, other: Chooser, low: float, plan: Plan) -> Plan:
        """Return the plan with the largest share [1] of the first recipe, to a 64th."""
        high = 1.0
        while high - low > _SHARE_STEP:
            middle = 0.5 * (low + high)
            better = self.plan(partial(shared, one, other, middle))
            low, high = (low, middle) if better is None else (middle, high)
            plan = better or plan
        return plan


def _kept(plan: Plan) -> float:
    """Fraction of the residual that a plan keeps [1]."""
    drained = sum(step.amount_mol or 0.0 for step in plan.steps if step.action == "drain")
    return 1.0 - drained / plan.request.residual().total_mol


def _cost(begin: Start, amounts: Amounts, total_mol: float) -> tuple[float, int, tuple[float, ...]]:
    """Order recipes: drained, gases used, drawn from the most valuable gas and from the next."""
    drawn = sorted(
        zip(begin.mixing.gases, amounts.added_mol, strict=True),
        key=lambda one: (one[0].he, one[0].o2),
        reverse=True,
    )
    shares = tuple(round(mol / total_mol, 9) for _, mol in drawn)
    return -round(amounts.kept, 9), sum(used_in(amounts)), shares
