"""The nearest fills that are possible, when the one asked for is not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from blender.errors import InputError, NoFillError
from blender.gas import Mix, mix
from blender.planning.recipe import Plan
from blender.planning.request import GasAt, PlanRequest
from blender.vessel import added_to_reach

Planner = Callable[[PlanRequest], Plan]
_HALVINGS = 24  # to a hundred-thousandth of a bar


def shown(kind: str, text: str, planner: Planner, request: PlanRequest) -> list[dict[str, Any]]:
    """Plan a nearby request and describe it; nothing, if that is not possible either.

    A list of temperatures that suited the request may not suit its neighbour; then the
    first temperature serves all.

    Parameters
    ----------
    kind : str
        A stable word.
    text : str
        What the alternative is, in one sentence; ``{result}`` is filled in.
    planner : callable
        Makes a plan of a request.
    request : PlanRequest
        The nearby request.

    Returns
    -------
    list of dict
        One alternative, JSON-ready: ``kind``, ``text``, ``result``, ``steps``; or none.
    """
    plan = tried(planner, request)
    if plan is None:
        return []
    helium = f" / {plan.result.he:.3%} He" if plan.result.he > 1e-6 else ""
    figures = f"{plan.result.o2:.3%} O2{helium} at {plan.pressure_bar:.3f} bar"
    return [
        {
            "kind": kind,
            "text": text.replace("{result}", figures),
            "result": plan.result_dict(),
            "steps": [step.as_dict() for step in plan.steps],
        }
    ]


def tried(planner: Planner, request: PlanRequest) -> Plan | None:
    """Return a plan, or None if there is none.

    Parameters
    ----------
    planner : callable
        Makes a plan of a request.
    request : PlanRequest
        What is asked; if its list of temperatures does not suit, the first serves all.

    Returns
    -------
    Plan or None
        None if the planner refuses.
    """
    for temperatures_c in (request.temperatures_c, request.temperatures_c[:1]):
        try:
            return planner(replace(request, temperatures_c=temperatures_c))
        except InputError:
            continue
        except NoFillError:
            return None
    return None


def with_want(request: PlanRequest, gas: Mix, gauge_bar: float) -> PlanRequest:
    """Return the request with another mix and settled gauge pressure [bar].

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    gas : Mix
        The mix to ask for instead.
    gauge_bar : float
        The settled gauge pressure to ask for instead [bar].

    Returns
    -------
    PlanRequest
        Everything else as it was.
    """
    text = request.want.gas_text if gas == request.want.mix else ""
    return replace(request, want=GasAt(gauge_bar, gas, None, text))


def largest(possible: Callable[[float], bool], low: float, high: float) -> float:
    """Largest value that is still possible, by halving; `low` is taken to be possible.

    Parameters
    ----------
    possible : callable
        Says whether a value is possible; once it is not, no larger one is.
    low, high : float
        Where to look [the unit of the value].

    Returns
    -------
    float
        The largest possible value, to one part in ten million of the range.

    Examples
    --------
    >>> round(largest(lambda x: x * x < 2.0, 0.0, 2.0), 5)
    1.41421
    """
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if possible(middle) else (low, middle)
    return low


def bank_alternatives(request: PlanRequest, planner: Planner) -> list[dict[str, Any]]:
    """What a bank too weak can still do: the wanted pressure, or the wanted mix.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    planner : callable
        Makes a plan of a request, or raises `NoFillError`.

    Returns
    -------
    list of dict
        Up to three: ``mix``, the nearest mix at the wanted pressure; ``pressure``, the
        highest pressure with the wanted mix; ``order``, the same fill with oxygen first.
    """
    want = request.want
    found = []
    base = topped_only(request)
    if base is not None:

        def toward(share: float) -> PlanRequest:
            o2 = base.o2 + share * (want.mix.o2 - base.o2)
            return with_want(
                request, mix(o2, base.he + share * (want.mix.he - base.he)), want.gauge_bar
            )

        share = largest(lambda s: tried(planner, toward(s)) is not None, 0.0, 1.0)
        text = "the wanted pressure with what the bottles hold: {result}"
        found += shown("mix", text, planner, toward(share))
    found += highest_pressure(request, planner)
    if request.order[0] != "oxygen":
        swapped = replace(request, order=("oxygen", "helium", "top"))
        found += shown("order", "the same fill, oxygen first: {result}", planner, swapped)
    return found


def highest_pressure(request: PlanRequest, planner: Planner) -> list[dict[str, Any]]:
    """Return the highest pressure at which the wanted mix is still possible, if any.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    planner : callable
        Makes a plan of a request, or raises `NoFillError`.

    Returns
    -------
    list of dict
        One alternative of kind ``pressure``, or none.
    """
    want = request.want

    def at(gauge_bar: float) -> PlanRequest:
        return with_want(request, want.mix, gauge_bar)

    highest = largest(lambda bar: tried(planner, at(bar)) is not None, 0.0, want.gauge_bar)
    text = "the wanted gas at the highest pressure the bottles reach: {result}; more needs a "
    return shown("pressure", text + "fuller bottle or a booster", planner, at(highest))


def topped_only(request: PlanRequest) -> Mix | None:
    """Return what results if nothing but top gas is let in, None if the cylinder is too full.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Mix or None
        The gas at the wanted pressure.
    """
    residual, want = request.residual(), request.want
    if residual.gauge_bar(request.settle_at_c, request.ambient_bar) >= want.gauge_bar:
        return None
    amount = added_to_reach(
        residual, request.top, want.gauge_bar, request.settle_at_c, request.ambient_bar
    )
    return residual.with_gas(request.top, amount).mix
