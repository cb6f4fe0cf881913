"""Every recipe a station could make a mix by, ranked, with the reason.

Recipes are enumerated over methods, orders of the gases and sets of supplies.  What breaks a
rule or misses the mix comes last; then each criterion decides where those before it leave a
tie, to the step in which a person would tell two figures apart.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from blender.errors import InputError, NoFillError
from blender.gas import Mix
from blender.planning.banked import attempt as by_banked
from blender.planning.blend import start, used_in
from blender.planning.certainty import with_certainty
from blender.planning.continuous_flow import attempt as by_flow
from blender.planning.mass import attempt as by_mass
from blender.planning.merits import Merits, Terms, merits
from blender.planning.oxygen import plan_oxygen
from blender.planning.partial_pressure import attempt as by_pressure
from blender.planning.partial_pressure import gases_in_order
from blender.planning.recipe import Plan
from blender.planning.replay import RICH
from blender.planning.request import OXYGEN_LINE, ROLES, PlanRequest
from blender.planning.solve import exact_amounts
from blender.planning.tower import Tower

ORDERS = {"helium first": ROLES, "oxygen first": ("oxygen", "helium", "top")}
# Steps in which two figures are told apart: own choice.
_STEPS = {
    "drained_m3": 0.001, "cost": 0.01, "helium_m3": 0.001, "oxygen_m3": 0.001,
    "uncertainty": 0.001, "minutes": 0.5,
}  # fmt: skip
CRITERIA = {
    "drain": "drained_m3",
    "cost": "cost",
    "helium": "helium_m3",
    "oxygen": "oxygen_m3",
    "certainty": "uncertainty",
    "time": "minutes",
}
USUAL = tuple(CRITERIA)
_ON_TARGET = 1e-6
_MOST_SETS = 12
_JUDGED = 5
_MOST_SUPPLIES = 8


@dataclass(frozen=True, slots=True)
class Choice:
    """One recipe with what it costs.

    Parameters
    ----------
    plan : Plan
        The recipe.
    merits : Merits
        What it costs.
    name : str
        The method, and the order of the gases where that matters.
    why : str
        Why it stands before the next one.
    """

    plan: Plan
    merits: Merits
    name: str
    why: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The choice JSON-ready."""
        described = self.plan.as_dict()
        described.pop("request")
        named = {"name": self.name, "why": self.why, "merits": self.merits.as_dict()}
        return named | {"order": list(self.plan.request.order)} | described


def choices(
    request: PlanRequest,
    terms: Terms,
    by: Sequence[str] = USUAL,
    *,
    orders: Sequence[str] = (),
    scale_g: float | None = None,
    inject: tuple[str, ...] = (),
    tower: Tower | None = None,
) -> tuple[Choice, ...]:
    """Return every recipe there is, the best first.

    Parameters
    ----------
    request : PlanRequest
        What is asked, by partial pressure; other methods and orders are tried as well, continuous
        flow if it has a rated intake.
    terms : Terms
        Prices and rates.
    by : sequence of str
        What decides, the first thing first; what is left out follows in the usual order.
    orders : sequence of str
        The orders of `ORDERS` that the station's rules allow; none named is both.
    scale_g : float or None
        Smallest step a scale shows [g]; None if there is none to fill by.
    inject : tuple of str
        What is injected where the compressor runs; empty is oxygen alone.
    tower : Tower or None
        Its filter tower, if that is to be allowed for.

    Returns
    -------
    tuple of Choice
        No two alike; at least one.

    Raises
    ------
    InputError
        If a criterion or an order is not known, or there are too many supplies.
    NoFillError
        If no recipe is possible; it is that of the request's own method.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32")
    >>> asked = PlanRequest(0.012, have, want, rated_intake=0.40)
    >>> [choice.name for choice in choices(asked, Terms({}), scale_g=5.0)]
    ['by mass', 'continuous flow', 'partial pressure']
    """
    _check(request, by, orders)
    found: dict[tuple[Any, ...], Choice] = {}
    refusal: NoFillError | None = None
    run = replace(request, method="continuous-flow", inject=inject, tower=tower)
    for name, asked, planner in _candidates(request, orders, scale_g, run):
        try:
            plan = planner(asked)
        except NoFillError as error:
            refusal = refusal or error
        except InputError as error:
            if error.field != "--temperature":  # a list that suits one recipe, not another
                raise
        else:
            if (sign := _signature(plan)) not in found:
                found[sign] = Choice(plan, merits(plan, terms), name)
    if not found:
        raise refusal or NoFillError("no recipe suits the list of temperatures", code="temperature")
    criteria = tuple(dict.fromkeys((*by, *USUAL)))
    judged = _judged(list(found.values()), criteria)
    ranked = sorted(judged, key=lambda choice: rank(choice.merits, criteria))
    return tuple(_explained(ranked, criteria))


