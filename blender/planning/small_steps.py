"""Steps too small to be held: left out, if asked, where the mix lands near enough without them.

A bank of EAN32 into an empty cylinder misses EAN32 by the air in it at ambient pressure, and a
breath of oxygen would put that right on paper.  No gauge shows a fifth of a bar, so such a step
costs oxygen service and gains nothing; what is missed without it is told.  A plan leaves nothing
out by itself: on paper it is the nearest there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from blender.errors import NoFillError
from blender.gas import Mix
from blender.planning.blend import Blend, Goal, Start, best_blends
from blender.planning.recipe import Caution, Plan
from blender.planning.request import PlanRequest
from blender.planning.solve import NOTHING
from blender.planning.supplies import plain_name
from blender.realgas.coefficients import coefficients
from blender.units import PA_PER_BAR, c_to_k
from blender.vessel import MOLAR_MASS_G_MOL

LEFT_OUT = "left-out"


def too_small(request: PlanRequest, gas: Mix, amount_mol: float) -> bool:
    """Tell whether so little of a gas would be let in that it is to be left out.

    Parameters
    ----------
    request : PlanRequest
        What was asked, with the least step; by mass its scale's step counts instead.
    gas : Mix
        The gas.
    amount_mol : float
        How much of it [mol].

    Examples
    --------
    >>> from blender.gas import OXYGEN
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> have, want = parse_gas_at("0bar:air", "have"), parse_want("200bar:EAN32")
    >>> request = PlanRequest(0.012, have, want, least_step_bar=0.5)
    >>> [too_small(request, OXYGEN, mol) for mol in (0.1, 0.5)]
    [True, False]
    """
    if not request.least_step_bar:
        return False
    if request.method == "mass":
        mass_g = sum(x * m for x, m in zip(gas.fractions, MOLAR_MASS_G_MOL, strict=True))
        return amount_mol * mass_g < (request.scale_g or 0.0)
    return _in_whip_mol(request) < amount_mol < _least_mol(request)


def _least_mol(request: PlanRequest) -> float:
    """Return what raises the gauge by the least step [mol]."""
    return _amount_mol(request, request.least_step_bar, request.volume_m3)


def _in_whip_mol(request: PlanRequest) -> float:
    """Return what the whip holds at ambient pressure [mol]: it goes in whether it is wanted or not.

    A wanted amount below that is told of as gas left in the whip, not left out.
    """
    return _amount_mol(request, request.ambient_bar, request.whip_m3)


def _amount_mol(request: PlanRequest, pressure_bar: float, volume_m3: float) -> float:
    """Return an amount as an ideal gas [mol]: enough to judge by."""
    kelvin = c_to_k(request.first_temperature_c)
    return pressure_bar * PA_PER_BAR * volume_m3 / (coefficients().gas_constant * kelvin)


def spared(
    begin: Start, goal: Goal, blend: Blend, most_off: float
) -> tuple[Blend, tuple[Mix, ...]] | None:
    """Return a blend without its steps too small to be held, and the gases left out.

    Parameters
    ----------
    begin : Start
        Residual and gases.
    goal : Goal
        What is wanted.
    blend : Blend
        The blend that is best on paper.
    most_off : float
        How far the mix may then be off [1].

    Returns
    -------
    tuple or None
        None if there is no such step, or it cannot be done without: the mix would be further
        off, other gas would have to go in, or more out.
    """
    request = begin.request
    small = tuple(gas for gas, mol in blend.added if too_small(request, gas, mol))
    rest = tuple(gas for gas, _ in blend.added if gas not in small)
    if not small or not rest or request.want.oxygen_only:
        return None
    try:
        found = next(best_blends(replace(begin, mixing=replace(begin.mixing, gases=rest)), goal))
    except NoFillError:
        return None
    if found.miss(goal) > most_off or found.kept < blend.kept - NOTHING:
        return None
    return found, small


def told(plan: Plan, small: Sequence[Mix]) -> Plan:
    """Return a plan that says which gases were left out of it."""
    named = " and ".join(plain_name(gas) for gas in small)
    least = f"{plan.request.least_step_bar:g} bar would raise the gauge"
    if plan.request.method == "mass":
        least = "the scale shows"
    text = f"{named} is left out: on paper a little would go in, less than {least}"
    return replace(plan, warnings=(*plan.warnings, Caution(LEFT_OUT, text)))
