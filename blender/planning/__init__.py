"""Planning a fill: from what is in a cylinder to what is wanted, by gauge stops."""

from __future__ import annotations

from collections.abc import Callable

from blender.errors import InputError, ModelRangeError, NoFillError
from blender.planning.alternatives import shown, with_want
from blender.planning.asked_order import with_cost
from blender.planning.banked import plan_banked
from blender.planning.continuous_flow import plan_continuous_flow
from blender.planning.mass import plan_mass, weighed
from blender.planning.oxygen import plan_oxygen
from blender.planning.partial_pressure import plan_partial_pressure
from blender.planning.recipe import Caution, Plan, Step
from blender.planning.request import GasAt, PlanRequest, parse_gas_at, parse_want
from blender.planning.supplies import DEFAULT_SUPPLIES, Supply, parse_supply
from blender.planning.ways import one_way

__all__ = [
    "DEFAULT_SUPPLIES",
    "METHODS",
    "Caution",
    "GasAt",
    "Plan",
    "PlanRequest",
    "Step",
    "Supply",
    "parse_gas_at",
    "parse_supply",
    "parse_want",
    "plan",
]

METHODS: dict[str, Callable[[PlanRequest], Plan]] = {
    "partial-pressure": plan_partial_pressure,
    "continuous-flow": plan_continuous_flow,
    "banked": plan_banked,
    "mass": plan_mass,
}


def plan(request: PlanRequest) -> Plan:
    """Plan a fill.

    Amounts are counted in moles with a real-gas equation of state, each stop at the gas's
    own temperature; no more is drained than the wanted mix needs.

    Parameters
    ----------
    request : PlanRequest
        What is asked.

    Returns
    -------
    Plan
        Steps, result, warnings.

    Raises
    ------
    InputError
        If the method is not known or the request does not suit it.
    NoFillError
        If there is no such fill; it carries the nearest that are possible.

    Notes
    -----
    Range: that of the equation of state, 500 bar and -20 to 60 degC at the gauge.

    Examples
    --------
    >>> asked = PlanRequest(0.012, parse_gas_at("180bar:EAN40", "have"), parse_want("200bar:EAN32"))
    >>> drain = plan(asked).steps[0]
    >>> drain.action, round(drain.to_bar, 3)
    ('drain', 111.462)
    """
    planner = METHODS.get(request.method)
    if planner is None:
        raise InputError("--method", repr(request.method), f"the methods are {', '.join(METHODS)}")
    if request.want.oxygen_only and request.method == "partial-pressure":
        planner = plan_oxygen
    if request.way:
        planner = _one_way
    try:
        _check_limit(request, planner)
        found = planner(request)
        return with_cost(found, planner) if request.draw else found
    except ModelRangeError as outside:
        raise ModelRangeError(
            "--want",
            f"{request.want.gauge_bar:.1f} bar with these temperatures",
            "every stop must stay within 500 bar absolute and 230 to 500 K, the range of the "
            "equation of state; ask for less pressure or cooler stops",
        ) from outside


def _one_way(request: PlanRequest) -> Plan:
    made = one_way(request, request.way)
    return weighed(made) if request.method == "mass" else made


def _check_limit(request: PlanRequest, planner: Callable[[PlanRequest], Plan]) -> None:
    limit, wanted = request.limit_bar, request.want.gauge_bar
    if limit is not None and wanted > limit:
        raise NoFillError(
            f"{wanted:.1f} bar is above the limit of {limit:.1f} bar for the settled fill; ask for "
            "the limit or less",
            code="limit",
            alternatives=shown(
                "limit",
                "the same gas at the limit: {result}",
                planner,
                with_want(request, request.want.mix, limit),
            ),
        )
