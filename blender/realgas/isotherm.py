"""One mixture at one temperature, pressure or density varying."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from blender.realgas import kernel, roots
from blender.realgas.arraylimits import as_floats, check_densities, check_pressures, check_reached
from blender.realgas.kernel import BLOCK, Array, Prepared, keep_freed_memory
from blender.realgas.limits import MAX_PRESSURE_PA, check_temperature, checked_fractions
from blender.realgas.pairs import PUBLISHED

# Enough for 1/Z to be right to 1e-8 before the step that puts it right.
_INTERVALS = 256


class Isotherm:
    """One mixture of O2, He, N2 and Ar at one temperature under GERG-2008.

    Range: 230 to 500 K, 0 to 500 bar, gas phase.
    Source: O. Kunz, W. Wagner, J. Chem. Eng. Data 57 (2012) 3032-3091.

    Parameters
    ----------
    fractions : sequence of float, shape (4,)
        Mole fractions of O2, He, N2, Ar [1].
    temperature_k : float
        Temperature [K], 230 to 500.
    pairs : str
        Name of the set of pair parameters, one of `PAIR_SETS`.

    Raises
    ------
    ModelRangeError
        If fractions or temperature are out of range.
    InputError
        If there is no such set of pair parameters.

    Examples
    --------
    >>> air = Isotherm((0.20946, 0.0, 0.78120, 0.00934), 293.15)
    >>> air.density([0.0, 232e5]).round(1)
    array([   0. , 9078.6])
    """

    def __init__(
        self, fractions: Sequence[float], temperature_k: float, pairs: str = PUBLISHED
    ) -> None:
        check_temperature(temperature_k)
        keep_freed_memory()
        column = np.array(checked_fractions(fractions)).reshape(4, 1)
        at = Prepared(np.array([temperature_k], dtype=np.float64), column, pairs)
        self._rt = float(at.rt[0])
        self._volume_m3_mol = float(at.volume_m3_mol[0])
        self._groups = at.groups()

    def density(self, pressure_pa: ArrayLike) -> Array:
        """Molar density at each pressure [mol/m3].

        Parameters
        ----------
        pressure_pa : array_like, shape (n,)
            Absolute pressure [Pa], 0 to 500e5; zero gives zero.

        Returns
        -------
        ndarray, shape (n,)
            Molar density [mol/m3].

        Raises
        ------
        ModelRangeError
            If a pressure is out of range.

        Examples
        --------
        >>> nitrogen = Isotherm((0.0, 0.0, 1.0, 0.0), 350.0)
        >>> nitrogen.density([200e5]).round(1)
        array([6355.3])
        """
        pressures = as_floats(pressure_pa).ravel()
        out = np.empty_like(pressures)
        for start in range(0, pressures.size, BLOCK):
            block = pressures[start : start + BLOCK]
            check_pressures(block, start)
            np.multiply(block / self._rt, self._inverse_z(block), out=out[start : start + BLOCK])
        return out

    def pressure(self, density_mol_m3: ArrayLike) -> Array:
        """Absolute pressure at each density [Pa]; explicit, nothing is solved.

        Parameters
        ----------
        density_mol_m3 : array_like, shape (n,)
            Molar density [mol/m3], 0 up to that at 500 bar.

        Returns
        -------
        ndarray, shape (n,)
            Absolute pressure [Pa].

        Raises
        ------
        ModelRangeError
            If a density is out of range.

        Examples
        --------
        >>> nitrogen = Isotherm((0.0, 0.0, 1.0, 0.0), 350.0)
        >>> (nitrogen.pressure([6355.2]) / 1e5).round(1)
        array([200.])
        """
        densities = as_floats(density_mol_m3).ravel()
        out = np.empty_like(densities)
        for start in range(0, densities.size, BLOCK):
            block = densities[start : start + BLOCK]
            check_densities(block, start)
            z = kernel.compressibility(self._groups, block * self._volume_m3_mol)
            np.multiply(z, block * self._rt, out=out[start : start + BLOCK])
            check_reached(out[start : start + BLOCK], block)
        return out

    def _inverse_z(self, pressure_pa: Array) -> Array:
        """Return y = 1 / Z: read from the table, then put right by one step of Newton's method.

        With y = 1 / Z(p y) the slope Newton's method needs is Z / (1 + dln y / dln p).
        """
        place = pressure_pa * (_INTERVALS / MAX_PRESSURE_PA)
        interval = np.minimum(place.astype(np.intp), _INTERVALS - 1)
        within = place - interval
        third, second, first, zeroth = (column[interval] for column in self._table)
        y: Array = ((third * within + second) * within + first) * within + zeroth
        rise = (3.0 * third * within + 2.0 * second) * within + first
        rise *= place
        rise /= y
        rise += 1.0
        z = kernel.compressibility(self._groups, self._ideal_delta(pressure_pa) * y)
        rise *= (z - 1.0 / y) / z
        y -= y * rise
        return y

    def _ideal_delta(self, pressure_pa: Array) -> Array:
        """Reduced density if the gas were ideal [1]."""
        return pressure_pa * (self._volume_m3_mol / self._rt)

    @cached_property
    def _table(self) -> Array:
        """Cubics for y = 1 / Z on equal intervals of pressure, right at the ends to the slope."""
        ideal = self._ideal_delta(np.linspace(0.0, MAX_PRESSURE_PA, _INTERVALS + 1))
        y = roots.solve(self._groups, ideal, roots.virial_seed(self._groups, ideal))
        z, slope, _ = kernel.compressibility_and_slopes(self._groups, ideal * y)
        rise = np.full_like(y, -roots.virials(self._groups)[0][0])  # dy/dp where p = 0
        rise[1:] = -(y * slope / (z + slope))[1:] / ideal[1:]
        rise *= ideal[1]
        gain, start, end = np.diff(y), rise[:-1], rise[1:]
        return np.array([start + end - 2.0 * gain, 3.0 * gain - 2.0 * start - end, start, y[:-1]])
