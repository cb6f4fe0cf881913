"""A station's own conductances, by least squares from what it read.

While gas goes in, the gauge read is taken as given (linear between readings) and temperatures
are compared; once shut, the amount is fixed, and gauge and temperatures are both compared.  A
bar counts as much as a kelvin: shut air near 230 bar changes by about 1.2 bar/K.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from blender.errors import InputError, ModelRangeError
from blender.gas import Mix
from blender.heat.cooling import rest
from blender.heat.filling import Feed, fill
from blender.heat.readings import Readings
from blender.heat.solver import Array
from blender.heat.state import Warm
from blender.heat.wall import Wall
from blender.units import STANDARD_AMBIENT_PA, bar_to_pa, c_to_k
from blender.vessel import contents_at

# Where the search begins: the two conductances the reference computation was made with [W/K].
FIRST_GUESS_W_K = (20.0, 5.0)
# Readings in whole bar and kelvin scatter at least by their last digit, 1/sqrt(12).
LEAST_SCATTER = 0.29
WORST_RELATIVE = 0.5
_NUDGE, _SMALL, _MOST_STEPS = 1e-4, 1e-4, 40
_LOWEST, _HIGHEST = math.log(1e-3), math.log(1e4)
_STANDARD_AMBIENT_BAR = STANDARD_AMBIENT_PA / 1e5


@dataclass(frozen=True, slots=True)
class Fit:
    """Conductances found, with standard uncertainties (k = 1).

    Parameters
    ----------
    wall : Wall
        The metal with the conductances found.
    inside_u_w_k, outside_u_w_k : float
        Their standard uncertainties [W/K].
    scatter : float
        How far readings lie from the model, root mean square [K, or bar].
    count : int
        How many values were compared.
    correlation : float
        Correlation of the two conductances' logarithms [1].
    """

    wall: Wall
    inside_u_w_k: float
    outside_u_w_k: float
    scatter: float
    count: int
    correlation: float = 0.0


def expected(
    readings: Readings,
    wall: Wall,
    have: Mix,
    gas: Mix,
    volume_m3: float,
    ambient_bar: float = _STANDARD_AMBIENT_BAR,
    bank_pa: float | None = None,
) -> tuple[Warm, ...]:
    """Return the states the model expects at the readings.

    Gas, metal, room and supply start at the temperature of the first reading.

    Parameters
    ----------
    readings : Readings
        What was read.
    wall : Wall
        The metal.
    have, gas : Mix
        What was in before, and what was let in.
    volume_m3 : float
        Water capacity [m3].
    ambient_bar : float
        Ambient pressure [bar].
    bank_pa : float or None
        Absolute pressure the gas was throttled from [Pa], None if it came at the cylinder's.

    Returns
    -------
    tuple of Warm
        One state a reading.

    Raises
    ------
    ModelRangeError
        If the gas would leave the range of the equation of state.
    """
    first = readings.rows[0]
    room_k = c_to_k(first.temperature_c)
    inside = contents_at(have, first.gauge_bar, first.temperature_c, volume_m3, ambient_bar)
    states, feed = [Warm(inside, room_k, room_k)], Feed(gas, room_k, bank_pa)
    for number, row in enumerate(readings.rows[1:], start=1):
        seconds = row.time_s - readings.rows[number - 1].time_s
        if number <= readings.shut:
            to_pa = bar_to_pa(row.gauge_bar + ambient_bar)
            states.append(fill(states[-1], feed, wall, room_k, to_pa, seconds)[-1])
        else:
            states.append(rest(states[-1], wall, room_k, seconds))
    return tuple(states)


def fit(
    readings: Readings,
    capacity_j_k: float,
    have: Mix,
    gas: Mix,
    volume_m3: float,
    ambient_bar: float = _STANDARD_AMBIENT_BAR,
    bank_pa: float | None = None,
) -> Fit:
    """Find the conductances that follow the readings best.

    Levenberg-Marquardt in the logarithms, so that a conductance stays positive.  Sources:
    K. Levenberg, Q. Appl. Math. 2 (1944) 164-168; D. W. Marquardt, SIAM J. 11 (1963) 431-441.

    Parameters
    ----------
    readings : Readings
        What was read.
    capacity_j_k : float
        Heat capacity of the metal [J/K].
    have, gas : Mix
        What was in before, and what was let in.
    volume_m3 : float
        Water capacity [m3].
    ambient_bar : float
        Ambient pressure [bar].
    bank_pa : float or None
        Absolute pressure the gas was throttled from [Pa], None if it came at the cylinder's.

    Returns
    -------
    Fit
        Conductances and standard uncertainties [W/K].

    Raises
    ------
    InputError
        If the readings do not say what the conductances are.
    ModelRangeError
        If the gas would leave the range of the equation of state.
    """

    def misses(logs: Array) -> Array:
        wall = Wall(capacity_j_k, *np.exp(logs).tolist())
        states = expected(readings, wall, have, gas, volume_m3, ambient_bar, bank_pa)
        return _misses(readings, states, ambient_bar)

    logs, missed, slopes = _least(misses, np.log(FIRST_GUESS_W_K))
    scatter = math.sqrt(float(missed @ missed) / (missed.size - 2))
    relative = _relative(slopes, max(scatter, LEAST_SCATTER))
    normal = slopes.T @ slopes
    # Of the inverse of a two by two matrix: the other way than the matrix itself.
    related = -float(normal[0, 1] / math.sqrt(normal[0, 0] * normal[1, 1]))
    inside, outside = np.exp(logs).tolist()
    wall = Wall(capacity_j_k, inside, outside)
    return Fit(wall, inside * relative[0], outside * relative[1], scatter, missed.size, related)


def _misses(readings: Readings, states: tuple[Warm, ...], ambient_bar: float) -> Array:
    """Return model less reading: temperatures [K], and gauges once shut [bar]."""
    pairs = list(zip(states, readings.rows, strict=True))
    warmth = [
        (state.wall_c if readings.of_wall else state.gas_c) - row.temperature_c
        for state, row in pairs[1:]
    ]
    gauge = [s.gauge_bar(ambient_bar) - row.gauge_bar for s, row in pairs[readings.shut + 1 :]]
    return np.array(warmth + gauge)


def _least(misses: Callable[[Array], Array], logs: Array) -> tuple[Array, Array, Array]:
    """Return where the sum of squares is least, with the misses and slopes there."""
    missed, damping = misses(logs), 1e-3
    slopes = _slopes(misses, logs, missed)
    for _ in range(_MOST_STEPS):
        normal = slopes.T @ slopes
        damped = normal + damping * np.diag(np.diag(normal) + 1e-12)
        step = np.clip(logs - np.linalg.solve(damped, slopes.T @ missed), _LOWEST, _HIGHEST) - logs
        if np.abs(step).max() < _SMALL:  # a hundredth of a percent
            break
        tried = _or_worse(misses, logs + step, missed)
        if tried @ tried < missed @ missed:
            logs, missed, damping = logs + step, tried, 0.1 * damping
            slopes = _slopes(misses, logs, missed)
        else:
            damping *= 10.0
    return logs, missed, slopes


def _or_worse(misses: Callable[[Array], Array], logs: Array, missed: Array) -> Array:
    """Return the misses, or worse ones than before where the model cannot follow."""
    try:
        return misses(logs)
    except ModelRangeError:
        return 2.0 * missed


def _slopes(misses: Callable[[Array], Array], logs: Array, missed: Array) -> Array:
    columns = [(misses(logs + row) - missed) / _NUDGE for row in _NUDGE * np.eye(logs.size)]
    return np.array(columns).T


def _relative(slopes: Array, scatter: float) -> tuple[float, float]:
    """Return relative standard uncertainties [1], or refuse if the readings do not say."""
    normal = slopes.T @ slopes
    determinant = float(np.linalg.det(normal))
    if determinant > 0.0:
        inside, outside = (scatter * np.sqrt(np.diag(normal)[::-1] / determinant)).tolist()
        if max(inside, outside) <= WORST_RELATIVE:
            return inside, outside
    raise InputError(
        "--readings",
        "what they say of the conductances",
        "at least one is uncertain by more than half: read more while gas goes in, and on for an "
        "hour while it cools",
    )
