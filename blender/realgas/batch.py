"""Many states at once in numpy: what tables, charts and uncertainty runs ask for.

All functions take arrays that broadcast to n states, and fractions of shape (n, 4) or (4,),
in the order O2, He, N2, Ar.  Range: 230 to 500 K, 0 to 500 bar, gas phase; outside it they
raise ModelRangeError.  Source: O. Kunz, W. Wagner, J. Chem. Eng. Data 57 (2012) 3032-3091.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from blender.realgas import kernel, roots
from blender.realgas.arraylimits import (
    as_floats,
    as_mixtures,
    check_densities,
    check_mixtures,
    check_pressures,
    check_reached,
    check_temperatures,
)
from blender.realgas.idealgas import ideal_internal_energy, ideal_isochoric_heat_capacity
from blender.realgas.isotherm import Isotherm
from blender.realgas.kernel import BLOCK, Array, Prepared, keep_freed_memory
from blender.realgas.pairs import PUBLISHED

__all__ = [
    "Isotherm",
    "compressibility",
    "density",
    "enthalpy",
    "internal_energy",
    "isochoric_heat_capacity",
    "pressure",
    "second_virial",
]


def density(
    temperature_k: ArrayLike, pressure_pa: ArrayLike, fractions: ArrayLike, pairs: str = PUBLISHED
) -> Array:
    """Molar density of each state [mol/m3], by Halley's method.

    Parameters
    ----------
    temperature_k : array_like, shape (n,)
        Temperature [K], 230 to 500.
    pressure_pa : array_like, shape (n,)
        Absolute pressure [Pa], 0 to 500e5; zero gives zero.
    fractions : array_like, shape (n, 4)
        Mole fractions of O2, He, N2, Ar [1].
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Returns
    -------
    ndarray, shape (n,)
        Molar density [mol/m3].

    Raises
    ------
    ModelRangeError
        If a state is out of range.
    InputError
        If there is no such set of pair parameters.

    Examples
    --------
    >>> density([350.0], [200e5], [[0.0, 0.0, 1.0, 0.0]]).round(1)
    array([6355.3])
    """

    def of_block(at: Prepared, pressure: Array) -> Array:
        return _inverse_z(at, pressure) * pressure / at.rt

    return _by_blocks(of_block, check_pressures, temperature_k, pressure_pa, fractions, pairs)


def pressure(
    temperature_k: ArrayLike,
    density_mol_m3: ArrayLike,
    fractions: ArrayLike,
    pairs: str = PUBLISHED,
) -> Array:
    """Absolute pressure of each state [Pa]; explicit, nothing is solved.

    Parameters
    ----------
    temperature_k : array_like, shape (n,)
        Temperature [K], 230 to 500.
    density_mol_m3 : array_like, shape (n,)
        Molar density [mol/m3], 0 up to that at 500 bar.
    fractions : array_like, shape (n, 4)
        Mole fractions of O2, He, N2, Ar [1].
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Returns
    -------
    ndarray, shape (n,)
        Absolute pressure [Pa].

    Raises
    ------
    ModelRangeError
        If a state is out of range.
    InputError
        If there is no such set of pair parameters.

    Examples
    --------
    >>> (pressure([350.0], [6355.2], [[0.0, 0.0, 1.0, 0.0]]) / 1e5).round(1)
    array([200.])
    """
    return _by_blocks(_pressure, check_densities, temperature_k, density_mol_m3, fractions, pairs)


def compressibility(
    temperature_k: ArrayLike, pressure_pa: ArrayLike, fractions: ArrayLike, pairs: str = PUBLISHED
) -> Array:
    """Compressibility factor Z = P / (rho R T) of each state [1].

    Parameters
    ----------
    temperature_k : array_like, shape (n,)
        Temperature [K], 230 to 500.
    pressure_pa : array_like, shape (n,)
        Absolute pressure [Pa], 0 to 500e5.
    fractions : array_like, shape (n, 4)
        Mole fractions of O2, He, N2, Ar [1].
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Returns
    -------
    ndarray, shape (n,)
        Compressibility factor [1].

    Raises
    ------
    ModelRangeError
        If a state is out of range.
    InputError
        If there is no such set of pair parameters.

    Examples
    --------
    >>> compressibility([293.15], [200e5], [[1.0, 0.0, 0.0, 0.0]]).round(5)
    array([0.93902])
    """

    def of_block(at: Prepared, pressure: Array) -> Array:
        return 1.0 / _inverse_z(at, pressure)

    return _by_blocks(of_block, check_pressures, temperature_k, pressure_pa, fractions, pairs)


def second_virial(temperature_k: ArrayLike, fractions: ArrayLike, pairs: str = PUBLISHED) -> Array:
    """Second virial coefficient B of each mixture at each temperature [m3/mol].

    Parameters
    ----------
    temperature_k : array_like, shape (n,)
        Temperature [K], 230 to 500.
    fractions : array_like, shape (n, 4)
        Mole fractions of O2, He, N2, Ar [1].
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Returns
    -------
    ndarray, shape (n,)
        Second virial coefficient [m3/mol].

    Raises
    ------
    ModelRangeError
        If a state is out of range.
    InputError
        If there is no such set of pair parameters.

    Examples
    --------
    >>> (second_virial([300.0], [[0.0, 1.0, 0.0, 0.0]]) * 1e6).round(2)
    array([11.95])
    """

    def of_block(at: Prepared, _: Array) -> Array:
        return roots.virials(at.groups())[0] * at.volume_m3_mol

    return _by_blocks(of_block, check_densities, temperature_k, 0.0, fractions, pairs)


def internal_energy(
    temperature_k: ArrayLike,
    density_mol_m3: ArrayLike,
    fractions: ArrayLike,
    pairs: str = PUBLISHED,
) -> Array:
    """Molar internal energy [J/mol]; its zero is a convention, differences have meaning.

    Parameters
    ----------
    temperature_k : array_like, shape (n,)
        Temperature [K], 230 to 500.
    density_mol_m3 : array_like, shape (n,)
        Molar density [mol/m3], 0 up to that at 500 bar.
    fractions : array_like, shape (n, 4)
        Mole fractions of O2, He, N2, Ar [1].
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Returns
    -------
    ndarray, shape (n,)
        Internal energy [J/mol].

    Raises
    ------
    ModelRangeError
        If a state is out of range.
    InputError
        If there is no such set of pair parameters.

    Examples
    --------
    >>> helium = [0.0, 1.0, 0.0, 0.0]
    >>> np.diff(internal_energy([300.0, 301.0], 0.0, helium)).round(3)
    array([12.472])
    """
    return _by_blocks(
        _internal_energy, check_densities, temperature_k, density_mol_m3, fractions, pairs
    )


def enthalpy(
    temperature_k: ArrayLike,
    density_mol_m3: ArrayLike,
    fractions: ArrayLike,
    pairs: str = PUBLISHED,
) -> Array:
    """Molar enthalpy [J/mol]; its zero is a convention, differences have meaning.

    Parameters
    ----------
    temperature_k : array_like, shape (n,)
        Temperature [K], 230 to 500.
    density_mol_m3 : array_like, shape (n,)
        Molar density [mol/m3], 0 up to that at 500 bar.
    fractions : array_like, shape (n, 4)
        Mole fractions of O2, He, N2, Ar [1].
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Returns
    -------
    ndarray, shape (n,)
        Enthalpy [J/mol].

    Raises
    ------
    ModelRangeError
        If a state is out of range.
    InputError
        If there is no such set of pair parameters.

    Examples
    --------
    >>> helium = [0.0, 1.0, 0.0, 0.0]
    >>> np.diff(enthalpy([300.0, 301.0], 0.0, helium)).round(3)
    array([20.786])
    """

    def of_block(at: Prepared, density: Array) -> Array:
        z = kernel.compressibility(at.groups(), density * at.volume_m3_mol)
        return _internal_energy(at, density) + z * at.rt

    return _by_blocks(of_block, check_densities, temperature_k, density_mol_m3, fractions, pairs)


def isochoric_heat_capacity(
    temperature_k: ArrayLike,
    density_mol_m3: ArrayLike,
    fractions: ArrayLike,
    pairs: str = PUBLISHED,
) -> Array:
    """Molar heat capacity at constant volume [J/(mol K)].

    Parameters
    ----------
    temperature_k : array_like, shape (n,)
        Temperature [K], 230 to 500.
    density_mol_m3 : array_like, shape (n,)
        Molar density [mol/m3], 0 up to that at 500 bar.
    fractions : array_like, shape (n, 4)
        Mole fractions of O2, He, N2, Ar [1].
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Returns
    -------
    ndarray, shape (n,)
        Heat capacity [J/(mol K)].

    Raises
    ------
    ModelRangeError
        If a state is out of range.
    InputError
        If there is no such set of pair parameters.

    Examples
    --------
    >>> isochoric_heat_capacity(300.0, 0.0, [0.0, 1.0, 0.0, 0.0]).round(3)
    array([12.472])
    """

    def of_block(at: Prepared, density: Array) -> Array:
        _pressure(at, density)  # the range check
        curvature = kernel.residual_sum(at.groups(2), density * at.volume_m3_mol)
        ideal = ideal_isochoric_heat_capacity(at.temperature_k, at.fractions, np)
        heat_capacity: Array = ideal - at.rt / at.temperature_k * curvature
        return heat_capacity

    return _by_blocks(of_block, check_densities, temperature_k, density_mol_m3, fractions, pairs)


def _by_blocks(
    function: Callable[[Prepared, Array], Array],
    check: Callable[[Array, int], None],
    temperature_k: ArrayLike,
    second: ArrayLike,
    fractions: ArrayLike,
    pairs: str,
) -> Array:
    """Check and compute in blocks whose temporaries stay in the cache."""
    temperatures, seconds, mixtures, shape = _broadcast(temperature_k, second, fractions)
    keep_freed_memory()
    out = np.empty(temperatures.size)
    for start in range(0, out.size, BLOCK):
        block = slice(start, start + BLOCK)
        columns = mixtures[block].T.copy()  # and writable
        check_temperatures(temperatures[block], start)
        check(seconds[block], start)
        check_mixtures(columns, start)
        out[block] = function(Prepared(temperatures[block], columns, pairs), seconds[block])
    return out.reshape(shape)


def _broadcast(
    temperature_k: ArrayLike, second: ArrayLike, fractions: ArrayLike
) -> tuple[Array, Array, Array, tuple[int, ...]]:
    """Return (n,), (n,), (n, 4) and the shape the answer is to have."""
    temperatures, seconds, mixtures = (
        as_floats(temperature_k),
        as_floats(second),
        as_mixtures(fractions),
    )
    shape = np.broadcast_shapes(temperatures.shape, seconds.shape, mixtures.shape[:-1], (1,))
    return (
        np.broadcast_to(temperatures, shape).ravel(),
        np.broadcast_to(seconds, shape).ravel(),
        np.broadcast_to(mixtures, (*shape, 4)).reshape(-1, 4),
        shape,
    )


def _inverse_z(at: Prepared, pressure_pa: Array) -> Array:
    """Return y = 1 / Z of each state."""
    groups = at.groups()
    ideal = pressure_pa / at.rt * at.volume_m3_mol
    return roots.solve(groups, ideal, roots.virial_seed(groups, ideal))


def _pressure(at: Prepared, density_mol_m3: Array) -> Array:
    z = kernel.compressibility(at.groups(), density_mol_m3 * at.volume_m3_mol)
    pressure_pa = z * density_mol_m3 * at.rt
    check_reached(pressure_pa, density_mol_m3)
    return pressure_pa


def _internal_energy(at: Prepared, density_mol_m3: Array) -> Array:
    _pressure(at, density_mol_m3)  # the range check
    slope = kernel.residual_sum(at.groups(1), density_mol_m3 * at.volume_m3_mol)
    ideal = ideal_internal_energy(at.temperature_k, at.fractions, np)
    energy: Array = ideal + at.rt * slope
    return energy
