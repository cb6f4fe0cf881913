"""The first law with the valve shut: gas and metal come to the temperature of the room."""

from __future__ import annotations

import math

import numpy as np

from blender.heat.filling import STEP_S
from blender.heat.solver import Array, solve
from blender.heat.state import Warm, pressure_and_energy
from blender.heat.wall import Wall
from blender.realgas.limits import MAX_TEMPERATURE_K, MIN_TEMPERATURE_K
from blender.vessel import root

# At rest is within this of where the gauge ends.
AT_REST_PA = 1e5
LONGEST_S = 48 * 3600.0
_FIRST_S, _GROWTH = 2.0, 1.06
_SMALL_PA = 100.0
_UNIT_K = 300.0


def rest(start: Warm, wall: Wall, room_k: float, seconds: float) -> Warm:
    """Let a shut cylinder stand for a time.

    Parameters
    ----------
    start : Warm
        Before.
    wall : Wall
        The metal.
    room_k : float
        Temperature of the room [K].
    seconds : float
        How long [s].

    Returns
    -------
    Warm
        Afterwards, the same gas.

    Raises
    ------
    ModelRangeError
        If the gas would leave the range of the equation of state.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> from blender.vessel import contents_at
    >>> hot = Warm(contents_at(AIR, 230.0, 50.0, 0.012), 323.15, 303.15)
    >>> later = rest(hot, Wall(6650.0, 20.0, 5.0), 293.15, 600.0)
    >>> round(later.gas_c, 1), round(later.wall_c, 1)
    (31.2, 30.6)
    """
    count = math.ceil(seconds / STEP_S)
    for _ in range(count):
        start = _step(start, wall, room_k, seconds / count)
    return start


def until_at_rest(start: Warm, wall: Wall, room_k: float) -> Warm | None:
    """Let a shut cylinder stand until its gauge is within 1 bar of where it ends.

    Gas and metal must both be as near as that: gas between a cold wall and a warm room passes
    the right pressure once without staying there.

    Parameters
    ----------
    start : Warm
        Before.
    wall : Wall
        The metal.
    room_k : float
        Temperature of the room [K].

    Returns
    -------
    Warm or None
        Then; None if two days are not enough, as without conductance they never are.

    Raises
    ------
    ModelRangeError
        If the gas would leave the range of the equation of state.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> from blender.vessel import contents_at
    >>> hot = Warm(contents_at(AIR, 230.0, 50.0, 0.012), 323.15, 303.15)
    >>> later = until_at_rest(hot, Wall(6650.0, 20.0, 5.0), 293.15)
    >>> round(later.seconds / 60.0), round(later.contents.gauge_bar(20.0), 1)
    (81, 200.5)
    """
    here, seconds = start, _FIRST_S
    if _away(here, room_k) <= AT_REST_PA:
        return here
    while here.seconds - start.seconds < LONGEST_S:
        before, here = here, _step(here, wall, room_k, seconds)
        if _away(here, room_k) <= AT_REST_PA:
            return _cut(before, wall, room_k, seconds)
        seconds *= _GROWTH
    return None


def _cut(before: Warm, wall: Wall, room_k: float, seconds: float) -> Warm:
    """Return the moment within a step at which it comes to rest."""

    def beyond_pa(share_s: float) -> float:
        there = _step(before, wall, room_k, share_s) if share_s else before
        return AT_REST_PA - _away(there, room_k)

    return _step(before, wall, room_k, root(beyond_pa, 0.0, seconds, _SMALL_PA))


def _away(state: Warm, room_k: float) -> float:
    """Return how far from rest the pressure would be at the worse of both temperatures [Pa]."""
    worse_k = max(state.gas_k, state.wall_k, key=lambda kelvin: abs(kelvin - room_k))
    ends_pa, _ = pressure_and_energy(state.contents, room_k)
    return abs(pressure_and_energy(state.contents, worse_k)[0] - ends_pa)


def _step(start: Warm, wall: Wall, room_k: float, seconds: float) -> Warm:
    before_j, capacity_j_k = start.energy_j, start.roughly_j_k
    unit_j = capacity_j_k * _UNIT_K

    def miss(unknown: Array) -> Array:
        gas_k = float(unknown[0]) * _UNIT_K
        _, lost_j = wall.after(start.wall_k, (start.gas_k, gas_k), room_k, seconds, capacity_j_k)
        _, energy_j = pressure_and_energy(start.contents, gas_k)
        return np.array([(energy_j - before_j + lost_j) / unit_j])

    ends = MIN_TEMPERATURE_K / _UNIT_K, MAX_TEMPERATURE_K / _UNIT_K
    gas_k = solve(miss, (start.gas_k / _UNIT_K,), *ends)[0] * _UNIT_K
    wall_k, _ = wall.after(start.wall_k, (start.gas_k, gas_k), room_k, seconds, capacity_j_k)
    return Warm(start.contents, gas_k, wall_k, start.seconds + seconds)
