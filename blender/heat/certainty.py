"""How sure a hot stop is when the conductances were found from readings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from blender.heat.fitting import Fit
from blender.heat.state import Warm
from blender.heat.stop import HeatedFill, hot_stop
from blender.propagation import COVERAGE_FACTOR, combined


def stop_uncertainty_bar(asked: HeatedFill, stop: Warm, found: Fit) -> float:
    """Expanded uncertainty of the hot stop from that of the fitted conductances alone.

    Parameters
    ----------
    asked : HeatedFill
        The fill, with the conductances found.
    stop : Warm
        Its hot stop.
    found : Fit
        Their uncertainties and correlation.

    Returns
    -------
    float
        k = 2 [bar].

    Raises
    ------
    ModelRangeError
        If the stop with a conductance one standard uncertainty away is out of range.

    Notes
    -----
    Law of propagation, JCGM 100:2008, 5.2, in the logarithms in which they were fitted.  What the
    model leaves out (layers of gas, a wall with a depth) is not in it.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> from blender.heat.filling import Feed
    >>> from blender.heat.wall import Wall
    >>> from blender.vessel import contents_at
    >>> start = Warm(contents_at(AIR, 60.0, 20.0, 0.012, 0.0), 293.15, 293.15)
    >>> steel = Wall(6650.0, 20.0, 5.0)
    >>> asked = HeatedFill(start, Feed(AIR, 293.15), steel, 293.15, 300.0, 232e5, 293.15)
    >>> found = Fit(steel, 1.0, 0.5, 0.5, 20)
    >>> 1.0 < stop_uncertainty_bar(asked, hot_stop(asked)[-1], found) < 5.0
    True
    """
    wall = found.wall
    stop_bar = stop.gauge_bar()
    effects = [
        _with_more(asked, "inside_w_k", found.inside_u_w_k / wall.inside_w_k) - stop_bar,
        _with_more(asked, "outside_w_k", found.outside_u_w_k / wall.outside_w_k) - stop_bar,
    ]
    related = np.array([[1.0, found.correlation], [found.correlation, 1.0]])
    return COVERAGE_FACTOR * combined(np.array(effects), related)


def _with_more(asked: HeatedFill, name: str, relative: float) -> float:
    """Return the stop [bar] where a conductance is one standard uncertainty larger."""
    conductance = getattr(asked.wall, name) * math.exp(relative)
    other = replace(asked, wall=replace(asked.wall, **{name: conductance}))
    return hot_stop(other)[-1].gauge_bar()
