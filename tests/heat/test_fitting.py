"""Known conductances come back from readings an independent integration made."""

from __future__ import annotations

import itertools
import math
import random

import pytest

from blender.errors import InputError
from blender.gas import AIR
from blender.heat.fitting import LEAST_SCATTER, expected, fit
from blender.heat.readings import parse_readings
from blender.heat.wall import Wall
from tests.heat.independent import Aga, Cylinder
from tests.heat.test_reference import ROOM, STEEL

AMBIENT = 1.01325
COOLING = (60.0, 180.0, 420.0, 900.0, 1800.0, 3600.0)


def read(inside, outside, column="gas_c", noise=0.0, seed=0, cooling=COOLING, digits=4):
    """Readings of an air fill from 60 to 230 bar in 300 s, by Runge-Kutta in pyaga8."""
    rng = random.Random(seed)
    tank = Cylinder(Aga(AIR.fractions), 0.012, STEEL, inside, outside, ROOM, (60 + AMBIENT) * 1e5)
    rows = [f"time_s,gauge_bar,{column}", "0,60,20"]

    def note(seconds, spread):
        warm = tank.wall if column == "wall_c" else tank.warm
        gauge = tank.pascal / 1e5 - AMBIENT + rng.gauss(0.0, spread)
        celsius = warm - 273.15 + rng.gauss(0.0, noise)
        rows.append(f"{seconds},{gauge:.{digits}f},{celsius:.{digits}f}")

    for k in range(1, 6):
        tank.fill((60 + 34 * k + AMBIENT) * 1e5, 60.0, 60)
        note(60 * k, 0.0)  # the gauge is watched while it rises, and is the clock of the model
    for before, then in itertools.pairwise((0.0, *cooling)):
        tank.rest(then - before, max(30, round((then - before) / 10.0)))
        note(300 + then, noise)
    return parse_readings("\n".join(rows))


def found_from(readings):
    return fit(readings, STEEL, AIR, AIR, 0.012)


def squares(readings, wall):
    """Sum of squares, written out anew: temperatures all along, gauges once shut."""
    states = expected(readings, wall, AIR, AIR, 0.012)
    total = 0.0
    for k, (state, row) in enumerate(zip(states, readings.rows, strict=True)):
        warm = state.wall_c if readings.of_wall else state.gas_c
        total += (warm - row.temperature_c) ** 2
        total += (state.gauge_bar() - row.gauge_bar) ** 2 if k > readings.shut else 0.0
    return total


@pytest.mark.parametrize("column", ["gas_c", "wall_c"])
@pytest.mark.parametrize(("inside", "outside"), [(20.0, 5.0), (60.0, 9.0), (8.0, 2.0)])
def test_exact_readings_give_the_conductances_back(column, inside, outside):
    found = found_from(read(inside, outside, column))
    assert found.wall.inside_w_k == pytest.approx(inside, rel=0.005)
    assert found.wall.outside_w_k == pytest.approx(outside, rel=0.005)
    assert found.scatter < 0.1  # what the steps of the march themselves are good for
    assert found.inside_u_w_k > 0.005 * inside  # a last digit of 1 bar or 1 K never says all


@pytest.mark.parametrize("column", ["gas_c", "wall_c"])
def test_noisy_readings_give_them_back_within_their_uncertainty(column):
    misses = []
    for seed in range(6):
        found = found_from(read(20.0, 5.0, column, noise=1.0, seed=seed))
        misses += [
            (found.wall.inside_w_k - 20.0) / found.inside_u_w_k,
            (found.wall.outside_w_k - 5.0) / found.outside_u_w_k,
        ]
        assert 0.5 < found.scatter < 1.6
    assert max(abs(miss) for miss in misses) < 3.0
    assert 0.3 < math.sqrt(sum(miss**2 for miss in misses) / len(misses)) < 1.7


def test_no_neighbour_follows_the_readings_better():
    readings = read(25.0, 6.0, noise=1.0, seed=3)
    found = found_from(readings)
    least = squares(readings, found.wall)
    count = found.count
    assert found.scatter == pytest.approx(math.sqrt(least / (count - 2)), rel=1e-6)
    for a, b in itertools.product((0.99, 1.0, 1.01), repeat=2):
        if (a, b) != (1.0, 1.0):
            wall = Wall(STEEL, found.wall.inside_w_k * a, found.wall.outside_w_k * b)
            assert squares(readings, wall) > least


def test_the_uncertainty_is_that_of_the_curvature():
    """A second way: one u away along a profile, the squares grow by one scatter squared."""
    readings = read(20.0, 5.0, noise=1.0, seed=1)
    found = found_from(readings)
    least, up = squares(readings, found.wall), found.wall.inside_w_k + found.inside_u_w_k
    profile = min(
        squares(readings, Wall(STEEL, up, found.wall.outside_w_k + k * 0.25 * found.outside_u_w_k))
        for k in range(-5, 6)
    )
    assert profile - least == pytest.approx(max(found.scatter, LEAST_SCATTER) ** 2, rel=0.25)


def test_readings_in_whole_numbers_do():
    found = found_from(read(20.0, 5.0, digits=0))
    assert found.wall.inside_w_k == pytest.approx(20.0, rel=0.05)
    assert found.wall.outside_w_k == pytest.approx(5.0, rel=0.05)


def test_readings_that_do_not_say_are_refused():
    with pytest.raises(InputError) as caught:
        found_from(read(20.0, 0.5, "wall_c", noise=1.0, seed=1, cooling=(5.0, 10.0)))
    assert caught.value.field == "--readings"
    assert "uncertain by more than half" in caught.value.allowed
