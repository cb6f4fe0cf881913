"""From a wanted pressure to amounts: the total depends on the mix, the mix on the amounts.

Wanted O2 and helium are met whatever the total is, but how much of the rest is argon
depends on the amounts, and a little on that the density.  The loop below converges by a
factor of about a thousand each time round.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from itertools import compress

from blender.errors import NoFillError
from blender.gas import Mix
from blender.planning.request import PlanRequest
from blender.planning.solve import Amounts, Mixing, exact_amounts, nearest_amounts
from blender.units import bar_to_pa, c_to_k
from blender.vessel import Contents, amount_for_pressure, mixture

_CONVERGED = 1e-13
_ROUNDS = 40
_MOST_WAYS = 4

# Gives the amounts for a total [mol], or None if there are none.
Chooser = Callable[[float], Amounts | None]


@dataclass(frozen=True, slots=True)
class Goal:
    """A mix at a settled gauge pressure [bar]."""

    o2: float
    he: float
    gauge_bar: float


@dataclass(frozen=True, slots=True)
class Blend:
    """What stays of the residual, what is let in, and what results.

    Parameters
    ----------
    kept : float
        Fraction of the residual kept [1].
    added : tuple of (Mix, float)
        Gases let in and their amounts [mol].
    result : Contents
        What the cylinder holds in the end.
    """

    kept: float
    added: tuple[tuple[Mix, float], ...]
    result: Contents

    def miss(self, goal: Goal) -> float:
        """Return the larger of the O2 and helium misses [1].

        Parameters
        ----------
        goal : Goal
            What was wanted.

        Returns
        -------
        float
            The larger difference of mole fractions [1].
        """
        mix = self.result.mix
        return max(abs(mix.o2 - goal.o2), abs(mix.he - goal.he))


@dataclass(frozen=True, slots=True)
class Start:
    """A request made ready for solving: residual, gases, and how far it can be drained."""

    request: PlanRequest
    residual: Contents
    mixing: Mixing

    def amount(self, gas: Mix, gauge_bar: float) -> float:
        """Amount of a gas that settles at a gauge pressure [mol].

        Parameters
        ----------
        gas : Mix
            The gas.
        gauge_bar : float
            Settled gauge pressure [bar].

        Returns
        -------
        float
            Amount [mol].
        """
        request = self.request
        return amount_for_pressure(
            gas,
            gauge_bar,
            request.settle_at_c,
            request.volume_m3,
            request.ambient_bar,
            request.pairs,
        )


def start(request: PlanRequest, gases: tuple[Mix, ...]) -> Start:
    """Return the residual of a request and what there is to mix.

    Helium is left out where none is wanted: it could only dilute, and nobody wants it in
    a nitrox cylinder.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    gases : tuple of Mix
        The gases that can be let in, no two alike.

    Returns
    -------
    Start
        Ready for `best_blends`.
    """
    residual = request.residual()
    if request.want.mix.he == 0.0:
        gases = tuple(gas for gas in gases if gas.he == 0.0) or gases
    return Start(
        request,
        residual,
        Mixing(residual.total_mol, residual.mix, least_kept(request, residual), gases),
    )


def least_kept(request: PlanRequest, residual: Contents) -> float:
    """Fraction of the residual that stays when it is drained to zero on the gauge [1].

    Parameters
    ----------
    request : PlanRequest
        For the temperature of the gas and the ambient pressure.
    residual : Contents
        What is in the cylinder.

    Returns
    -------
    float
        Fraction [1], 1 if there is no pressure to drain.
    """
    state = mixture(residual.mix.fractions, residual.pairs)
    density = state.density(c_to_k(request.first_temperature_c), bar_to_pa(request.ambient_bar))
    return min(1.0, density * residual.volume_m3 / residual.total_mol)


def best_blends(begin: Start, goal: Goal) -> Iterator[Blend]:
    """Yield the blends that make a goal exactly, best first, or else the nearest alone.

    Parameters
    ----------
    begin : Start
        What there is to mix.
    goal : Goal
        What is wanted.

    Yields
    ------
    Blend
        The first uses the fewest gases; the later ones serve when bottles run short.

    Raises
    ------
    NoFillError
        If the cylinder cannot be drained far enough.
    """

    def best(total_mol: float) -> Amounts | None:
        exact = exact_amounts(begin.mixing, goal.o2, goal.he, total_mol)
        if exact:
            return exact[0]
        nearest = nearest_amounts(begin.mixing, goal.o2, goal.he, total_mol)
        return nearest.amounts if nearest else None

    first = settled(begin, goal.gauge_bar, best)
    if first is None:
        raise NoFillError(
            "the wanted pressure is less than what the emptied cylinder still holds; "
            "ask for a higher pressure",
            code="drain",
        )
    yield first
    for choose in _others(begin, goal, first.result.total_mol):
        blend = settled(begin, goal.gauge_bar, choose)
        if blend is not None:
            yield blend


def _others(begin: Start, goal: Goal, total_mol: float) -> Iterator[Chooser]:
    """Yield other ways to choose exact amounts: other gases, then the best two shared.

    Sharing serves where no set of gases has enough in its bottles, but two together have.
    """
    exact = exact_amounts(begin.mixing, goal.o2, goal.he, total_mol)[:_MOST_WAYS]
    ways = [partial(alike, begin, goal, used_in(amounts)) for amounts in exact]
    yield from ways[1:]
    if len(ways) > 1:
        for eighths in range(7, 0, -1):
            yield partial(shared, ways[0], ways[1], eighths / 8.0)


def used_in(amounts: Amounts) -> tuple[bool, ...]:
    """Tell of each gas whether any of it is let in.

    Parameters
    ----------
    amounts : Amounts
        The solution.

    Returns
    -------
    tuple of bool
        One for each gas.
    """
    return tuple(mol > 0.0 for mol in amounts.added_mol)


def alike(begin: Start, goal: Goal, used: tuple[bool, ...], total_mol: float) -> Amounts | None:
    """Return the exact amounts for a total that use certain gases, all of them and no others.

    Parameters
    ----------
    begin : Start
        What there is to mix.
    goal : Goal
        What is wanted.
    used : tuple of bool
        Which of the gases, as of `used_in`.
    total_mol : float
        The total [mol].

    Returns
    -------
    Amounts or None
        None if there are none.
    """
    gases = tuple(compress(begin.mixing.gases, used))
    alone = replace(begin.mixing, gases=gases)
    exact = exact_amounts(alone, goal.o2, goal.he, total_mol)
    found = next((amounts for amounts in exact if all(used_in(amounts))), None)
    if found is None:
        return None
    mol = iter(found.added_mol)
    return Amounts(found.kept, tuple(next(mol) if is_used else 0.0 for is_used in used))


def shared(one: Chooser, other: Chooser, share: float, total_mol: float) -> Amounts | None:
    """Return a share of one solution and the rest of another: a solution as well.

    Parameters
    ----------
    one, other : callable
        Give the amounts for a total [mol], or None if there are none.
    share : float
        Share of the first [1].
    total_mol : float
        The total [mol].

    Returns
    -------
    Amounts or None
        None if either has none.
    """
    first, second = one(total_mol), other(total_mol)
    if first is None or second is None:
        return None

    def mean(a: float, b: float) -> float:
        return share * a + (1.0 - share) * b

    added = zip(first.added_mol, second.added_mol, strict=True)
    return Amounts(mean(first.kept, second.kept), tuple(mean(a, b) for a, b in added))


def settled(begin: Start, gauge_bar: float, choose: Chooser) -> Blend | None:
    """Find the total whose mix makes a settled gauge pressure with just that total.

    Parameters
    ----------
    begin : Start
        What there is to mix.
    gauge_bar : float
        The settled gauge pressure [bar].
    choose : callable
        Gives the amounts for a total [mol], or None if there are none.

    Returns
    -------
    Blend or None
        None if there are no amounts.
    """
    total_mol = begin.amount(begin.request.want.mix, gauge_bar)
    for _ in range(_ROUNDS):
        amounts = choose(total_mol)
        if amounts is None:
            return None
        blend = _blend(begin, amounts)
        before, total_mol = total_mol, begin.amount(blend.result.mix, gauge_bar)
        if abs(total_mol - before) <= _CONVERGED * total_mol:
            break
    return blend


def _blend(begin: Start, amounts: Amounts) -> Blend:
    added = tuple(
        (gas, mol)
        for gas, mol in zip(begin.mixing.gases, amounts.added_mol, strict=True)
        if mol > 0.0
    )
    result = begin.residual.kept(amounts.kept)
    for gas, mol in added:
        result = result.with_gas(gas, mol)
    return Blend(amounts.kept, added, result)