def _judged(found: list[Choice], criteria: Sequence[str]) -> Iterator[Choice]:
    """Yield the choices, with uncertainties wherever these could decide, and of the first few."""
    before = criteria[: criteria.index("certainty")]
    last: tuple[float, ...] = ()
    for place, choice in enumerate(sorted(found, key=lambda one: rank(one.merits, before))):
        key = rank(choice.merits, before)
        if place >= _JUDGED and key != last:
            yield choice
            continue
        last = key
        sure = with_certainty(choice.plan)
        if sure.assurance is None:
            yield choice
            continue
        o2, he = sure.assurance.o2_uncertainty, sure.assurance.he_uncertainty
        known = replace(choice.merits, o2_uncertainty=o2, he_uncertainty=he)
        yield replace(choice, plan=sure, merits=known)


def rank(merits: Merits, criteria: Sequence[str]) -> tuple[float, ...]:
    """Return what recipes are sorted by, the smallest first.

    Parameters
    ----------
    merits : Merits
        What a recipe costs.
    criteria : sequence of str
        What decides, the first thing first.

    Returns
    -------
    tuple of float
        The miss, then one figure a criterion; an unknown one counts as the worst.
    """
    missed = 0.0 if merits.is_unseen or merits.miss <= _ON_TARGET else merits.miss
    return (missed, *(_figure(merits, CRITERIA[name]) for name in criteria))


def _figure(merits: Merits, name: str) -> float:
    value = getattr(merits, name)
    if value is None or math.isinf(value):
        return math.inf
    return float(round(value / _STEPS[name]))


def _check(request: PlanRequest, by: Sequence[str], orders: Sequence[str]) -> None:
    for name in by:
        if name not in CRITERIA:
            raise InputError("--by", repr(name[:40]), f"the criteria are {', '.join(CRITERIA)}")
    for name in orders:
        if name not in ORDERS:
            raise InputError("order", repr(name[:40]), f"the orders are {', '.join(ORDERS)}")
    if request.method != "partial-pressure" or request.way:
        given = request.way or request.method
        raise InputError("--method", given, "a choice tries every method; name none, and no way")
    if len(request.supplies) > _MOST_SUPPLIES:
        given = f"{len(request.supplies)} supplies"
        raise InputError("--supply", given, f"a choice is made among at most {_MOST_SUPPLIES}")


# -- what there is to try -------------------------------------------------------------------

Candidate = tuple[str, PlanRequest, Callable[[PlanRequest], Plan]]


def _candidates(
    request: PlanRequest, orders: Sequence[str], scale_g: float | None, run: PlanRequest
) -> Iterator[Candidate]:
    """Yield every recipe to try: methods, orders, sets of supplies, a run of the compressor."""
    if request.want.oxygen_only:
        yield "oxygen alone", request, plan_oxygen
        return
    helium = request.want.mix.he > 0.0 and any(one.gas.he > 0.0 for one in request.supplies)
    names = tuple(orders or ORDERS) if helium else (orders or tuple(ORDERS))[:1]
    for gases in _sets(request):
        for order in names:
            said = f", {order}" if helium else ""
            ordered = replace(_with(request, gases), order=ORDERS[order])
            yield f"partial pressure{said}", ordered, by_pressure
            if scale_g is not None:
                weighed = replace(ordered, method="mass", scale_g=scale_g)
                yield f"by mass{said}", weighed, by_mass
    yield from _with_compressor(run)
    low = tuple(one.gas for one in request.supplies if one.gas.o2 <= OXYGEN_LINE)
    if low and request.top.o2 <= OXYGEN_LINE:
        yield "banked mixes", replace(_with(request, low), method="banked"), by_banked


