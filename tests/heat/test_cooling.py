"""A shut cylinder comes to rest: against closed forms and an independent integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from blender.gas import AIR, ARGON, parse_gas
from blender.heat.cooling import AT_REST_PA, rest, until_at_rest
from blender.heat.state import Warm, pressure_and_energy
from blender.heat.wall import Wall
from blender.vessel import contents_at
from tests.heat.independent import Aga, Cylinder
from tests.heat.test_reference import LUMP, ROOM, STEEL

R = 8.314462618


def hot(gas=AIR, gas_k=340.0, wall_k=315.0, bar=230.0):
    inside = contents_at(gas, bar, gas_k - 273.15, 0.012, 0.0)
    return Warm(inside, gas_k, wall_k)


@pytest.mark.parametrize("seconds", [5.0, 60.0, 600.0])
def test_a_thin_gas_cools_by_two_exponentials(seconds):
    """Ideal argon, constant capacities: the linear pair of equations has a closed solution."""
    start = hot(ARGON, bar=0.5)
    gas, metal, inside, outside = start.contents.total_mol * 1.5 * R, 40.0, 0.05, 0.2
    rates = np.array([[-inside / gas, inside / gas],
                      [inside / metal, -(inside + outside) / metal]])  # fmt: skip
    decay, modes = np.linalg.eig(rates)
    amounts = np.linalg.solve(modes, [340.0 - ROOM, 315.0 - ROOM])
    gas_k, wall_k = ROOM + modes @ (amounts * np.exp(decay * seconds))
    there = start
    for _ in range(60):  # steps much shorter than the gas's own 55 s
        there = rest(there, Wall(metal, inside, outside), ROOM, seconds / 60.0)
    assert there.gas_k == pytest.approx(gas_k, abs=0.1)
    assert there.wall_k == pytest.approx(wall_k, abs=0.1)


@pytest.mark.parametrize("gas", ["air", "EAN32", "18/45"])
def test_the_real_gas_cools_as_another_integration_has_it(gas):
    mix = parse_gas(gas)
    other = Cylinder(Aga(mix.fractions), 0.012, STEEL, 20.0, 5.0, ROOM, 60e5)
    other.fill(230e5, 200.0)
    start = hot(mix, other.warm, other.wall)
    other.rest(1800.0)
    there = rest(start, LUMP, ROOM, 1800.0)
    assert there.gas_k == pytest.approx(other.warm, abs=0.02)
    assert there.wall_k == pytest.approx(other.wall, abs=0.02)
    assert there.pressure_pa == pytest.approx(other.pascal, abs=3e3)


def test_when_it_is_within_a_bar():
    """By Runge-Kutta in pyaga8's GERG-2008: a bar above at that time, more before."""
    other = Cylinder(Aga(AIR.fractions), 0.012, STEEL, 20.0, 5.0, ROOM, 60e5)
    other.fill(230e5, 200.0)
    start = hot(AIR, other.warm, other.wall)
    ends = Aga(AIR.fractions).dense(ROOM, other.moles / 0.012)[0]
    there = until_at_rest(start, LUMP, ROOM)
    other.rest(there.seconds - 120.0, 2000)
    assert other.pascal - ends > 1.02e5
    other.rest(120.0)
    assert other.pascal - ends == pytest.approx(1e5, rel=0.01)


@given(
    gas_k=st.floats(270.0, 400.0), wall_k=st.floats(270.0, 330.0), room=st.floats(268.0, 315.0),
    inside=st.floats(3.0, 200.0), outside=st.floats(2.0, 50.0), bar=st.floats(5.0, 250.0),
)  # fmt: skip
@example(gas_k=368.0, wall_k=283.0, room=294.0, inside=53.0, outside=2.0, bar=36.0)
@example(gas_k=319.0, wall_k=270.0, room=268.0, inside=34.0, outside=2.0, bar=5.0)
@settings(max_examples=60, deadline=None)
def test_at_rest_it_stays_at_rest(gas_k, wall_k, room, inside, outside, bar):
    wall = Wall(STEEL, inside, outside)
    start = hot(AIR, gas_k, wall_k, bar)
    there = until_at_rest(start, wall, room)
    ends = pressure_and_energy(start.contents, room)[0]
    for seconds in (0.0, 30.0, 300.0, 3000.0):
        later = rest(there, wall, room, seconds) if seconds else there
        assert abs(later.pressure_pa - ends) <= AT_REST_PA * 1.02
    assert there.contents == start.contents


def test_already_at_rest_takes_no_time():
    start = Warm(contents_at(AIR, 200.0, 20.0, 0.012), ROOM, ROOM)
    assert until_at_rest(start, LUMP, ROOM) is start


@pytest.mark.parametrize("wall", [Wall(STEEL, 0.0, 5.0), Wall(STEEL, 20.0, 0.0)])
def test_without_a_way_out_it_never_rests(wall):
    assert until_at_rest(hot(), wall, ROOM) is None


def test_perfect_contact_cools_as_one():
    there = rest(hot(gas_k=315.0), Wall(STEEL, math.inf, 5.0), ROOM, 600.0)
    assert there.gas_k == there.wall_k
    assert ROOM < there.gas_k < 315.0
