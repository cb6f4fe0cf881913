"""The same fills as in `replay`, by the tangent of the equation of state at each stop.

The law of propagation asks only for slopes.  The states of a plan are known, so that the
pressures around all of them are found at once, and each stop is then one division.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blender.planning.recipe import Plan
from blender.planning.replay import Fills, Stop, other_pairs
from blender.realgas import batch

Array = NDArray[np.float64]
_NUDGE = 1e-6  # of the amount
_NUDGE_K = 1e-2


def replay_nearby(plan: Plan, errors: Mapping[str, Array], count: int) -> Array:
    """Carry out a plan with errors that are small.

    Parameters
    ----------
    plan : Plan
        The plan.
    errors : mapping of str to ndarray, shape (count,)
        As of `replay`; what is left out is of the second order in them.
    count : int
        How many fills.

    Returns
    -------
    ndarray, shape (count, 3)
        As of `replay`.

    Raises
    ------
    ModelRangeError
        If a state of the plan is outside the range of the equation of state.

    Examples
    --------
    >>> from blender.planning import PlanRequest, parse_gas_at, parse_want, plan
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32")
    >>> found = plan(PlanRequest(0.012, have, want))
    >>> replay_nearby(found, {"class.0": np.array([-0.01, 0.01])}, 2)[:, 0].round(6)
    array([0.319963, 0.320037])
    """
    return _Straight(plan, errors, count).result()


@dataclass(frozen=True, slots=True)
class _Tangent:
    """A state, and how its pressure [Pa] changes with amounts, temperature, volume and pairs."""

    amounts: Array
    temperature_k: float
    volume_m3: float
    pressure_pa: float
    per_mol: Array
    per_k: float
    other_pairs_pa: float

    @property
    def per_m3(self) -> float:
        """By the volume [Pa/m3]: twice the gas in twice the space has the same pressure."""
        return -float(self.per_mol @ self.amounts) / self.volume_m3


class _Planned(Fills):
    """The fill as planned; it notes amounts and temperature of each stop."""

    def __init__(self, plan: Plan) -> None:
        self.states: dict[str, tuple[Array, float]] = {}
        super().__init__(plan, {}, 1)
        self.result()

    def reached(self, before: Array, gas: Array, stop: Stop, guess_mol: float) -> Array:
        self._note(stop, before + gas * guess_mol)
        return np.array([guess_mol])

    def pressure_pa(self, stop: Stop) -> Array:
        self._note(stop, self.amounts)
        return self.target_pa(stop)

    def _note(self, stop: Stop, amounts: Array) -> None:
        self.states[stop.place] = amounts[0], float(stop.temperature_k[0])


class _Straight(Fills):
    """Fills whose pressures follow the tangents."""

    def __init__(self, plan: Plan, errors: Mapping[str, Array], count: int) -> None:
        self._tangents = _tangents(plan, with_pairs="pairs" in errors)
        super().__init__(plan, errors, count)

    def reached(self, before: Array, gas: Array, stop: Stop, _guess_mol: float) -> Array:
        missing = self.target_pa(stop) - self._pressure_of(before, stop)
        amount: Array = missing / (gas @ self._tangents[stop.place].per_mol)
        return amount

    def pressure_pa(self, stop: Stop) -> Array:
        return self._pressure_of(self.amounts, stop)

    def _pressure_of(self, amounts: Array, stop: Stop) -> Array:
        at = self._tangents[stop.place]
        pressure: Array = (
            at.pressure_pa
            + (amounts - at.amounts) @ at.per_mol
            + (stop.temperature_k - at.temperature_k) * at.per_k
            + (self.volume_m3(stop.gauge_bar) - at.volume_m3) * at.per_m3
            + self.error("pairs") * at.other_pairs_pa
        )
        return pressure


def _tangents(plan: Plan, *, with_pairs: bool) -> dict[str, _Tangent]:
    """Find the tangents at every stop of a plan in one batch."""
    states = _Planned(plan).states
    amounts = np.array([state[0] for state in states.values()])
    temperature_k = np.array([state[1] for state in states.values()])
    nudge = _NUDGE * amounts.sum(1)
    # One row a nudge: none, each of four amounts, the temperature.
    nudged = np.tile(amounts, (6, 1, 1))
    for gas in range(4):
        nudged[1 + gas, :, gas] += nudge
    warm = np.tile(temperature_k, (6, 1))
    warm[5] += _NUDGE_K
    volume, pairs = plan.request.volume_m3, plan.request.pairs
    pressure = _pressure(nudged, warm, volume, pairs)
    per_mol = ((pressure[1:5] - pressure[0]) / nudge).T
    per_k = (pressure[5] - pressure[0]) / _NUDGE_K
    other = np.zeros(len(states))
    if with_pairs:
        other = _pressure(amounts, temperature_k, volume, other_pairs(pairs)) - pressure[0]
    return {
        place: _Tangent(amounts[k], float(temperature_k[k]), volume, float(pressure[0, k]),
                        per_mol[k], float(per_k[k]), float(other[k]))
        for k, place in enumerate(states)
    }  # fmt: skip


def _pressure(amounts: Array, temperature_k: Array, volume_m3: float, pairs: str) -> Array:
    total = amounts.sum(-1)
    return batch.pressure(temperature_k, total / volume_m3, amounts / total[..., None], pairs)
