"""Several fills, one after the other, from the same finite banks: in which order?

Each fill is planned with the banks as the ones before it leave them.  What counts is how many
can be done; of several orders that do as many, the one nearest to the order asked for is taken.
Up to seven fills every order is looked at, except where it cannot matter: fills alike are one,
and what cannot be filled from a bank cannot be filled from one that has less in every bottle.

Beyond seven a rule stands in for it.  Four orders are followed to their end, and the best kept:
as asked; the fill that draws least first; the one whose last bottle stop is highest first, while
the bottles are full; and at every place the fill that draws least just then.  Then every fill left
out is tried at every place, as long as that gets more done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, product

from blender.errors import InputError, NoFillError
from blender.planning import continuous_flow, oxygen, partial_pressure
from blender.planning import plan as make_plan
from blender.planning.asked_order import standing_after
from blender.planning.recipe import Plan
from blender.planning.request import PlanRequest
from blender.planning.supplies import Supply

MOST_EXACT = 7
MOST_FILLS = 48
_MOST_PLANS = 4000
_SAME_BAR = 1e-6


@dataclass(frozen=True, slots=True)
class Done:
    """A fill of a row: its place among those asked for, from 0, and its plan."""

    fill: int
    plan: Plan


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A fill that cannot be done.

    Parameters
    ----------
    fill : int
        Its place among those asked for, from 0.
    alone : bool
        Whether it could be done if it were the only one.
    error : NoFillError
        Why not, with the banks as the others leave them, and what is nearest.
    """

    fill: int
    alone: bool
    error: NoFillError


@dataclass(frozen=True, slots=True)
class Row:
    """An order of fills.

    Parameters
    ----------
    done : tuple of Done
        What can be done, in order, each planned with what those before it leave.
    left_out : tuple of LeftOut
        What cannot.
    supplies : tuple of Supply
        The supplies afterwards.
    is_exact : bool
        Whether every order was looked at.
    """

    done: tuple[Done, ...]
    left_out: tuple[LeftOut, ...]
    supplies: tuple[Supply, ...]
    is_exact: bool


def in_a_row(requests: Sequence[PlanRequest], supplies: tuple[Supply, ...]) -> Row:
    """Find an order of fills that gets the most of them done.

    Parameters
    ----------
    requests : sequence of PlanRequest
        The fills; their own supplies do not count.
    supplies : tuple of Supply
        What they share.

    Returns
    -------
    Row
        The order, the plans, and what cannot be done.

    Raises
    ------
    InputError
        If there are no fills, more than 48, or one cannot be planned with at all.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> from blender.planning.supplies import parse_supply
    >>> have, want = parse_gas_at("50bar:EAN32", "have"), parse_want("200bar:EAN32")
    >>> banks = tuple(parse_supply(f"b{i}=EAN32@{p}barx50L") for i, p in ((1, 200), (2, 230)))
    >>> row = in_a_row([PlanRequest(0.012, have, want)] * 3, banks)
    >>> len(row.done), [round(supply.gauge_bar, 1) for supply in row.supplies]
    (2, [144.6, 207.4])
    """
    if not 1 <= len(requests) <= MOST_FILLS:
        raise InputError("--fill", f"{len(requests)} fills", f"give 1 to {MOST_FILLS}")
    if any(request.tower for request in requests):
        allowed = "after the first fill the tower holds new gas; plan the fills one by one"
        raise InputError("--tower", "a filter tower with fills in a row", allowed)
    desk = _Desk(tuple(requests))
    everything = tuple(range(len(requests)))
    desk.check(supplies)
    is_exact = len(requests) <= MOST_EXACT
    row = (
        _searched(desk, everything, supplies) if is_exact else _by_rule(desk, everything, supplies)
    )
    rest = [fill for fill in everything if fill not in row.fills]
    left_out = tuple(desk.why_not(rest, supplies, row.supplies))
    return Row(desk.told(row.fills, supplies), left_out, row.supplies, is_exact)


