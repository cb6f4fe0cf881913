"""What a recipe costs: gas, money, minutes, and how sure its mix is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from blender.planning.cautions import OXYGEN_SERVICE_O2
from blender.planning.recipe import Plan, Step
from blender.planning.small_steps import LEFT_OUT
from blender.planning.supplies import TOP_NAME
from blender.units import GAS_CONSTANT_J_MOL_K, STANDARD_AMBIENT_PA, c_to_k

# Bar a minute.  Oxygen about 4 to 5 (60 to 70 psi), the lower figure; the rest faster:
# common practice, no source.
OXYGEN_RATE_BAR_MIN, OTHER_RATE_BAR_MIN = 4.0, 10.0
# Cubic metres of free gas count at 20 degC and one atmosphere [m3/mol].
FREE_M3_MOL = GAS_CONSTANT_J_MOL_K * c_to_k(20.0) / STANDARD_AMBIENT_PA


@dataclass(frozen=True, slots=True)
class Terms:
    """What gas costs and how fast it may be let in.

    Parameters
    ----------
    prices : mapping of str to float
        Price of a cubic metre of free gas (20 degC, 1 atm) by supply, in the shop's own money.
    oxygen_rate_bar_min, other_rate_bar_min : float
        How fast rich gas, and any other, is let in or out [bar/min].

    Examples
    --------
    >>> Terms({"o1": 6.0}).oxygen_rate_bar_min
    4.0
    """

    prices: Mapping[str, float]
    oxygen_rate_bar_min: float = OXYGEN_RATE_BAR_MIN
    other_rate_bar_min: float = OTHER_RATE_BAR_MIN


@dataclass(frozen=True, slots=True)
class Merits:
    """What a recipe costs.

    Parameters
    ----------
    miss : float
        The larger of what O2 and helium miss the wanted mix by [1].
    drained_m3, oxygen_m3, helium_m3 : float
        Gas let out, oxygen and helium taken from supplies other than the top gas [m3 free].
    cost : float or None
        In the shop's own money; None if the price of a gas used is not known.
    minutes : float
        For letting gas in and out, without rest and changing over [min].
    o2_uncertainty, he_uncertainty : float or None
        Expanded uncertainties, k = 2 [1]; None where nobody has worked them out.
    is_unseen : bool
        Whether what it misses by is a step no gauge shows: then it counts as none.
    """

    miss: float
    drained_m3: float
    oxygen_m3: float
    helium_m3: float
    cost: float | None
    minutes: float
    o2_uncertainty: float | None = None
    he_uncertainty: float | None = None
    is_unseen: bool = False

    @property
    def uncertainty(self) -> float:
        """The larger of the two uncertainties [1]; infinite where it is not known."""
        if self.o2_uncertainty is None or self.he_uncertainty is None:
            return math.inf
        return max(self.o2_uncertainty, self.he_uncertainty)

    def as_dict(self) -> dict[str, Any]:
        """The merits JSON-ready."""
        return asdict(self)


def merits(plan: Plan, terms: Terms) -> Merits:
    """What a plan costs.

    Parameters
    ----------
    plan : Plan
        The plan.
    terms : Terms
        Prices and rates.

    Returns
    -------
    Merits
        The figures, without uncertainties.

    Examples
    --------
    >>> from blender.planning import PlanRequest, parse_gas_at, parse_want, plan
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32")
    >>> found = merits(plan(PlanRequest(0.012, have, want)), Terms({}))
    >>> round(found.oxygen_m3, 3), round(found.minutes, 1)
    (0.305, 20.7)
    """
    want = plan.request.want
    draws = [draw for step in plan.steps for draw in step.draws]
    oxygen_mol, helium_mol = _gas_drawn(plan, draws)
    out = sum(step.amount_mol or 0.0 for step in plan.steps if step.action == "drain")
    miss = max(abs(plan.result.o2 - want.mix.o2), abs(plan.result.he - want.mix.he))
    return Merits(
        miss=max(0.0, want.mix.o2 - plan.result.o2) if want.oxygen_only else miss,
        drained_m3=out * FREE_M3_MOL,
        oxygen_m3=oxygen_mol * FREE_M3_MOL,
        helium_m3=helium_mol * FREE_M3_MOL,
        cost=_cost(draws, terms),
        minutes=sum(_minutes(step, terms) for step in plan.steps),
        is_unseen=any(one.code == LEFT_OUT for one in plan.warnings),
    )


def _gas_drawn(plan: Plan, draws: Sequence[tuple[str, float]]) -> tuple[float, float]:
    """Return the oxygen and helium drawn from supplies other than the top gas [mol]."""
    gases = {supply.name: supply.gas for supply in plan.request.supplies}
    drawn = [(gases[name], mol) for name, mol in draws if name != TOP_NAME]
    return sum(gas.o2 * mol for gas, mol in drawn), sum(gas.he * mol for gas, mol in drawn)


def _cost(draws: Sequence[tuple[str, float]], terms: Terms) -> float | None:
    """Return what the gas costs; None if the price of a gas that is used is not known."""
    known = {TOP_NAME: 0.0, **terms.prices}
    if any(name not in known for name, _ in draws):
        return None
    return sum(known[name] * mol for name, mol in draws) * FREE_M3_MOL


def _minutes(step: Step, terms: Terms) -> float:
    """Return how long a step takes at least [min]."""
    if step.minutes is not None:
        return step.minutes
    if step.from_bar is None or step.to_bar is None:
        return 0.0
    rich = step.gas is not None and step.gas.o2 > OXYGEN_SERVICE_O2 and step.action != "drain"
    rate = terms.oxygen_rate_bar_min if rich else terms.other_rate_bar_min
    return abs(step.to_bar - step.from_bar) / rate * (2.0 if step.action == "purge" else 1.0)
