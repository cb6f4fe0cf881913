"""What `fillwright heat` answers: its figures, ready for JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from blender.errors import ModelRangeError
from blender.heat.certainty import stop_uncertainty_bar
from blender.heat.cooling import AT_REST_PA, until_at_rest
from blender.heat.fitting import Fit
from blender.heat.panel import shut_early
from blender.heat.state import Warm
from blender.heat.stop import HeatedFill, hot_stop
from blender.units import k_to_c

_CURVE = 10


def figures(filling: HeatedFill, way: Sequence[Warm], around: float) -> dict[str, Any]:
    """Return stop, result, cooling and the way there, of a fill at an ambient pressure [bar]."""
    stop, gas = way[-1], way[-1].contents.mix
    settle_c, before = k_to_c(filling.settle_k), filling.start.contents
    result = {
        "o2": gas.o2,
        "he": gas.he,
        "pressure_bar": stop.contents.gauge_bar(settle_c, around),
        "settled_temperature_c": settle_c,
    }
    let_in = {
        "amount_mol": stop.contents.total_mol - before.total_mol,
        "mass_g": stop.contents.mass_g - before.mass_g,
    }
    found = {"stop": _moment(stop, around) | let_in, "result": result}
    if filling.want_pa > filling.start.pressure_pa + AT_REST_PA:
        found |= _shut_at_want(filling, stop, around)
    found["bounds"] = _bounds(filling, around)
    found["cooling"] = _cooling(filling, stop, around)
    every = max(1, math.ceil((len(way) - 1) / _CURVE))
    points = [*way[:-1:every], stop]
    return found | {"curve": [_moment(point, around) for point in points]}


def _shut_at_want(filling: HeatedFill, stop: Warm, around: float) -> dict[str, Any]:
    """Return where it would settle if shut at the pressure wanted; nothing if out of range."""
    try:
        early = shut_early(filling, stop, filling.want_pa)
        settles_bar = early.contents.gauge_bar(k_to_c(filling.settle_k), around)
    except ModelRangeError:
        return {}
    return {"shut_at_want": {"settles_bar": settles_bar, "gas_c": early.gas_c}}


def _moment(state: Warm, around: float) -> dict[str, float]:
    return {
        "minutes": state.seconds / 60.0,
        "pressure_bar": state.gauge_bar(around),
        "gas_c": state.gas_c,
        "wall_c": state.wall_c,
    }


def _bounds(filling: HeatedFill, around: float) -> dict[str, float]:
    """Return the stops if the metal took all the heat it can, and none; if they are in range."""
    found = {}
    for name, inside in (("wall_as_warm_as_gas_bar", math.inf), ("no_heat_to_wall_bar", 0.0)):
        other = replace(filling, wall=replace(filling.wall, inside_w_k=inside))
        try:
            found[name] = hot_stop(other)[-1].gauge_bar(around)
        except ModelRangeError:
            continue
    return found


def _cooling(filling: HeatedFill, stop: Warm, around: float) -> dict[str, float]:
    """Return when the gauge is within 1 bar of rest; no time if that never comes."""
    room_c = k_to_c(filling.room_k)
    ends = {"room_c": room_c, "ends_bar": stop.contents.gauge_bar(room_c, around)}
    rested = until_at_rest(stop, filling.wall, filling.room_k)
    if rested is None:
        return ends
    return ends | {"minutes": (rested.seconds - stop.seconds) / 60.0}


def fitted(found: Fit) -> dict[str, float]:
    """Return conductances found, with their standard uncertainties."""
    return {
        "inside_w_k": found.wall.inside_w_k,
        "inside_standard_uncertainty_w_k": found.inside_u_w_k,
        "outside_w_k": found.wall.outside_w_k,
        "outside_standard_uncertainty_w_k": found.outside_u_w_k,
        "scatter": found.scatter,
        "compared": found.count,
        "correlation": found.correlation,
    }


def sure(filling: HeatedFill, stop: Warm, found: Fit) -> dict[str, float]:
    """Return how far fitted conductances may put the stop off, k = 2; nothing out of range."""
    try:
        return {"pressure_uncertainty_bar": stop_uncertainty_bar(filling, stop, found)}
    except ModelRangeError:
        return {}
