"""A request for oxygen: oxygen alone, to at least the station's minimum.

What the residual spoils is cured first by draining, only as far as needed; if even an
emptied cylinder spoils too much, by purging: oxygen in, mixed, and out again.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

from blender.errors import NoFillError
from blender.gas import Mix
from blender.planning.alternatives import highest_pressure, shown, with_want
from blender.planning.blend import Blend, Start, settled, start
from blender.planning.draw import ShortageError
from blender.planning.recipe import Plan
from blender.planning.rehearsal import Rehearsal, stop_temperatures
from blender.planning.request import PlanRequest
from blender.planning.solve import NOTHING, Amounts, Mixing
from blender.planning.weak_bank import what_would_do

MOST_PURGES = 12
# Aiming this far above the minimum keeps rounding from falling below it.
_ABOVE = 1e-10
# From this fraction on a mix is asked for as oxygen, and purging is worth showing.
_NEARLY_OXYGEN = 0.98


def plan_oxygen(request: PlanRequest) -> Plan:
    """Plan a fill with oxygen alone.

    Parameters
    ----------
    request : PlanRequest
        What was asked; `oxygen_minimum` is what must be reached.

    Returns
    -------
    Plan
        With as little drained, or as few purges, as it takes.

    Raises
    ------
    NoFillError
        If the supply is not pure enough, or its bottles do not hold enough.
    """
    try:
        return attempt(request)
    except ShortageError as short:
        found = highest_pressure(request, partial(with_purges, purges=0))
        found += what_would_do(request, attempt, short)
        raise NoFillError(short.text, code=short.code, alternatives=found) from None


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
        If the supply is not pure enough.
    """
    if straight(request).result.mix.o2 >= request.oxygen_minimum:
        return with_purges(request, 0)
    for purges in range(1, MOST_PURGES + 1):
        plan = with_purges(request, purges)
        if plan.result.o2 >= request.oxygen_minimum:
            return plan
        if oxygen_of(request).o2 < request.oxygen_minimum:
            break
    gas = oxygen_of(request)
    raise NoFillError(
        f"oxygen of at least {request.oxygen_minimum:.3%} cannot be reached with a supply of "
        f"{gas.o2:.3%}; use a purer supply",
        code="unreachable",
        alternatives=purge_figures(request),
    )


def oxygen_of(request: PlanRequest) -> Mix:
    """Return the richest gas without helium that a request has.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Mix
        Of the supplies and the top gas.
    """
    gases = (*(supply.gas for supply in request.supplies), request.top)
    pure = [gas for gas in gases if gas.he == 0.0]
    return max(pure or gases, key=lambda gas: gas.o2)


def with_purges(request: PlanRequest, purges: int) -> Plan:
    """Plan a fill with oxygen alone after a number of purges.

    Without purges the residual is drained as little as the minimum allows; before a purge
    it is drained to zero on the gauge.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    purges : int
        How often to purge.

    Returns
    -------
    Plan
        Whatever it reaches: the minimum is not judged here.

    Raises
    ------
    ShortageError
        If the bottles do not hold enough.
    """
    gas, first_c = oxygen_of(request), request.first_temperature_c
    begin, blend = start(request, (gas,)), straight(request)
    kept = begin.mixing.least_kept if purges else blend.kept
    rehearsal = Rehearsal(request, begin.residual)
    if kept < 1.0 - NOTHING:
        rehearsal.drain(kept, first_c)
    for _ in range(purges):
        rehearsal.purge(gas, request.purge_to_bar, first_c)
    if purges:
        blend = _topped(begin, rehearsal)
    stops_c = stop_temperatures(request, len(blend.added))
    for (_, amount_mol), stop_c in zip(blend.added, stops_c, strict=True):
        rehearsal.add(gas, amount_mol, stop_c)
    return rehearsal.finished()


def straight(request: PlanRequest) -> Blend:
    """Fill with oxygen alone, after no more draining than the minimum needs.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Blend
        Whatever it reaches: the minimum may be out of reach.

    Raises
    ------
    NoFillError
        If the cylinder cannot be drained far enough for the pressure asked.
    """
    begin = start(request, (oxygen_of(request),))
    blend = settled(begin, request.want.gauge_bar, lambda total: _amounts(begin, total))
    if blend is None:
        raise NoFillError("the emptied cylinder already holds more than was asked", code="drain")
    return blend


def _amounts(begin: Start, total_mol: float) -> Amounts | None:
    """Keep as much of the residual as the minimum allows, and fill up with oxygen."""
    mixing, gas = begin.mixing, begin.mixing.gases[0]
    least, most = mixing.kept_range(total_mol)
    if most < least:
        return None
    poorer = gas.o2 - mixing.residual.o2
    spare = gas.o2 - begin.request.oxygen_minimum - _ABOVE
    allowed = total_mol * spare / (mixing.residual_mol * poorer) if poorer > 0.0 else 1.0
    kept = max(least, min(most, allowed))
    rest = total_mol - kept * mixing.residual_mol
    return Amounts(kept, (rest if rest > NOTHING * total_mol else 0.0,))


def _topped(begin: Start, rehearsal: Rehearsal) -> Blend:
    """Fill up from what the cylinder holds after the purges."""
    held = rehearsal.contents
    mixing = Mixing(held.total_mol, held.mix, 1.0, begin.mixing.gases)
    after = replace(begin, residual=held, mixing=mixing)

    def rest(total_mol: float) -> Amounts:
        return Amounts(1.0, (max(total_mol - held.total_mol, 0.0),))

    blend = settled(after, begin.request.want.gauge_bar, rest)
    assert blend is not None  # the rest is always given
    return blend


def purged_alternatives(request: PlanRequest) -> list[dict[str, Any]]:
    """Return fills with oxygen alone, straight and purged, if nearly oxygen was asked for.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    list of dict
        Alternatives of kind ``straight`` and ``purge``.
    """
    return purge_figures(request) if request.want.mix.o2 >= _NEARLY_OXYGEN else []


def purge_figures(request: PlanRequest) -> list[dict[str, Any]]:
    """Return a straight fill with oxygen alone, and fills after one to three purges.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    list of dict
        Alternatives of kind ``straight`` and ``purge``, as far as the bottles allow.
    """
    # No minimum, so that nothing is drained for its sake.
    asked = replace(with_want(request, request.want.mix, request.want.gauge_bar), oxygen_minimum=0)
    found = shown("straight", "oxygen alone: {result}", partial(with_purges, purges=0), asked)
    for purges in (1, 2, 3):
        text = (
            f"after {purges} purge{'s' * (purges > 1)} to {request.purge_to_bar:g} bar: {{result}}"
        )
        found += shown("purge", text, partial(with_purges, purges=purges), asked)
    return found
