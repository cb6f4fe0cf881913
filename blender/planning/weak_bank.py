"""What can be done when the supplies fall short, and what would help: each planned for real.

First how far it gets, both ways: the wanted pressure with less of the mix, the wanted mix at
less pressure.  Then what would make the fill as it was asked: oxygen first; draining the
cylinder, so that the gas goes in at lower pressure; a bank of another purity; a booster; a
fuller bottle.  A way that does not land on the mix is not shown.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from blender.errors import NoFillError
from blender.gas import Mix
from blender.planning.alternatives import (
    Planner,
    bank_alternatives,
    largest,
    shown,
    tried,
    with_want,
)
from blender.planning.booster import Booster
from blender.planning.cautions import cautions
from blender.planning.draw import CompressorMaxError, ShortageError
from blender.planning.recipe import Plan
from blender.planning.rehearsal import Rehearsal
from blender.planning.request import GasAt, PlanRequest
from blender.planning.supplies import Supply, plain_name

# A common bottle, and how full it may be: common practice, no source.
EXTRA_L, FULLEST_BAR = 50.0, 300.0
# Less than this no booster is likely to take in: common practice, no source.
_LEAST_INLET_BAR = 5.0
_ON_TARGET = 1e-6
_DRAINS_TRIED = 12
_STEP_BAR = 0.05


def or_what_helps(request: PlanRequest, planner: Planner) -> Plan:
    """Plan, and where the supplies fall short say what can be done.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    planner : callable
        Makes a plan of a request, or raises `ShortageError`.

    Returns
    -------
    Plan
        The planner's.

    Raises
    ------
    NoFillError
        If there is none; where the supplies fall short, with what helps as alternatives.
    """
    try:
        return planner(request)
    except ShortageError as short:
        found = what_helps(request, planner, short)
        raise NoFillError(short.text, code=short.code, alternatives=found) from None


def what_helps(
    request: PlanRequest, planner: Planner, short: ShortageError
) -> list[dict[str, Any]]:
    """Return what a fill that falls short can become, and what would make it as asked.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    planner : callable
        Makes a plan of a request, or raises `NoFillError`.
    short : ShortageError
        Why it falls short.

    Returns
    -------
    list of dict
        Alternatives, JSON-ready, of kinds ``mix``, ``pressure``, ``order``, ``low-first``,
        ``drain``, ``second-bank``, ``booster`` and ``fuller-bottle``; for a stop above the
        compressor's maximum of kinds ``pressure`` and ``cool``.
    """
    if isinstance(short, CompressorMaxError):
        return [*_below_compressor(request, planner), *_cooled(request, planner)]
    return [*bank_alternatives(request, planner), *what_would_do(request, planner, short)]


def what_would_do(
    request: PlanRequest, planner: Planner, short: ShortageError
) -> list[dict[str, Any]]:
    """Return what would make the fill as it was asked.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    planner : callable
        Makes a plan of a request, or raises `NoFillError`.
    short : ShortageError
        Which gas falls short.

    Returns
    -------
    list of dict
        Alternatives, JSON-ready, of the last five kinds above.
    """
    if short.gas is None:
        return []
    return [
        *_usual_order(request, planner),
        *_drained(request, planner),
        *_other_purity(request, planner, short.gas),
        *_boosted(request, planner),
        *_fuller_bottle(request, planner, short.gas),
    ]


def _lands(plan: Plan | None) -> bool:
    """Tell whether a plan is the fill that was asked for."""
    if plan is None:
        return False
    want = plan.request.want
    if want.oxygen_only:
        return plan.result.o2 >= plan.request.oxygen_minimum
    miss = max(abs(plan.result.o2 - want.mix.o2), abs(plan.result.he - want.mix.he))
    return miss <= _ON_TARGET


# -- draining first -------------------------------------------------------------------------


def _drained(request: PlanRequest, planner: Planner) -> list[dict[str, Any]]:
    """Drain as little as makes the gas go in."""
    first = Rehearsal(request, request.residual())
    full_bar = first.gauge_bar(request.first_temperature_c)
    if full_bar < _STEP_BAR:
        return []

    def from_bar(gauge_bar: float) -> Plan | None:
        return tried(lambda asked: _after_drain(asked, planner, gauge_bar), request)

    found = next((bar for bar in _downwards(full_bar) if _lands(from_bar(bar))), None)
    if found is None:
        return []
    above_bar = found + full_bar / _DRAINS_TRIED
    drain_bar = _highest(lambda bar: _lands(from_bar(bar)), found, min(above_bar, full_bar))
    text = f"drain to {drain_bar:.1f} bar first and fill again: {{result}}"
    return shown("drain", text, lambda asked: _after_drain(asked, planner, drain_bar), request)


def _downwards(full_bar: float) -> Iterator[float]:
    for part in range(_DRAINS_TRIED - 1, -1, -1):
        yield full_bar * part / _DRAINS_TRIED


def _after_drain(request: PlanRequest, planner: Planner, gauge_bar: float) -> Plan:
    """Drain to a gauge pressure, let it rest, and plan from there."""
    first_c, residual = request.first_temperature_c, request.residual()
    left = replace(request, have=GasAt(gauge_bar, request.have.mix, first_c))
    begin = Rehearsal(request, residual)
    begin.drain(left.residual().total_mol / residual.total_mol, first_c)
    plan = planner(left)
    if any(step.action in ("drain", "purge") for step in plan.steps):
        raise NoFillError("it would be drained twice")
    steps = (*begin.steps, *plan.steps)
    told = cautions(request, steps, plan.result, plan.pressure_bar)
    return replace(plan, request=request, steps=steps, warnings=told)


# -- the order of the bottles ---------------------------------------------------------------


def _usual_order(request: PlanRequest, planner: Planner) -> list[dict[str, Any]]:
    """Open the lowest bottle first, where another order was asked for."""
    asked = replace(request, draw=())
    if not request.draw or not _lands(tried(planner, asked)):
        return []
    return shown("low-first", "the same fill, the lowest bottle first: {result}", planner, asked)


# -- other supplies ---------------------------------------------------------------------------


def _other_purity(request: PlanRequest, planner: Planner, weak: Mix) -> list[dict[str, Any]]:
    """Leave out the bank that is too weak, if another of another purity does."""
    others = tuple(supply for supply in request.supplies if supply.gas != weak)
    alike = [supply.gas for supply in others if (supply.gas.he > 0.0) == (weak.he > 0.0)]
    draw = tuple(name for name in request.draw if name in {supply.name for supply in others})
    asked = replace(request, supplies=others, draw=draw)
    if not alike or not _lands(tried(planner, asked)):
        return []
    named = " and ".join(plain_name(gas) for gas in dict.fromkeys(alike))
    text = f"with {named} in place of {plain_name(weak)}: {{result}}"
    return shown("second-bank", text, planner, asked)


def _boosted(request: PlanRequest, planner: Planner) -> list[dict[str, Any]]:
    """Use the least booster that does, if there is none."""
    if request.booster is not None:
        return []

    def with_inlet(inlet_bar: float) -> PlanRequest:
        return replace(request, booster=Booster(inlet_bar, math.inf, math.inf))

    def does(inlet_bar: float) -> bool:
        return _lands(tried(planner, with_inlet(inlet_bar)))

    if not does(_LEAST_INLET_BAR):
        return []
    asked = with_inlet(_highest(does, _LEAST_INLET_BAR, FULLEST_BAR))
    plan = tried(planner, asked)
    assert plan is not None
    pressed = [step for step in plan.steps if step.boosted]
    if not pressed:
        return []
    inlet_bar = min(step.supply_to_bar or 0.0 for step in pressed)
    outlet_bar = max(step.to_bar or 0.0 for step in pressed)
    ratio = max((step.to_bar or 0.0) / (step.supply_to_bar or 1.0) for step in pressed)
    text = (
        f"with a booster that still takes in {inlet_bar:.1f} bar, gives {outlet_bar:.1f} bar and "
        f"lifts {ratio:.2f} times: {{result}}"
    )
    return shown("booster", text, planner, asked)


def _fuller_bottle(request: PlanRequest, planner: Planner, weak: Mix) -> list[dict[str, Any]]:
    """Find the lowest pressure of one more bottle that does."""
    names = {supply.name for supply in request.supplies}
    name = next(n for n in ("extra", *(f"extra{i}" for i in range(2, 999))) if n not in names)
    named = any(s.gas == weak and s.name in request.draw for s in request.supplies)
    draw = (*request.draw, name) if named else request.draw

    def with_one(gauge_bar: float) -> PlanRequest:
        extra = Supply(name, weak, gauge_bar, EXTRA_L / 1000.0)
        return replace(request, supplies=(*request.supplies, extra), draw=draw)

    def does(down_bar: float) -> bool:
        return _lands(tried(planner, with_one(FULLEST_BAR - down_bar)))

    if not does(0.0):
        return []
    lowest_bar = FULLEST_BAR - _highest(does, 0.0, FULLEST_BAR)
    shows = math.ceil(lowest_bar * 10.0) / 10.0
    text = (
        f"with one more {EXTRA_L:.0f} L bottle of {plain_name(weak)} of at least {shows:.1f} bar: "
        "{result}"
    )
    return shown("fuller-bottle", text, planner, with_one(lowest_bar))


def _highest(does: Callable[[float], bool], low: float, high: float) -> float:
    """Return the highest value that does, to a twentieth of a bar; the lowest is known to."""
    while high - low > _STEP_BAR:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if does(middle) else (low, middle)
    return low


# -- the compressor ---------------------------------------------------------------------------


def _below_compressor(request: PlanRequest, planner: Planner) -> list[dict[str, Any]]:
    """Fill the wanted mix as high as the compressor goes."""
    want = request.want

    def at(gauge_bar: float) -> PlanRequest:
        return with_want(request, want.mix, gauge_bar)

    highest = largest(lambda bar: tried(planner, at(bar)) is not None, 0.0, want.gauge_bar)
    text = "the wanted gas as high as the compressor goes: {result}"
    return shown("pressure", text, planner, at(highest))


def _cooled(request: PlanRequest, planner: Planner) -> list[dict[str, Any]]:
    """Let every stop count at the temperature at which the fill settles."""
    have, settle_c = request.have, request.settle_at_c
    at_c = request.first_temperature_c if have.temperature_c is None else have.temperature_c
    asked = replace(request, have=replace(have, temperature_c=at_c), temperatures_c=(settle_c,))
    if request.temperatures_c == (settle_c,) or not _lands(tried(planner, asked)):
        return []
    text = f"let the gas come to {settle_c:g} degC at every stop, and top again: {{result}}"
    return shown("cool", text, planner, asked)
