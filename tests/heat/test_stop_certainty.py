"""How sure the stop is after a fit: against drawn conductances, and against stops that are true."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from blender.gas import AIR
from blender.heat.certainty import stop_uncertainty_bar
from blender.heat.filling import Feed
from blender.heat.fitting import Fit
from blender.heat.state import Warm
from blender.heat.stop import HeatedFill, hot_stop
from blender.heat.wall import Wall
from blender.vessel import contents_at
from tests.heat.test_fitting import found_from, read, squares
from tests.heat.test_reference import ROOM, STEEL


def filling(wall):
    start = Warm(contents_at(AIR, 50.0, 20.0, 0.012), ROOM, ROOM)
    return HeatedFill(start, Feed(AIR, ROOM), wall, ROOM, 400.0, 221e5, ROOM)


def stop_bar(wall):
    return hot_stop(filling(wall))[-1].gauge_bar()


@cache
def surface():
    """A quadratic through nine stops: how they change with both logarithms."""
    at = [(a, b) for a in (-0.2, 0.0, 0.2) for b in (-0.25, 0.0, 0.25)]
    stops = [stop_bar(Wall(STEEL, 20.0 * math.exp(a), 5.0 * math.exp(b))) for a, b in at]
    found, *_ = np.linalg.lstsq(terms(np.array(at)), np.array(stops), rcond=None)
    return found


def terms(logs):
    a, b = logs.T
    return np.stack([np.ones_like(a), a, b, a * a, a * b, b * b], axis=1)


@pytest.mark.parametrize("correlation", [-0.8, 0.0, 0.6])
def test_it_covers_what_drawn_conductances_do(correlation):
    """JCGM 101: logarithms drawn with their covariance; k = 2 holds at least 94 % of the stops."""
    wall = Wall(STEEL, 20.0, 5.0)
    asked = filling(wall)
    stop = hot_stop(asked)[-1]
    wide = stop_uncertainty_bar(asked, stop, Fit(wall, 2.0, 0.6, 0.5, 20, correlation))
    off = np.array([0.1, 0.12])
    spread = np.outer(off, off) * [[1.0, correlation], [correlation, 1.0]]
    logs = np.random.default_rng(8).multivariate_normal([0.0, 0.0], spread, 20_000)
    stops = terms(logs) @ surface()
    assert np.mean(np.abs(stops - stop.gauge_bar()) <= wide) >= 0.94
    assert np.std(stops) == pytest.approx(wide / 2.0, rel=0.12)


@pytest.mark.parametrize("column", ["gas_c", pytest.param("wall_c", marks=pytest.mark.soak)])
def test_the_true_stop_lies_within_it(column):
    """Readings of a Runge-Kutta march in pyaga8 with 1 K and 1 bar of noise."""
    true_bar, misses = stop_bar(Wall(STEEL, 20.0, 5.0)), []
    for seed in range(4):
        found = found_from(read(20.0, 5.0, column, noise=1.0, seed=seed))
        asked = filling(found.wall)
        stop = hot_stop(asked)[-1]
        wide = stop_uncertainty_bar(asked, stop, found)
        misses.append((stop.gauge_bar() - true_bar) / wide * 2.0)
    assert max(abs(miss) for miss in misses) < 3.0
    assert 0.2 < math.sqrt(sum(miss**2 for miss in misses) / len(misses)) < 1.7


def test_the_correlation_is_that_of_the_squares():
    """A second way: along the ridge of the sum of squares one conductance follows the other."""
    readings = read(20.0, 5.0, noise=1.0, seed=1)
    found = found_from(readings)
    inside, outside = found.wall.inside_w_k, found.wall.outside_w_k
    step = 0.02

    def at(a, b):
        wall = Wall(STEEL, inside * math.exp(a * step), outside * math.exp(b * step))
        return squares(readings, wall)

    cross = (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / 4.0
    own = [at(1, 0) - 2.0 * at(0, 0) + at(-1, 0), at(0, 1) - 2.0 * at(0, 0) + at(0, -1)]
    assert found.correlation == pytest.approx(-cross / math.sqrt(own[0] * own[1]), abs=0.05)
