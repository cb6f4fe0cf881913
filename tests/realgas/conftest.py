"""Independent implementations of the same model, and a large sample of states."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pyaga8
import pytest
import teqp
from numpy.typing import NDArray

from blender.realgas.limits import MAX_PRESSURE_PA, MAX_TEMPERATURE_K, MIN_TEMPERATURE_K

Array = NDArray[np.float64]
STATES = 20_000


@dataclass(frozen=True)
class States:
    """Temperatures [K], pressures [Pa] and fractions O2, He, N2, Ar."""

    temperature_k: Array
    pressure_pa: Array
    fractions: Array


class Aga:
    """GERG-2008 of pyaga8, which works in kPa and mol/L."""

    def __init__(self) -> None:
        self._model, self._gas = pyaga8.Gerg2008(), pyaga8.Composition()

    def at_pressure(self, temperature_k: float, pressure_pa: float, fractions: Array) -> float:
        """Return the density [mol/m3]."""
        self._compose(temperature_k, fractions)
        self._model.pressure = float(pressure_pa) / 1e3
        self._model.calc_density(0)
        return float(self._model.d) * 1e3

    def energies(
        self, temperature_k: float, density: float, fractions: Array
    ) -> tuple[float, float, float, float]:
        """Return u, h [J/mol], cv and cp [J/(mol K)]."""
        self._compose(temperature_k, fractions)
        self._model.d = float(density) / 1e3
        self._model.calc_properties()
        return self._model.u, self._model.h, self._model.cv, self._model.cp

    def _compose(self, temperature_k: float, fractions: Array) -> None:
        gas = self._gas
        gas.oxygen, gas.helium, gas.nitrogen, gas.argon = (float(x) for x in fractions)
        self._model.set_composition(gas)
        self._model.temperature = float(temperature_k)


class Teqp:
    """GERG-2008 of teqp, pressure from temperature and density."""

    def __init__(self) -> None:
        names = ["oxygen", "helium", "nitrogen", "argon"]
        self._model = teqp.make_model({"kind": "GERG2008resid", "model": {"names": names}})

    def pressure(self, temperature_k: float, density: float, fractions: Array) -> float:
        """Return the pressure [Pa]."""
        ideal = density * self._model.get_R(fractions) * temperature_k
        return float(ideal * (1.0 + self._model.get_Ar01(temperature_k, density, fractions)))


@pytest.fixture(scope="session")
def aga() -> Aga:
    return Aga()


@pytest.fixture(scope="session")
def teqp_gerg() -> Teqp:
    return Teqp()


@pytest.fixture(scope="session")
def states() -> States:
    """Random states over the whole range: a quarter each of one, two, three and four gases."""
    rng = np.random.default_rng(20081)
    present = [subset for size in (1, 2, 3, 4) for subset in itertools.combinations(range(4), size)]
    by_size = {size: [s for s in present if len(s) == size] for size in (1, 2, 3, 4)}
    fractions = np.zeros((STATES, 4))
    for k in range(STATES):
        subsets = by_size[1 + k % 4]
        subset = list(subsets[(k // 4) % len(subsets)])
        fractions[k, subset] = rng.dirichlet(np.ones(len(subset)))
    temperature_k = rng.uniform(MIN_TEMPERATURE_K, MAX_TEMPERATURE_K, STATES)
    pressure_pa = rng.uniform(0.0, MAX_PRESSURE_PA, STATES)
    # The corners, where Newton's method has it hardest, belong to the sample.
    pressure_pa[:60] = MAX_PRESSURE_PA
    temperature_k[:40], temperature_k[40:60] = MIN_TEMPERATURE_K, MAX_TEMPERATURE_K
    pressure_pa[60:80], temperature_k[60:70] = 1.0, MIN_TEMPERATURE_K
    return States(temperature_k, pressure_pa, fractions)
