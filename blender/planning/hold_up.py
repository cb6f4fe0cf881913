"""Hold-up: what a filter tower still holds goes into the cylinder first.

The tower is taken to be pushed out whole, and as much of the new gas goes into it meanwhile.
While it goes in the intake is already held where the rest of the fill needs it.  A plan may end
before the tower is spent.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from blender.errors import NoFillError
from blender.gas import Mix
from blender.planning.blend import Blend, Goal, Start, best_blends, settled
from blender.planning.intake import Intake
from blender.planning.request import PlanRequest
from blender.planning.solve import NOTHING, Amounts, exact_amounts, nearest_amounts
from blender.planning.supplies import plain_name
from blender.vessel import Contents


@dataclass(frozen=True, slots=True)
class Filled:
    """A blend, and how much of a tower's old gas is in it [mol]; `blend.added` leaves that out."""

    blend: Blend
    tower_mol: float = 0.0


def after_hold_up(contents: Contents, tower: Contents) -> Contents:
    """What a cylinder holds when a filter tower's old gas has gone in first.

    Parameters
    ----------
    contents : Contents
        What the cylinder held.
    tower : Contents
        What the tower held: all of it is pushed out.

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


def old_gas(request: PlanRequest) -> Contents | None:
    """Return what stands in the tower, None if the plan does not allow for one.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Contents or None
        At the temperature of the residual, unless the tower has its own.
    """
    if request.tower is None:
        return None
    return request.tower.contents(request.first_temperature_c, request.ambient_bar, request.pairs)


def filled(begin: Start, goal: Goal, intake: Intake, tower: Contents | None) -> Filled:
    """Find the best blend, with a tower's old gas going in before what is delivered.

    Parameters
    ----------
    begin : Start
        What there is to mix.
    goal : Goal
        What is wanted.
    intake : Intake
        Which of the gases go through the compressor.
    tower : Contents or None
        What the tower holds; None if there is nothing to allow for.

    Returns
    -------
    Filled
        The nearest; of several as near the one that drains least.

    Raises
    ------
    NoFillError
        If the cylinder cannot be drained far enough, or the tower holds more than goes in.
    """
    if tower is None:
        return Filled(next(best_blends(begin, goal)))
    found = [*_spent(begin, goal, tower), *_not_spent(begin, goal, intake, tower)]
    if not found:
        raise NoFillError(
            f"the filter tower still holds {tower.total_mol:.2f} mol of {plain_name(tower.mix)}, "
            "more than goes into the cylinder; purge the tower first",
            code="tower",
        )
    return min(found, key=lambda one: (round(one.blend.miss(goal), 9), -one.blend.kept))


def _spent(begin: Start, goal: Goal, tower: Contents) -> Iterator[Filled]:
    """Yield the fill in which all of the tower's gas goes in, and then what is delivered."""
    mixing = begin.mixing

    def best(total_mol: float) -> Amounts | None:
        rest_mol = total_mol - tower.total_mol
        if rest_mol <= NOTHING * total_mol:
            return None
        o2, he = (
            (wanted * total_mol - there * tower.total_mol) / rest_mol
            for wanted, there in ((goal.o2, tower.mix.o2), (goal.he, tower.mix.he))
        )
        exact = exact_amounts(mixing, o2, he, rest_mol)
        if exact:
            return _and_tower(exact[0], tower)
        nearest = nearest_amounts(mixing, o2, he, rest_mol)
        return _and_tower(nearest.amounts, tower) if nearest else None

    gases = (*mixing.gases, tower.mix)
    whole = settled(replace(begin, mixing=replace(mixing, gases=gases)), goal.gauge_bar, best)
    if whole is not None:
        yield Filled(replace(whole, added=whole.added[:-1]), tower.total_mol)


def _and_tower(amounts: Amounts, tower: Contents) -> Amounts:
    return Amounts(amounts.kept, (*amounts.added_mol, tower.total_mol))


def _not_spent(begin: Start, goal: Goal, intake: Intake, tower: Contents) -> Iterator[Filled]:
    """Yield the fill that ends before the tower is spent, if there is one."""
    known = intake.shares()
    before: tuple[Mix, ...] = tuple(gas for gas in begin.mixing.gases if gas not in known)
    if tower.mix in before:
        return
    mixing = replace(begin.mixing, gases=(*before, tower.mix))
    blend = next(best_blends(replace(begin, mixing=mixing), goal))
    tower_mol = sum(mol for gas, mol in blend.added if gas == tower.mix)
    if tower_mol <= tower.total_mol:
        added = tuple((gas, mol) for gas, mol in blend.added if gas != tower.mix)
        yield Filled(replace(blend, added=added), tower_mol)
