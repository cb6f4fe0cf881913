"""How sure a plan's mix is before anybody has analysed it, from the budget of what may be off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from blender.errors import ModelRangeError
from blender.planning.budget import doubts_of, gauge_of, highest_bar
from blender.planning.doubts import serving
from blender.planning.recipe import Assurance, Caution, Contribution, Plan
from blender.planning.replay import replay
from blender.planning.straight import replay_nearby
from blender.propagation import Budget, Doubt, drawn, interval, propagated

Array = NDArray[np.float64]
COARSE = 0.01  # the usual tolerance of a mix
_NAMED = 2


def with_certainty(plan: Plan, draws: int = 0, seed: int = 1, more: Sequence[Doubt] = ()) -> Plan:
    """Return a plan that says how far its mix may be off.

    Parameters
    ----------
    plan : Plan
        The plan.
    draws : int
        Simulated fills to check the budget with (JCGM 101); none for 0.
    seed : int
        Where their draws begin.
    more : sequence of Doubt
        What else may be off, beside `doubts_of` the plan.

    Returns
    -------
    Plan
        With uncertainties (k = 2), what contributes to them, and a caution if the gauge is too
        coarse for a stop.  Without them where a doubt leads out of the equation's range.

    Notes
    -----
    Sources: JCGM 100:2008 and JCGM 101:2008; the half-widths name theirs.

    Examples
    --------
    >>> from blender.planning import PlanRequest, parse_gas_at, parse_want, plan
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32")
    >>> sure = with_certainty(plan(PlanRequest(0.012, have, want))).assurance
    >>> sure.contributions[0].text
    'oxygen stop read on a class 1.0 gauge of 250 bar'
    """
    doubts = (*doubts_of(plan), *more)

    def by_cause(errors: Array) -> tuple[dict[str, Array], int]:
        names = (doubt.cause for doubt in doubts)
        return dict(zip(names, errors.T, strict=True)), len(errors)

    try:
        budget = propagated(lambda errors: replay_nearby(plan, *by_cause(errors)), doubts)
        simulated = replay(plan, *by_cause(drawn(doubts, draws, seed))) if draws else None
    except ModelRangeError:
        return plan
    sure = _assurance(plan, budget, simulated)
    minds = (*_coarse_gauge(sure), *_beyond_scale(plan))
    return replace(plan, assurance=sure, warnings=(*plan.warnings, *minds))


def _assurance(plan: Plan, budget: Budget, simulated: Array | None) -> Assurance:
    o2, he, bar = (float(wide) for wide in budget.expanded)
    found = [
        Contribution(doubt.cause, doubt.text, float(bounds[0]), float(bounds[1]))
        for doubt, bounds in zip(budget.doubts, budget.bounds, strict=True)
    ]
    ranked = sorted(found, key=lambda one: -(one.o2**2 + one.he**2))
    gauges = dict.fromkeys(gauge_of(plan, step) for step in plan.steps if step.gas)
    gauges = gauges or {plan.request.doubts.gauge_for(highest_bar(plan)): None}
    names = tuple(one.name for one in gauges if one.name)
    is_stated = plan.request.doubts.gauge is not None or len(names) == len(gauges)
    drawn_between = None
    if simulated is not None:
        drawn_between = (interval(simulated[:, 0]), interval(simulated[:, 1]))
    return Assurance(
        o2, he, bar, ", ".join(map(str, gauges)), is_stated, tuple(ranked), drawn_between, names
    )


def _coarse_gauge(sure: Assurance) -> Iterator[Caution]:
    """Warn of a stated gauge that alone may cost the usual tolerance at one stop."""
    worst = [one for one in sure.contributions if one.cause.startswith("class.")]
    points = max((max(one.o2, one.he) for one in worst), default=0.0)
    if sure.gauge_stated and points > COARSE:
        first = max(worst, key=lambda one: max(one.o2, one.he))
        yield Caution(
            "gauge-coarse",
            f"{first.text}: up to {points * 100:.1f} points off; use a finer gauge, or fill by "
            "mass or continuous flow, or expect to correct the mix after its analysis",
        )


def _beyond_scale(plan: Plan) -> Iterator[Caution]:
    """Warn of stops beyond the scale of the gauge on record for them."""
    for step in plan.steps:
        known = plan.request.doubts.on_record(serving(step.action, step.gas))
        if step.gas is None or known is None or (step.to_bar or 0.0) <= known.scale_bar:
            continue
        yield Caution(
            "gauge-range",
            f"the stop at {step.to_bar:.1f} bar is beyond the scale of gauge {known.name}, "
            f"{known.scale_bar:g} bar: read it on another",
        )


def in_words(sure: Assurance, named: int = _NAMED) -> Sequence[str]:
    """Return the largest contributions in plain words, the largest first.

    Parameters
    ----------
    sure : Assurance
        What is known of a plan.
    named : int
        How many.

    Returns
    -------
    sequence of str
        Such as ``oxygen stop read on a class 1.6 gauge of 400 bar: 2.4 points``.
    """
    return [one.in_words() for one in sure.contributions[:named]]