def _with_compressor(run: PlanRequest) -> Iterator[Candidate]:
    """Yield a run of the compressor with the supplies there are, then with each oxygen alone."""
    if run.rated_intake is None:
        return
    yield "continuous flow", run, by_flow
    helium = [one.gas for one in run.supplies if one.gas.he > 0.0]
    for oxygen in dict.fromkeys(one.gas for one in run.supplies if one.gas.o2 > RICH):
        yield "continuous flow", _with(run, (*helium, oxygen)), by_flow


def _sets(request: PlanRequest) -> Iterator[tuple[Mix, ...]]:
    """Yield all gases together, then those of each exact mixture of few."""
    gases = tuple(dict.fromkeys(supply.gas for supply in request.supplies))
    yield gases
    begin = start(request, gases_in_order(request))
    want = request.want
    total = begin.amount(want.mix, want.gauge_bar)
    exact = exact_amounts(begin.mixing, want.mix.o2, want.mix.he, total)
    for amounts in exact[:_MOST_SETS]:
        used = zip(begin.mixing.gases, used_in(amounts), strict=True)
        yield tuple(gas for gas, is_used in used if is_used)


def _with(request: PlanRequest, gases: Sequence[Mix]) -> PlanRequest:
    """Return a request with the supplies of some gases alone."""
    supplies = tuple(supply for supply in request.supplies if supply.gas in gases)
    known = {supply.name for supply in supplies}
    return replace(
        request, supplies=supplies, draw=tuple(name for name in request.draw if name in known)
    )


def _signature(plan: Plan) -> tuple[Any, ...]:
    """Return what makes two plans the same thing to do."""
    return tuple(
        (step.action, step.supply, round(step.to_bar or 0.0, 3), step.scale_g is None)
        for step in plan.steps
        if step.action not in ("rest", "analyse")
    )


# -- why ------------------------------------------------------------------------------------

_SAID = {
    "drained_m3": ("lets out less gas", "m3", 1.0),
    "cost": ("costs less", "", 1.0),
    "helium_m3": ("uses less helium", "m3", 1.0),
    "oxygen_m3": ("uses less oxygen", "m3", 1.0),
    "uncertainty": ("is surer of its mix", "points", 100.0),
    "minutes": ("is quicker", "min", 1.0),
}


def _explained(ranked: Sequence[Choice], criteria: Sequence[str]) -> Iterator[Choice]:
    """Yield each choice with the reason why it stands before the next."""
    for choice, after in pairwise(ranked):
        yield replace(choice, why=_why(choice.merits, after.merits, criteria))
    yield ranked[-1]


def _why(one: Merits, other: Merits, criteria: Sequence[str]) -> str:
    if rank(one, ())[0] != rank(other, ())[0]:
        return f"lands nearer: {one.miss * 100:.2f} points off, the next {other.miss * 100:.2f}"
    for criterion in criteria:
        name = CRITERIA[criterion]
        if _figure(one, name) != _figure(other, name):
            return _compared(name, getattr(one, name), getattr(other, name))
    return "is equal to the next in every figure"


def _compared(name: str, mine: float, theirs: float | None) -> str:
    said, unit, factor = _SAID[name]
    if theirs is None or math.isinf(theirs):
        return f"{said.split()[0]} what is known; of the next it is not known"
    figures = f"{mine * factor:.2f}", f"{theirs * factor:.2f}"
    unit = f" {unit}" if unit else ""
    return f"{said}: {figures[0]}{unit}, the next {figures[1]}{unit}"
