"""What the steps of a plan lead to when what is read, or let in, is not what was thought.

Every row is one fill with its own errors, named by cause: the gauge at a stop (``class.2``,
``step.2`` [bar]), the gas's temperature there (``temperature.2`` [K]), the scale
(``scale.2`` [g]), the meters in the intake (``meter``, ``helium-meter`` [1]), a gas's purity
(``purity.oxygen`` [1]), the residual (``class.residual``, ``temperature.residual``,
``residual.o2``, ``residual.he``), the water in the intake (``damp`` [1]), the filter tower (its
``tower.volume``, ``tower.o2``, ``tower.he`` [1], ``class.tower``, ``step.tower`` [bar],
``temperature.tower`` [K], and ``tower.mixing``: 0 pushed out in a plug, 1 stirred), the cylinder's
stretch (``stretch``, of its volume at `STRETCH_BAR` [1]) and the doubtful pairs of helium
(``pairs``, 0 for the set of the plan, 1 for the other).  A number is the step's place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blender.gas import Mix
from blender.planning.doubtful_run import delivered, held_in_tower, left_behind, runs_on
from blender.planning.mass import molar_mass_g_mol
from blender.planning.recipe import Plan, Step
from blender.planning.tower import TOWER_NAME
from blender.realgas import PAIR_SETS, batch
from blender.units import bar_to_pa, c_to_k
from blender.vessel import amount_for_pressure

Array = NDArray[np.float64]
STRETCH_BAR = 232.0
RICH = 0.9  # of oxygen or helium: a gas that is sold by its purity
_ROUNDS = 12
_NUDGE = 1e-6
_NEXT_TO_NOTHING = 1e-9  # is left of what a coarse scale lets out whole
# How near a pressure must be for the last step towards it [1]; about a third of its square is left.
_NEARLY = 1e-4
SETTLED = "settled"  # where the fill settles, beside the places of steps


def replay(plan: Plan, errors: Mapping[str, Array], count: int) -> Array:
    """Carry out a plan with errors.

    Parameters
    ----------
    plan : Plan
        The plan.
    errors : mapping of str to ndarray, shape (count,)
        Errors by cause, each what is true less what was thought; a cause left out is exact.
    count : int
        How many fills.

    Returns
    -------
    ndarray, shape (count, 3)
        Oxygen and helium [1] and the settled gauge pressure [bar] of each fill.

    Raises
    ------
    ModelRangeError
        If a state is outside the range of the equation of state.

    Examples
    --------
    >>> from blender.planning import PlanRequest, parse_gas_at, parse_want, plan
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32")
    >>> found = plan(PlanRequest(0.012, have, want))
    >>> replay(found, {"class.0": np.array([-2.5, 2.5])}, 2)[:, 0].round(5)
    array([0.31075, 0.32924])
    """
    return Fills(plan, errors, count).result()


@dataclass
class Stop:
    """A pressure read at a temperature, as they truly are, and whose it is."""

    place: str
    gauge_bar: Array
    temperature_k: Array


class Fills:
    """Fills on their way through the steps: `amounts` [mol] of O2, He, N2, Ar, one a row.

    Parameters
    ----------
    plan : Plan
        The plan.
    errors : mapping of str to ndarray, shape (count,)
        As of `replay`.
    count : int
        How many fills.
    """

    def __init__(self, plan: Plan, errors: Mapping[str, Array], count: int) -> None:
        self.request, self.errors, self.count = plan.request, errors, count
        request, residual = plan.request, plan.request.residual()
        self.amounts = np.zeros((count, 4))
        self._delivered: Array | None = None
        self._scale_g: Array | float = self.error("scale.start")
        at_c = request.have.temperature_c
        at_c = request.first_temperature_c if at_c is None else at_c
        gas = _turned(_rows(residual.mix, count), self.error("residual.o2"), 0, 2)
        gas = _turned(gas, self.error("residual.he"), 1, 2)
        self._let_in(gas, self._stop("residual", request.have.gauge_bar, at_c), residual.total_mol)
        for place, step in enumerate(plan.steps):
            if step.supply == TOWER_NAME:
                self._from_tower(plan.steps[place:], str(place))
            else:
                self._carry_out(step, str(place))

    def _carry_out(self, step: Step, place: str) -> None:
        """Do one step of the plan."""
        if step.gas is None or step.to_bar is None or step.temperature_c is None:
            return
        stop = self._stop(place, step.to_bar, step.temperature_c)
        if step.action == "drain":
            self._drain(step, place, stop)
            return
        if step.whip_gas is not None:
            self.amounts += _rows(step.whip_gas, self.count) * (step.whip_gas_mol or 0.0)
        gas = self._gas(step, place)
        if step.scale_g is not None:
            gained = self._gain_g(place) / molar_mass_g_mol(step.gas)
            self.amounts = self.amounts + gas * ((step.amount_mol or 0.0) + gained)[:, None]
        else:
            self._let_in(gas, stop, step.amount_mol or 0.0)
        if step.action == "purge":
            assert step.from_bar is not None
            vented = self._stop(f"{place}v", step.from_bar, step.temperature_c)
            self._vent(vented, self._left_mol(step.holds, step.from_bar, step.temperature_c))

    def result(self) -> Array:
        """Return what the fills hold and where they settle, shape (count, 3)."""
        request = self.request
        mixes = self.amounts / self.amounts.sum(1, keepdims=True)
        settles = self._stop(SETTLED, request.want.gauge_bar, request.settle_at_c)
        bar = self.pressure_pa(settles) / 1e5 - request.ambient_bar
        return np.stack([mixes[:, 0], mixes[:, 1], bar], axis=1)

    def pressure_pa(self, stop: Stop) -> Array:
        """Return the absolute pressure at a stop's temperature [Pa]."""
        return self._pressure(self.amounts, stop.temperature_k, self.volume_m3(stop.gauge_bar))

    def _left_mol(self, gas: Mix, gauge_bar: float, temperature_c: float) -> float:
        request = self.request
        volume, ambient, pairs = request.volume_m3, request.ambient_bar, request.pairs
        return amount_for_pressure(gas, gauge_bar, temperature_c, volume, ambient, pairs)

    def error(self, cause: str) -> Array:
        """Return the errors of a cause, zero where none are given."""
        found = self.errors.get(cause)
        return np.zeros(self.count) if found is None else found

    def _stop(self, place: str, gauge_bar: float, temperature_c: float) -> Stop:
        off = self.error(f"class.{place}") + self.error(f"step.{place}")
        at_k = c_to_k(temperature_c) + self.error(f"temperature.{place}")
        return Stop(place, np.maximum(gauge_bar + off, 0.0), at_k)

    def _gain_g(self, place: str) -> Array:
        """Return by how much more than it showed the scale gained in a step [g]."""
        before, self._scale_g = self._scale_g, self.error(f"scale.{place}")
        return self._scale_g - before

    def _gas(self, step: Step, place: str) -> Array:
        """Return the gas that truly goes in, one a row."""
        assert step.gas is not None
        gas = _rows(step.gas, self.count)
        if step.action == "flow":
            self._delivered = delivered(self.request, step, place, self.error)
            return self._delivered
        impure = self.error(f"purity.{step.supply}")
        if step.gas.o2 > RICH:
            return _turned(gas, impure, 0, 3)
        return _turned(gas, impure, 1 if step.gas.he > RICH else 0, 2)

    def _from_tower(self, steps: Sequence[Step], place: str) -> None:
        """Let in what the tower held; a stop ends it where nothing is delivered after it."""
        step, amount_mol = steps[0], steps[0].amount_mol or 0.0
        assert step.gas is not None
        assert step.to_bar is not None
        assert step.temperature_c is not None
        gas = self._delivered  # what a run that stopped had left in it
        if gas is None:
            gas = _turned(_rows(step.gas, self.count), self.error("tower.o2"), 0, 2)
            gas = _turned(gas, self.error("tower.he"), 1, 2)
        behind = self.error("tower.mixing") * left_behind(self.request, steps)
        if runs_on(steps):
            gone = amount_mol * held_in_tower(self.request, self.error) * (1.0 - behind)
            self.amounts = self.amounts + gas * gone[:, None]
            return
        new = delivered(self.request, step, place, self.error)
        stop = self._stop(place, step.to_bar, step.temperature_c)
        self._let_in(gas + behind[:, None] * (new - gas), stop, amount_mol)

    def _drain(self, step: Step, place: str, stop: Stop) -> None:
        if step.scale_g is None:
            self._vent(stop, float(self.amounts[0].sum()) - (step.amount_mol or 0.0))
            return
        assert step.gas is not None
        out = (step.amount_mol or 0.0) - self._gain_g(place) / molar_mass_g_mol(step.gas)
        total = self.amounts.sum(1)
        self.amounts = (
            self.amounts * (np.maximum(total - out, _NEXT_TO_NOTHING * total) / total)[:, None]
        )

    def _vent(self, stop: Stop, guess_mol: float) -> None:
        """Let mixed gas out down to a stop; none goes in where it already is lower."""
        total = self.amounts.sum(1)
        mixes = self.amounts / total[:, None]
        left = self.reached(np.zeros_like(mixes), mixes, stop, max(guess_mol, 1e-3 * total[0]))
        self.amounts = mixes * np.minimum(left, total)[:, None]

    def _let_in(self, gas: Array, stop: Stop, guess_mol: float) -> None:
        amount = self.reached(self.amounts, gas, stop, guess_mol)
        self.amounts = self.amounts + gas * np.maximum(amount, 0.0)[:, None]

    def reached(self, before: Array, gas: Array, stop: Stop, guess_mol: float) -> Array:
        """Return how much of a gas brings what is there to a stop [mol].

        Newton's steps, each slope from a second amount a little larger in the same call; the
        last step leaves the square of what was missing before it.
        """
        target, volume = self.target_pa(stop), self.volume_m3(stop.gauge_bar)
        amount = np.full(self.count, guess_mol)
        for _ in range(_ROUNDS):
            nudge = _NUDGE * (before.sum(1) + amount)
            holds = before + gas * np.stack([amount, amount + nudge])[:, :, None]
            here, there = self._pressure(holds, stop.temperature_k, volume)
            missing = target - here
            amount = amount + missing * nudge / (there - here)
            if float(np.max(np.abs(missing) / target)) < _NEARLY:
                break
        return amount

    def target_pa(self, stop: Stop) -> Array:
        """Return the absolute pressure of a stop [Pa]."""
        return bar_to_pa(1.0) * (stop.gauge_bar + self.request.ambient_bar)

    def volume_m3(self, gauge_bar: Array) -> Array:
        """Return the cylinder's volume at gauge pressures [m3]."""
        stretch = self.error("stretch") * gauge_bar / STRETCH_BAR
        return self.request.volume_m3 * (1.0 + stretch)

    def _pressure(self, amounts: Array, temperature_k: Array, volume: Array) -> Array:
        total = amounts.sum(-1)
        mixes, density = amounts / total[..., None], total / volume
        pairs, doubt = self.request.pairs, self.errors.get("pairs")
        found = batch.pressure(temperature_k, density, mixes, pairs)
        if doubt is not None:
            some = doubt != 0.0
            at = (temperature_k[some], density[..., some], mixes[..., some, :])
            other = batch.pressure(*at, other_pairs(pairs))
            found[..., some] += doubt[some] * (other - found[..., some])
        return found


def other_pairs(pairs: str) -> str:
    """Return the set of pair parameters that is not the plan's."""
    return next(name for name in PAIR_SETS if name != pairs)


def _rows(gas: Mix, count: int) -> Array:
    return np.tile(np.array(gas.fractions), (count, 1))


def _turned(gas: Array, share: Array, main: int, instead: int) -> Array:
    """Return gases with a share more of one and less of another, as far as there is some."""
    share = np.clip(share, -gas[:, main], gas[:, instead])
    turned = gas.copy()
    turned[:, main] += share
    turned[:, instead] -= share
    return turned
