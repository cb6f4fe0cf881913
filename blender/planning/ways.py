"""Ways on from a gas that is not what was wanted: after an overshoot, or after analysis.

The request's `have` is what the cylinder holds now, calculated or, better, analysed.  Each way
is a plan of its own.  A bleed takes out gas as it is where it leaves: until the gas has mixed
and been analysed it may be anything between the layers, so the way that drains asks for that
first, and comes after every way that lands without one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from blender.errors import InputError, NoFillError
from blender.planning.blend import Goal, best_blends, start
from blender.planning.draw import ShortageError
from blender.planning.partial_pressure import carried_out, gases_in_order, plan_partial_pressure
from blender.planning.recipe import Plan
from blender.planning.rehearsal import Rehearsal
from blender.planning.request import PlanRequest
from blender.vessel import added_to_reach

# Analysed within a point of the request is the usual working tolerance: common practice, no source.
TOLERANCE = 0.01
_SAME = 1e-9
_ON_TARGET = 1e-6


@dataclass(frozen=True, slots=True)
class Way:
    """One way on.

    Parameters
    ----------
    kind : str
        ``no-bleed``, ``fill-on``, ``bleed``, ``top``, ``limit`` or ``leave``.
    plan : Plan
        What to do.
    miss : float
        The larger of what O2 and helium miss the wanted mix by [1].
    """

    kind: str
    plan: Plan
    miss: float

    @property
    def drains(self) -> bool:
        """Whether gas is let out."""
        return any(step.action == "drain" for step in self.plan.steps)

    @property
    def text(self) -> str:
        """The way in one sentence, with where it leads."""
        result, bar = self.plan.result, self.plan.pressure_bar
        helium = f" / {result.he:.2%} He" if result.he > 1e-6 else ""
        said = f"{_TEXTS[self.kind]}: {result.o2:.2%} O2{helium} at {bar:.1f} bar"
        if self.drains:
            to_bar = next(step.to_bar for step in self.plan.steps if step.action == "drain")
            return f"{said}; rest and analyse first, then drain to {to_bar:.1f} bar"
        return said if self.miss <= TOLERANCE else f"{said}, to be labelled as analysed"

    def as_dict(self) -> dict[str, Any]:
        """The way JSON-ready."""
        described = self.plan.as_dict()
        described.pop("request")
        return {"kind": self.kind, "text": self.text, "miss": self.miss, **described}


def ways(request: PlanRequest) -> tuple[Way, ...]:
    """Return every way on that is possible, the one to be preferred first.

    Parameters
    ----------
    request : PlanRequest
        With `have` as it is now, and `limit_bar` as far as the cylinder may be filled.

    Returns
    -------
    tuple of Way
        First what lands on the mix without letting gas out, then what lands with a bleed,
        then the rest by how far they miss.  What is there can be left.

    Raises
    ------
    InputError
        If it comes with what belongs to a run of the compressor alone.
    NoFillError
        If there is more in it already than it may hold.

    Examples
    --------
    An oxygen stop of 84.4 bar overshot to 92:

    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> now = parse_gas_at("92bar:0.53397/0", "have")
    >>> [way.kind for way in ways(PlanRequest(0.012, now, parse_want("230bar:EAN32")))]
    ['bleed', 'top', 'leave']
    """
    request.check_plain("ways on")
    found: list[Way] = []
    for kind in _MAKERS:
        way = _tried(kind, request)
        is_new = way is not None and all(_differs(way, other) for other in found)
        if way is not None and (is_new or kind == "leave"):
            found.append(way)
    if not found:
        here, most = request.have.gauge_bar, request.limit_bar or 0.0
        text = f"it shows {here:.1f} bar and may hold {most:.1f} bar: drain it to that first"
        raise NoFillError(text, code="limit")
    return tuple(sorted(found, key=_rank))


def one_way(request: PlanRequest, kind: str) -> Plan:
    """Return the plan of one way.

    Parameters
    ----------
    request : PlanRequest
        As above.
    kind : str
        Which way.

    Returns
    -------
    Plan
        What to do.

    Raises
    ------
    InputError
        If there is no such kind.
    NoFillError
        If that way is not possible; the ways that are come as alternatives.
    """
    if kind not in _MAKERS:
        raise InputError("--way", repr(kind), f"the ways are {', '.join(_MAKERS)}")
    way = _tried(kind, request)
    if way is None:
        others = [other.as_dict() for other in ways(request)]
        text = f"there is no way '{kind}' from what the cylinder holds now"
        raise NoFillError(text, code="way", alternatives=others)
    return way.plan


def _rank(way: Way) -> tuple[bool, bool, float, float]:
    lands = way.miss <= _ON_TARGET
    moved = sum(step.amount_mol or 0.0 for step in way.plan.steps)
    return (not lands, way.drains, round(way.miss, 6), moved)


def _tried(kind: str, request: PlanRequest) -> Way | None:
    # A list of temperatures was meant for the gases of the first plan.
    asked = replace(request, temperatures_c=request.temperatures_c[:1])
    try:
        made = _MAKERS[kind](asked)
    except (NoFillError, InputError):
        return None
    if made is None or _above_limit(asked, made):
        return None
    return Way(kind, made, _miss(request, made))


def _above_limit(request: PlanRequest, made: Plan) -> bool:
    return request.limit_bar is not None and made.pressure_bar > request.limit_bar + _SAME


def _miss(request: PlanRequest, made: Plan) -> float:
    want = request.want
    if want.oxygen_only:
        return max(request.oxygen_minimum - made.result.o2, made.result.he, 0.0)
    return max(abs(made.result.o2 - want.mix.o2), abs(made.result.he - want.mix.he))


def _differs(one: Way, other: Way) -> bool:
    actions = tuple((s.action, s.supply, s.to_bar) for s in one.plan.steps)
    same = len(actions) == len(other.plan.steps) and all(
        action == step.action and supply == step.supply and _near(to_bar, step.to_bar)
        for (action, supply, to_bar), step in zip(actions, other.plan.steps, strict=True)
    )
    return not same


def _near(one: float | None, other: float | None) -> bool:
    return one == other or (one is not None and other is not None and abs(one - other) < 1e-3)


# -- the ways ------------------------------------------------------------------------------


def _no_bleed(request: PlanRequest) -> Plan | None:
    """Add what brings it nearest, letting nothing out."""
    begin = start(request, gases_in_order(request))
    kept = replace(begin, mixing=replace(begin.mixing, least_kept=1.0))
    goal = Goal(request.want.mix.o2, request.want.mix.he, request.want.gauge_bar)
    for blend in best_blends(kept, goal):
        try:
            return carried_out(kept, blend)
        except ShortageError:
            continue
    return None


def _fill_on(request: PlanRequest) -> Plan | None:
    """Go beyond the wanted pressure with top gas, to where the oxygen is right."""
    held, want, top = request.residual(), request.want.mix, request.top
    if request.limit_bar is None or abs(want.o2 - top.o2) < _SAME:
        return None
    amount_mol = held.total_mol * (held.mix.o2 - want.o2) / (want.o2 - top.o2)
    if amount_mol <= 0.0:
        return None
    made = _with_top(request, amount_mol)
    beyond = made.pressure_bar > request.want.gauge_bar
    return made if beyond and abs(made.result.he - want.he) < _ON_TARGET else None


def _top(request: PlanRequest) -> Plan | None:
    """Go on to the wanted pressure as if nothing had happened."""
    return _topped(request, request.want.gauge_bar)


def _limit(request: PlanRequest) -> Plan | None:
    """Go on to as much as the cylinder may hold."""
    if request.limit_bar is None or request.limit_bar <= request.want.gauge_bar:
        return None
    return _topped(request, request.limit_bar)


def _topped(request: PlanRequest, gauge_bar: float) -> Plan | None:
    held, settle_c, around = request.residual(), request.settle_at_c, request.ambient_bar
    if held.gauge_bar(settle_c, around) >= gauge_bar:
        return None
    return _with_top(request, added_to_reach(held, request.top, gauge_bar, settle_c, around))


def _with_top(request: PlanRequest, amount_mol: float) -> Plan:
    rehearsal = Rehearsal(request, request.residual())
    rehearsal.add(request.top, amount_mol, request.first_temperature_c)
    return rehearsal.finished()


def _leave(request: PlanRequest) -> Plan | None:
    """Leave it as it is."""
    return Rehearsal(request, request.residual()).finished()


_MAKERS: dict[str, Callable[[PlanRequest], Plan | None]] = {
    "top": _top,
    "no-bleed": _no_bleed,
    "fill-on": _fill_on,
    "bleed": plan_partial_pressure,
    "limit": _limit,
    "leave": _leave,
}
_TEXTS = {
    "no-bleed": "let nothing out and add what brings it nearest",
    "fill-on": "fill on with top gas to where the oxygen is right",
    "bleed": "drain some and fill again",
    "top": "top up to the wanted pressure",
    "limit": "top up to as much as the cylinder may hold",
    "leave": "leave it as it is",
}
