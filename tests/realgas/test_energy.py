"""Internal energy, enthalpy and heat capacity against pyaga8's GERG-2008."""

from __future__ import annotations

import numpy as np
import pytest

from blender.realgas import Mixture, batch
from blender.realgas.coefficients import coefficients
from blender.realgas.idealgas import ideal_isochoric_heat_capacity

N = 2000


def test_differences_of_energy_agree_with_pyaga8(states, aga):
    """Against the same mixture at 300 K without pressure: the zero of energy drops out."""
    t, p, x = states.temperature_k[:N], states.pressure_pa[:N], states.fractions[:N]
    density = batch.density(t, p, x)
    u = batch.internal_energy(t, density, x) - batch.internal_energy(300.0, 0.0, x)
    h = batch.enthalpy(t, density, x) - batch.enthalpy(300.0, 0.0, x)
    for k in range(N):
        their_u, their_h, _, _ = aga.energies(t[k], density[k], x[k])
        zero_u, zero_h, _, _ = aga.energies(300.0, 1e-12, x[k])
        assert u[k] == pytest.approx(their_u - zero_u, rel=1e-9, abs=1e-7)
        assert h[k] == pytest.approx(their_h - zero_h, rel=1e-9, abs=1e-7)


def test_heat_capacity_agrees_with_pyaga8(states, aga):
    t, p, x = states.temperature_k[:N], states.pressure_pa[:N], states.fractions[:N]
    density = batch.density(t, p, x)
    cv = batch.isochoric_heat_capacity(t, density, x)
    for k in range(N):
        assert cv[k] == pytest.approx(aga.energies(t[k], density[k], x[k])[2], rel=1e-11)


@pytest.mark.parametrize("gas", range(4))
@pytest.mark.parametrize("temperature_k", [230.0, 300.0, 400.0, 500.0])
def test_ideal_heat_capacity_agrees_with_pyaga8(gas, temperature_k, aga):
    """The Jaeschke-Schley coefficients, at a density where the gas is ideal."""
    pure = np.eye(4)[gas]
    _, _, cv, cp = aga.energies(temperature_k, 1e-9, pure)
    ours = ideal_isochoric_heat_capacity(temperature_k, pure)
    assert ours == pytest.approx(cv, rel=1e-11)
    assert ours + coefficients().gas_constant == pytest.approx(cp, rel=1e-11)


def test_one_atom_gases_have_the_ideal_heat_capacity_of_theory():
    for pure in ((0, 1, 0, 0), (0, 0, 0, 1)):
        assert ideal_isochoric_heat_capacity(300.0, pure) == pytest.approx(
            1.5 * 8.314510, rel=1e-15
        )


def test_scalar_equals_batch(states):
    t, p, x = states.temperature_k[:500], states.pressure_pa[:500], states.fractions[:500]
    density = batch.density(t, p, x)
    for name in ("internal_energy", "enthalpy", "isochoric_heat_capacity"):
        whole = getattr(batch, name)(t, density, x)
        one_by_one = [getattr(Mixture(x[k]), name)(t[k], density[k]) for k in range(t.size)]
        np.testing.assert_allclose(one_by_one, whole, rtol=1e-12, atol=1e-9)


def test_heat_capacity_is_the_slope_of_the_energy(states):
    for k in range(0, 400, 4):
        t, x = min(states.temperature_k[k] + 1.0, 499.0), states.fractions[k]
        mixture = Mixture(x)
        density = 0.9 * mixture.density(t, states.pressure_pa[k])
        energies = (mixture.internal_energy(t + step, density) for step in (0.01, -0.01))
        slope = (next(energies) - next(energies)) / 0.02
        assert mixture.isochoric_heat_capacity(t, density) == pytest.approx(slope, rel=1e-7)


def test_molar_mass():
    """Air: 28.966 g/mol without carbon dioxide (common knowledge of the trade's textbooks)."""
    air = Mixture((0.20946, 0.0, 0.78120, 0.00934))
    assert air.molar_mass_kg_mol == pytest.approx(28.96e-3, rel=3e-4)