def after(supplies: Iterable[Supply], plan: Plan) -> tuple[Supply, ...]:
    """Supplies as a plan leaves them.

    Parameters
    ----------
    supplies : iterable of Supply
        As they were.
    plan : Plan
        The plan.

    Returns
    -------
    tuple of Supply
        As they are then.
    """
    standing = standing_after(plan)
    return tuple(replace(s, gauge_bar=standing.get(s.name, s.gauge_bar)) for s in supplies)


@dataclass(frozen=True, slots=True)
class _Desk:
    """Plans fills, and keeps the plans it has made."""

    requests: tuple[PlanRequest, ...]
    kept: dict[tuple[PlanRequest, tuple[Supply, ...]], Plan | None] = field(default_factory=dict)

    def check(self, supplies: tuple[Supply, ...]) -> None:
        """Refuse what cannot be planned with at all, before anything is looked for."""
        for place, request in enumerate(self.requests, start=1):
            try:
                _attempt(replace(request, supplies=supplies))
            except NoFillError:
                continue
            except InputError as error:
                where = f"fill {place}, {error.field}"
                raise InputError(where, error.given, error.allowed, code=error.code) from error

    def told(self, fills: Iterable[int], supplies: tuple[Supply, ...]) -> tuple[Done, ...]:
        """Return the plans of an order, with all that is to be said of them."""
        done = []
        for fill in fills:
            done.append(Done(fill, make_plan(replace(self.requests[fill], supplies=supplies))))
            supplies = after(supplies, done[-1].plan)
        return tuple(done)

    def plan(self, fill: int, supplies: tuple[Supply, ...]) -> Plan | None:
        """Return the plan of a fill, None if there is none."""
        key = (self.requests[fill], supplies)
        if key not in self.kept:
            self.kept[key] = _planned(replace(self.requests[fill], supplies=supplies))
        return self.kept[key]

    def why_not(
        self, fills: Iterable[int], before: tuple[Supply, ...], supplies: tuple[Supply, ...]
    ) -> Iterator[LeftOut]:
        """Say why fills cannot be done after the others; those alike for the same reason."""
        errors: dict[PlanRequest, NoFillError] = {}
        for fill in fills:
            request = self.requests[fill]
            if request not in errors:
                errors[request] = _reason(replace(request, supplies=supplies))
            yield LeftOut(fill, self.plan(fill, before) is not None, errors[request])


def _reason(request: PlanRequest) -> NoFillError:
    try:
        make_plan(request)
    except NoFillError as error:
        return error
    except InputError as error:  # with what is left, another list of temperatures is needed
        return NoFillError(error.text, code=error.code)
    raise AssertionError("a fill that can be done was left out")


def _planned(request: PlanRequest) -> Plan | None:
    try:
        return _attempt(request)
    except (NoFillError, InputError):
        return None


def _attempt(request: PlanRequest) -> Plan:
    """Plan without looking for alternatives, which takes a hundred times as long."""
    limit_bar = request.limit_bar
    if request.way or (limit_bar is not None and request.want.gauge_bar > limit_bar):
        return make_plan(request)
    if request.method == "continuous-flow":
        return continuous_flow.attempt(request)
    if request.method != "partial-pressure":
        return make_plan(request)
    is_oxygen = request.want.oxygen_only
    return oxygen.attempt(request) if is_oxygen else partial_pressure.attempt(request)


@dataclass(frozen=True, slots=True)
class _Order:
    """An order so far, and the supplies after it."""

    done: tuple[Done, ...]
    supplies: tuple[Supply, ...]

    @property
    def fills(self) -> tuple[int, ...]:
        """The fills done."""
        return tuple(one.fill for one in self.done)

    def and_then(self, fill: int, plan: Plan) -> _Order:
        """Return the order with one more."""
        return _Order((*self.done, Done(fill, plan)), after(self.supplies, plan))


# -- every order ----------------------------------------------------------------------------


