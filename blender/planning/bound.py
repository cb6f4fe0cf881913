"""A bound on what bottles can give, which settles most shortages before anything is carried out.

What is in the cylinder only stands against a gas, so that one that can go in after all the others
may as well: taking such a gas away again and again finds an order wherever there is one.  Every
stop counts as the coldest, and a whip as costing nothing, so that the answer errs on one side.
"""

from __future__ import annotations

import math

from blender.gas import Mix
from blender.planning.blend import Blend, Start
from blender.planning.cascade import Tap
from blender.planning.supplies import Supply, bottle_contents
from blender.planning.whip import Whip
from blender.vessel import Contents

_SLACK = 1e-9  # of all that is in the cylinder in the end

Added = tuple[tuple[Mix, float], ...]


def out_of_reach(begin: Start, blend: Blend) -> bool:
    """Tell whether the bottles cannot give a blend, in whatever order.

    Parameters
    ----------
    begin : Start
        The request and what is in the cylinder.
    blend : Blend
        The amounts.

    Returns
    -------
    bool
        True if there is no such order; False says nothing where there is a whip or a list of
        temperatures, or a compressor that does not reach every stop.
    """
    if begin.request.booster is not None:
        return False
    left = begin.residual.kept(blend.kept)
    slack_mol, rest = _SLACK * blend.result.total_mol, blend.added
    while rest:
        for last in _fullest_first(begin, rest):
            others = tuple(one for one in rest if one != last)
            if _missing_mol(begin, _holding(left, others), *last) <= slack_mol:
                rest = others
                break
        else:
            return True
    return False


def _fullest_first(begin: Start, added: Added) -> list[tuple[Mix, float]]:
    """Return the gases, likely last ones first: without end, then by their fullest bottle."""

    def fullest_bar(one: tuple[Mix, float]) -> float:
        bottles = _bottles(begin, one[0])
        return math.inf if bottles is None else max(b.gauge_bar or 0.0 for b in bottles)

    return sorted(added, key=fullest_bar, reverse=True)


def _bottles(begin: Start, gas: Mix) -> list[Supply] | None:
    """Return the bottles of a gas, the lowest first; None if a source of it has no end."""
    mine = [supply for supply in begin.request.supplies if supply.gas == gas]
    if gas == begin.request.top or any(supply.gauge_bar is None for supply in mine):
        return None
    return sorted(mine, key=lambda one: one.gauge_bar or 0.0)


def _holding(left: Contents, added: Added) -> Contents:
    for gas, mol in added:
        left = left.with_gas(gas, mol)
    return left


def _missing_mol(begin: Start, cylinder: Contents, gas: Mix, wanted_mol: float) -> float:
    """Return what a gas's bottles cannot give into a cylinder [mol]; 0 if a source has no end."""
    request, bottles = begin.request, _bottles(begin, gas)
    if bottles is None:
        return 0.0
    around, pairs = request.ambient_bar, request.pairs
    tap = Tap(gas, min(request.temperatures_c), around, Whip(0.0, around, pairs))
    # What is left in a whip goes in without its bottle standing above the cylinder.
    missing_mol = wanted_mol - Whip(request.whip_m3, around, pairs).left(gas)
    for supply in bottles:
        if missing_mol <= 0.0:
            break
        bottle = bottle_contents(supply, around, pairs)
        given_mol = tap.offer(bottle, cylinder, missing_mol).amount_mol
        cylinder, missing_mol = cylinder.with_gas(gas, given_mol), missing_mol - given_mol
    return missing_mol
