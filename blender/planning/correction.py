"""Ways on from a gas that is not what was wanted: after an overshoot, or after analysis.

The request's `have` is what the cylinder holds now, calculated or, better, analysed.  A
bleed takes out gas as it is where it leaves: until the gas has mixed and been analysed it may
be anything between the layers, so every way that drains asks for rest and analysis first.
"""

from __future__ import annotations

from dataclasses import dataclass

from blender.gas import Mix
from blender.planning.alternatives import topped_only
from blender.planning.request import PlanRequest

_SAME = 1e-12


@dataclass(frozen=True, slots=True)
class GoOn:
    """Top up to the wanted pressure as if nothing had happened: what results.

    Parameters
    ----------
    result : Mix
        The gas in the end, to be labelled as analysed.
    pressure_bar : float
        Settled gauge pressure [bar].
    """

    result: Mix
    pressure_bar: float


def go_on(request: PlanRequest) -> GoOn | None:
    """Return what topping up to the wanted pressure makes; None if that is exceeded already.

    Parameters
    ----------
    request : PlanRequest
        With `have` as it is now.

    Returns
    -------
    GoOn or None
        The gas in the end.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> now = parse_gas_at("228bar:0.336/0", "have")
    >>> round(go_on(PlanRequest(0.012, now, parse_want("232bar:EAN32"))).result.o2, 5)
    0.33418
    """
    result = topped_only(request)
    return None if result is None else GoOn(result, request.want.gauge_bar)


def fill_on_bar(request: PlanRequest) -> float | None:
    """Settled gauge pressure at which top gas alone has thinned the gas to the wanted O2.

    Parameters
    ----------
    request : PlanRequest
        With `have` as it is now.

    Returns
    -------
    float or None
        Gauge pressure [bar], to be offered only if it is within the limit of the fill; None
        if top gas leads away from the wanted O2 or helium would miss.

    Raises
    ------
    ModelRangeError
        If the pressure would be outside the range of the equation of state.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> now = parse_gas_at("92bar:0.53397/0", "have")
    >>> round(fill_on_bar(PlanRequest(0.012, now, parse_want("230bar:EAN32"))), 1)
    306.3
    """
    held, want, top = request.residual(), request.want.mix, request.top
    if abs(want.o2 - top.o2) < _SAME:
        return None
    amount_mol = held.total_mol * (held.mix.o2 - want.o2) / (want.o2 - top.o2)
    if amount_mol < 0.0:
        return None
    filled = held.with_gas(top, amount_mol)
    if abs(filled.mix.he - want.he) > 1e-6:
        return None
    return filled.gauge_bar(request.settle_at_c, request.ambient_bar)
