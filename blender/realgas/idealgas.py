"""Internal energy and heat capacity of the ideal gas, which the residual part is added to."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from blender.realgas.coefficients import IdealGas, coefficients


def ideal_internal_energy(
    temperature_k: Any, fractions: Iterable[Any], functions: Any = math
) -> Any:
    """Molar internal energy of the ideal gas mixture [J/mol].

    Source: M. Jaeschke, P. Schley, Int. J. Thermophys. 16 (1995) 1381-1392, with the
    coefficients of GERG-2008.

    Parameters
    ----------
    temperature_k : float or array, shape (n,)
        Temperature [K], 230 to 500.
    fractions : sequence of float or array, shape (4,) or (4, n)
        Mole fractions of O2, He, N2, Ar [1].
    functions : module
        Where tanh is taken from: ``math``, or ``numpy`` for arrays.

    Returns
    -------
    float or array, shape (n,)
        Internal energy [J/mol]; its zero is a convention, differences have meaning.

    Examples
    --------
    >>> helium = (0, 1, 0, 0)
    >>> rise = ideal_internal_energy(301.0, helium) - ideal_internal_energy(300.0, helium)
    >>> round(rise, 3)  # 3/2 R
    12.472
    """
    model = coefficients()
    return model.ideal_gas_constant * sum(
        x * (_enthalpy_over_r(temperature_k, fluid.ideal, functions) - temperature_k)
        for x, fluid in zip(fractions, model.fluids, strict=True)
    )


def ideal_isochoric_heat_capacity(
    temperature_k: Any, fractions: Iterable[Any], functions: Any = math
) -> Any:
    """Molar heat capacity of the ideal gas mixture at constant volume [J/(mol K)].

    Source: as `ideal_internal_energy`.

    Parameters
    ----------
    temperature_k : float or array, shape (n,)
        Temperature [K], 230 to 500.
    fractions : sequence of float or array, shape (4,) or (4, n)
        Mole fractions of O2, He, N2, Ar [1].
    functions : module
        Where sinh and cosh are taken from: ``math``, or ``numpy`` for arrays.

    Returns
    -------
    float or array, shape (n,)
        Heat capacity [J/(mol K)].

    Examples
    --------
    >>> round(ideal_isochoric_heat_capacity(300.0, (0, 0, 0, 1)), 3)  # argon: 3/2 R
    12.472
    """
    model = coefficients()
    return model.ideal_gas_constant * sum(
        x * (_cp_over_r(temperature_k, fluid.ideal, functions) - 1.0)
        for x, fluid in zip(fractions, model.fluids, strict=True)
    )


def _enthalpy_over_r(temperature_k: Any, ideal: IdealGas, functions: Any) -> Any:
    """Integral of cp/R over temperature, plus the convention's offset [K]."""
    total = ideal.enthalpy_offset_k + ideal.cp_over_r * temperature_k
    for n, theta in ideal.sinh_terms:
        total = total + n * theta / functions.tanh(theta / temperature_k)
    for n, theta in ideal.cosh_terms:
        total = total - n * theta * functions.tanh(theta / temperature_k)
    return total


def _cp_over_r(temperature_k: Any, ideal: IdealGas, functions: Any) -> Any:
    total = ideal.cp_over_r
    for n, theta in ideal.sinh_terms:
        reduced = theta / temperature_k
        total = total + n * (reduced / functions.sinh(reduced)) ** 2
    for n, theta in ideal.cosh_terms:
        reduced = theta / temperature_k
        total = total + n * (reduced / functions.cosh(reduced)) ** 2
    return total
