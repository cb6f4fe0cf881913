"""Density and pressure against two independent implementations of GERG-2008."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from blender.realgas import PAIR_SETS, Mixture, batch, onestate, roots
from blender.realgas.limits import MAX_DENSITY_MOL_M3, MAX_PRESSURE_PA

BINARIES = list(itertools.combinations(range(4), 2))


def test_density_agrees_with_pyaga8(states, aga, teqp_gerg):
    t, p, x = states.temperature_k, states.pressure_pa, states.fractions
    ours = batch.density(t, p, x)
    theirs = np.array([aga.at_pressure(*state) for state in zip(t, p, x, strict=True)])
    apart = np.flatnonzero(~(np.abs(ours / theirs - 1.0) <= 1e-8))
    # pyaga8 converged everywhere in this sample: no state needs another judge.
    assert apart.size == 0
    for k in range(0, t.size, 40):
        assert teqp_gerg.pressure(t[k], ours[k], x[k]) == pytest.approx(p[k], rel=1e-10)


def test_pressure_agrees_with_teqp(states, teqp_gerg):
    t, x = states.temperature_k[::10], states.fractions[::10]
    density = batch.density(t, states.pressure_pa[::10], x)
    ours = batch.pressure(t, density, x)
    theirs = [teqp_gerg.pressure(*state) for state in zip(t, density, x, strict=True)]
    np.testing.assert_allclose(ours, theirs, rtol=1e-12)


def test_scalar_equals_batch(states):
    t, p, x = states.temperature_k[:4000], states.pressure_pa[:4000], states.fractions[:4000]
    density = batch.density(t, p, x)
    pressure = batch.pressure(t, density, x)
    z = batch.compressibility(t, p, x)
    b = batch.second_virial(t, x)
    for k in range(t.size):
        mixture = Mixture(x[k])
        assert mixture.density(t[k], p[k]) == pytest.approx(density[k], rel=1e-12)
        assert mixture.pressure(t[k], density[k]) == pytest.approx(pressure[k], rel=1e-12)
        assert mixture.compressibility(t[k], p[k]) == pytest.approx(z[k], rel=1e-12)
        assert mixture.second_virial(t[k]) == pytest.approx(b[k], rel=1e-12, abs=1e-18)


@pytest.mark.parametrize("pairs", PAIR_SETS)
@pytest.mark.parametrize("pair", BINARIES)
def test_pressure_gives_back_what_density_was_solved_for(pairs, pair):
    """Every pure gas and binary over the whole range, its edges included."""
    share, t, p = (
        values.ravel()
        for values in np.meshgrid(
            np.linspace(0.0, 1.0, 11),
            np.linspace(230.0, 500.0, 10),
            np.linspace(0.0, MAX_PRESSURE_PA, 26),
        )
    )
    x = np.zeros((share.size, 4))
    x[:, pair[0]], x[:, pair[1]] = share, 1.0 - share
    density = batch.density(t, p, x, pairs)
    np.testing.assert_allclose(batch.pressure(t, density, x, pairs), p, rtol=1e-11)
    assert density.max() < MAX_DENSITY_MOL_M3


@pytest.mark.parametrize("pairs", PAIR_SETS)
def test_pressure_rises_with_density_up_to_the_limit(pairs):
    """So one density answers to a pressure, and what is too dense is seen to be."""
    density = np.linspace(0.0, MAX_DENSITY_MOL_M3, 60)
    parts = np.array(list(itertools.product(range(6), repeat=4)))
    mixtures = parts[parts.sum(axis=1) == 5] / 5.0
    for fractions in mixtures:
        mixture = Mixture(fractions, pairs)
        for temperature_k in (230.0, 260.0, 500.0):
            groups = mixture._at(temperature_k).coefficients
            for rho in density:
                z, slope, _ = onestate.compressibility(
                    groups, rho / mixture.reducing_density_mol_m3
                )
                assert z + slope > 0.3


@pytest.mark.parametrize(
    "fractions",
    [(1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1), (0.2, 0.3, 0.49, 0.01)],
)
@pytest.mark.parametrize("temperature_k", [230.0, 293.15, 500.0])
def test_isotherm_equals_batch(fractions, temperature_k):
    isotherm = batch.Isotherm(fractions, temperature_k)
    p = np.linspace(0.0, MAX_PRESSURE_PA, 20_001)
    density = isotherm.density(p)
    np.testing.assert_allclose(density, batch.density(temperature_k, p, fractions), rtol=4e-12)
    np.testing.assert_allclose(isotherm.pressure(density), p, rtol=1e-11)


def test_zero_pressure_is_zero_density():
    air = (0.20946, 0.0, 0.78120, 0.00934)
    assert Mixture(air).density(293.15, 0.0) == 0.0
    assert Mixture(air).pressure(293.15, 0.0) == 0.0
    assert Mixture(air).compressibility(293.15, 0.0) == 1.0
    assert batch.density(293.15, [0.0, 1e5], air)[0] == 0.0
    assert batch.compressibility(293.15, 0.0, air)[0] == 1.0
    assert batch.Isotherm(air, 293.15).density([0.0])[0] == 0.0


def test_a_bad_first_guess_is_mended_by_the_bracket(monkeypatch):
    expected = Mixture((0, 0, 0, 1)).density(230.0, MAX_PRESSURE_PA)
    for guess in (1e-3, 0.1, 3.9):
        monkeypatch.setattr(onestate, "virial_seed", lambda b, c, guess=guess: guess)
        solved = Mixture((0, 0, 0, 1)).density(230.0, MAX_PRESSURE_PA)
        assert solved == pytest.approx(expected, rel=1e-11)


def test_a_block_that_does_not_converge_is_solved_one_by_one(states, monkeypatch):
    t, p, x = states.temperature_k[:50], states.pressure_pa[:50], states.fractions[:50]
    expected = batch.density(t, p, x)
    monkeypatch.setattr(roots, "_halley", lambda groups, ideal, y: np.full_like(y, np.nan))
    np.testing.assert_allclose(batch.density(t, p, x), expected, rtol=1e-11)


def test_a_few_unsolved_states_are_gone_over_by_themselves(states, monkeypatch):
    t, p, x = states.temperature_k[:500], states.pressure_pa[:500], states.fractions[:500]
    expected = batch.density(t, p, x)

    def bad_seed(groups, ideal):
        y = np.ones_like(ideal)
        y[::7] = 0.4
        return y

    monkeypatch.setattr(roots, "virial_seed", bad_seed)
    np.testing.assert_allclose(batch.density(t, p, x), expected, rtol=1e-11)


def test_arrays_broadcast_and_are_left_alone():
    air = np.array([0.20946, 0.0, 0.78120, 0.00934])
    dust = np.array([[1.0, -1e-17, 0.0, 0.0]])
    dust.flags.writeable = False
    grid = batch.density([[280.0], [300.0]], [1e5, 2e5, 3e5], air)
    assert grid.shape == (2, 3)
    assert grid[1, 2] == pytest.approx(Mixture(air).density(300.0, 3e5), rel=1e-12)
    assert batch.density(300.0, 1e5, dust).shape == (1,)
    assert batch.density([], [], np.empty((0, 4))).shape == (0,)
    columns = np.asfortranarray(np.tile([1.0, -1e-17, 0.0, 0.0], (5, 1)))
    batch.density(300.0, 1e5, columns)
    assert columns[0, 1] == -1e-17
