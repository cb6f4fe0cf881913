"""Bottles opened in an order somebody asked for: it is followed, and what it costs is said."""

from __future__ import annotations

from dataclasses import replace

from blender.planning.alternatives import Planner, shown, tried
from blender.planning.recipe import Caution, Plan

_SAME_BAR = 1e-3


def with_cost(plan: Plan, planner: Planner) -> Plan:
    """Return a plan in an order asked for, with what it costs against the usual order.

    Parameters
    ----------
    plan : Plan
        The plan.
    planner : callable
        Makes a plan of a request, or raises `NoFillError`.

    Returns
    -------
    Plan
        With a caution ``draw-order`` and an alternative ``low-first``, where the bottles end
        at other pressures than with the best order.
    """
    request = replace(plan.request, draw=())
    usual = tried(planner, request)
    if usual is None:
        return plan
    here, there = standing_after(plan), standing_after(usual)
    differs = [name for name in here if abs(here[name] - there[name]) > _SAME_BAR]
    if not differs:
        return plan
    told = ", ".join(f"{n} ends at {here[n]:.1f} bar, not {there[n]:.1f} bar" for n in differs)
    caution = Caution(
        "draw-order", f"opened in the order asked for, against the lowest bottle first: {told}"
    )
    other = shown("low-first", "the same fill, the lowest bottle first: {result}", planner, request)
    return replace(
        plan,
        warnings=(*plan.warnings, caution),
        alternatives=(*plan.alternatives, *other),
    )


def standing_after(plan: Plan) -> dict[str, float]:
    """Gauge pressures of the bottles by name after a plan [bar].

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict
        Name to gauge pressure at 20 degC; unlimited supplies are left out [bar].
    """
    found = {s.name: s.gauge_bar for s in plan.request.supplies if s.gauge_bar is not None}
    for step in plan.steps:
        found |= step.drawn_from
    return found
