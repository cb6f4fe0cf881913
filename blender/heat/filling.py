"""The first law while gas goes in: d(n u) = h_in dn - dQ, marched in pressure.

The gauge is taken to rise at a constant rate, as a person at the panel holds it.  Of the paces
one could think of, this one reproduces the reference results with a wall to 0.1 K and 0.1 bar; a
constant rate in moles is 0.4 to 1.7 K and 0.3 to 1.2 bar off them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from blender.errors import InputError
from blender.gas import Mix
from blender.heat.solver import Array, solve
from blender.heat.state import ROUGHLY_J_MOL_K, Warm, pressure_and_energy
from blender.heat.wall import Wall
from blender.realgas import PUBLISHED
from blender.realgas.limits import MAX_TEMPERATURE_K, MIN_TEMPERATURE_K
from blender.vessel import mixture

# Longest steps of a march; ones an eighth as long change no stop's temperature by 0.05 K.
STEP_PA, STEP_S = 4e5, 30.0
_LEAST_PA = 0.5
_UNIT_K = 300.0


@dataclass(frozen=True, slots=True)
class Feed:
    """The gas let in, as it comes to the valve.

    Parameters
    ----------
    gas : Mix
        The gas.
    temperature_k : float
        Its temperature [K].
    bank_pa : float or None
        Absolute pressure it is throttled from [Pa]; None if it comes at the cylinder's own
        pressure, as from a compressor.
    pairs : str
        Name of the set of pair parameters.

    Examples
    --------
    >>> from blender.gas import AIR
    >>> same, bank = Feed(AIR, 293.15), Feed(AIR, 293.15, 300e5)
    >>> same.enthalpy(300e5) == bank.enthalpy(1e5), same.enthalpy(1e5) > bank.enthalpy(1e5)
    (True, True)
    """

    gas: Mix
    temperature_k: float
    bank_pa: float | None = None
    pairs: str = PUBLISHED

    def enthalpy(self, cylinder_pa: float) -> float:
        """Return its molar enthalpy [J/mol] with the cylinder at an absolute pressure [Pa]."""
        state = mixture(self.gas.fractions, self.pairs)
        pressure_pa = cylinder_pa if self.bank_pa is None else self.bank_pa
        density = state.density(self.temperature_k, pressure_pa)
        return state.enthalpy(self.temperature_k, density)


def fill(
    start: Warm, feed: Feed, wall: Wall, room_k: float, to_pa: float, seconds: float
) -> tuple[Warm, ...]:
    """Fill to a pressure in a given time, at a constant rate of pressure.

    Range: 230 to 500 K, up to 500 bar.  Source: first law for a control volume; the wall as
    one lump is this project's choice.

    Parameters
    ----------
    start : Warm
        Before; above vacuum.
    feed : Feed
        The gas let in.
    wall : Wall
        The metal.
    room_k : float
        Temperature of the room [K].
    to_pa : float
        Absolute pressure to stop at, hot [Pa].
    seconds : float
        How long it takes [s]; 0 if no heat has time to leave.

    Returns
    -------
    tuple of Warm
        The states on the way, `start` first, the stop last.

    Raises
    ------
    InputError
        If the pressure would not rise.
    ModelRangeError
        If the gas would leave the range of the equation of state.

    Examples
    --------
    Air from 60 to 232 bar absolute in five minutes, 14 kg of steel (reference: 330.40 K):

    >>> from blender.gas import AIR
    >>> from blender.vessel import contents_at
    >>> start = Warm(contents_at(AIR, 60.0, 20.0, 0.012, 0.0), 293.15, 293.15)
    >>> way = fill(start, Feed(AIR, 293.15), Wall(6650.0, 20.0, 5.0), 293.15, 232e5, 300.0)
    >>> round(way[-1].gas_k, 1), round(way[-1].contents.gauge_bar(20.0, 0.0), 1)
    (330.4, 196.5)
    """
    from_pa = start.pressure_pa
    if not to_pa > from_pa + _LEAST_PA or seconds < 0.0:
        given = f"{to_pa / 1e5:.2f} bar absolute in {seconds:g} s"
        raise InputError("stop", given, f"give more than the {from_pa / 1e5:.2f} bar it holds")
    count = max(math.ceil((to_pa - from_pa) / STEP_PA), math.ceil(seconds / STEP_S))
    way = [start]
    for pressure_pa in np.linspace(from_pa, to_pa, count + 1).tolist()[1:]:
        way.append(_step(way[-1], feed, wall, room_k, pressure_pa, seconds / count))
    return tuple(way)


def _step(start: Warm, feed: Feed, wall: Wall, room_k: float, to_pa: float, seconds: float) -> Warm:
    """Solve for temperature and amount let in after one step of pressure."""
    from_pa, before_j = pressure_and_energy(start.contents, start.gas_k)
    inflow = 0.5 * (feed.enthalpy(from_pa) + feed.enthalpy(to_pa))
    # As much as an ideal gas would need at the same temperature: the scale of the unknown.
    unit_mol = start.contents.total_mol * (to_pa - from_pa) / from_pa
    capacity_j_k = start.roughly_j_k
    unit_j = (capacity_j_k + ROUGHLY_J_MOL_K * unit_mol) * _UNIT_K

    def misses(unknown: Array) -> Array:
        gas_k, let_in_mol = float(unknown[0]) * _UNIT_K, float(unknown[1]) * unit_mol
        contents = start.contents.with_gas(feed.gas, let_in_mol)
        pressure_pa, energy_j = pressure_and_energy(contents, gas_k)
        _, lost_j = wall.after(start.wall_k, (start.gas_k, gas_k), room_k, seconds, capacity_j_k)
        gained_j = energy_j - before_j - inflow * let_in_mol + lost_j
        return np.array([pressure_pa / to_pa - 1.0, gained_j / unit_j])

    ends = MIN_TEMPERATURE_K / _UNIT_K, MAX_TEMPERATURE_K / _UNIT_K
    warmth, units = solve(misses, (start.gas_k / _UNIT_K, 1.0), *ends)
    gas_k, contents = warmth * _UNIT_K, start.contents.with_gas(feed.gas, units * unit_mol)
    wall_k, _ = wall.after(start.wall_k, (start.gas_k, gas_k), room_k, seconds, capacity_j_k)
    return Warm(contents, gas_k, wall_k, start.seconds + seconds)