def _searched(desk: _Desk, fills: tuple[int, ...], supplies: tuple[Supply, ...]) -> _Order:
    """Look at every order, the one asked for first."""
    seen: dict[frozenset[int], list[tuple[float, ...]]] = {}
    best = begin = _Order((), supplies)

    def go(here: _Order) -> None:
        nonlocal best
        if len(here.done) > len(best.done):
            best = here
        possible = [
            (fill, plan)
            for fill in fills
            if fill not in here.fills and (plan := desk.plan(fill, here.supplies)) is not None
        ]
        if len(here.done) + len(possible) <= len(best.done) or _seen(seen, here):
            return
        tried: list[PlanRequest] = []
        for fill, plan in possible:
            if len(best.done) == len(fills) or desk.requests[fill] in tried:
                continue
            tried.append(desk.requests[fill])
            go(here.and_then(fill, plan))

    go(begin)
    return best


def _seen(seen: dict[frozenset[int], list[tuple[float, ...]]], here: _Order) -> bool:
    """Tell whether the same fills were done before with as much left in every bottle."""
    standing = tuple(s.gauge_bar for s in here.supplies if s.gauge_bar is not None)
    others = seen.setdefault(frozenset(here.fills), [])
    if any(all(a >= b - _SAME_BAR for a, b in zip(o, standing, strict=True)) for o in others):
        return True
    others.append(standing)
    return False


# -- by rule --------------------------------------------------------------------------------


def _by_rule(desk: _Desk, fills: tuple[int, ...], supplies: tuple[Supply, ...]) -> _Order:
    """Follow a few orders and keep the best."""

    def first(fill: int, key: Callable[[Plan], float]) -> float:
        plan = desk.plan(fill, supplies)
        return 0.0 if plan is None else key(plan)

    orders = (
        fills,
        sorted(fills, key=lambda fill: first(fill, _drawn)),
        sorted(fills, key=lambda fill: -first(fill, _highest_stop)),
    )
    rows = [_followed(desk, order, supplies) for order in orders]
    rows.append(_least_next(desk, fills, supplies))
    best = max(rows, key=lambda row: len(row.done))
    for _ in fills:
        better = _with_one_more(desk, best, fills, supplies)
        if better is None:
            break
        best = better
    return best


def _with_one_more(
    desk: _Desk, row: _Order, fills: tuple[int, ...], supplies: tuple[Supply, ...]
) -> _Order | None:
    """Put a fill left out somewhere between the others; None if that gets no more done."""
    rest = [fill for fill in fills if fill not in row.fills]
    places = product(rest, range(len(row.done) + 1))
    for fill, place in islice(places, _MOST_PLANS // len(fills)):
        others = (other for other in rest if other != fill)
        order = (*row.fills[:place], fill, *row.fills[place:], *others)
        found = _followed(desk, order, supplies)
        if len(found.done) > len(row.done):
            return found
    return None


def _followed(desk: _Desk, order: Iterable[int], supplies: tuple[Supply, ...]) -> _Order:
    row = _Order((), supplies)
    for fill in order:
        plan = desk.plan(fill, row.supplies)
        row = row if plan is None else row.and_then(fill, plan)
    return row


def _least_next(desk: _Desk, fills: tuple[int, ...], supplies: tuple[Supply, ...]) -> _Order:
    row = _Order((), supplies)
    while True:
        rest = [fill for fill in fills if fill not in row.fills]
        plans = [(fill, plan) for fill in rest if (plan := desk.plan(fill, row.supplies))]
        if not plans:
            return row
        row = row.and_then(*min(plans, key=lambda found: _drawn(found[1])))


def _drawn(plan: Plan) -> float:
    """Amount a plan takes from bottles [mol]."""
    return sum(step.amount_mol or 0.0 for step in plan.steps if step.supply_to_bar is not None)


def _highest_stop(plan: Plan) -> float:
    """Highest stop a bottle has to reach [bar]."""
    return max((s.to_bar or 0.0 for s in plan.steps if s.supply_to_bar is not None), default=0.0)
