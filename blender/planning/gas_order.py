"""In which order the gases of a recipe go in: what the pressures of their banks allow."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import permutations

from blender.gas import Mix
from blender.planning.blend import Blend, Start
from blender.planning.bound import out_of_reach
from blender.planning.draw import ShortageError
from blender.planning.partial_pressure import carried_out, lowest_bar
from blender.planning.recipe import Plan
from blender.planning.request import ROLES, PlanRequest
from blender.planning.supplies import TOP_NAME

Added = tuple[tuple[Mix, float], ...]


def in_some_order(begin: Start, blend: Blend) -> Plan:
    """Write a recipe down in the first order of its gases that its bottles allow.

    Parameters
    ----------
    begin : Start
        The request and what is in the cylinder.
    blend : Blend
        The recipe.

    Returns
    -------
    Plan
        The lowest bank first, if that does; only in the order that was asked for, if one was.

    Raises
    ------
    ShortageError
        If no order does; it is that of the first.
    """
    short: ShortageError | None = None
    for added in _orders(begin.request, blend.added):
        try:
            return carried_out(begin, replace(blend, added=added))
        except ShortageError as error:
            short = short or error
            if out_of_reach(begin, blend):
                break
    assert short is not None  # there is at least one order
    raise short


def _orders(request: PlanRequest, added: Added) -> Iterator[Added]:
    """Yield orders of the gases: the lowest bank first, then the others if they may help.

    An order that was asked for (`--order`) stands alone.
    """
    rising = tuple(sorted(added, key=lambda one: _rank(request)(one[0])))
    if request.order != ROLES:
        yield tuple(sorted(rising, key=lambda one: request.order.index(_role(request, one[0]))))
        return
    limited = sum(lowest_bar(request, gas) < math.inf for gas, _ in added)
    if limited > 1 or request.compressor_max_bar is not None:
        yield from permutations(rising)
    else:
        yield rising


def _rank(request: PlanRequest) -> Callable[[Mix], tuple[float, int, float]]:
    return lambda gas: (
        lowest_bar(request, gas),
        request.order.index(_role(request, gas)),
        -gas.o2,
    )


def _role(request: PlanRequest, gas: Mix) -> str:
    if gas == request.top:
        return TOP_NAME
    return "helium" if gas.he > 0.0 else "oxygen"
