"""The arithmetic of the batch path on one block of states; no checks here.

Arrays are (n,) per state, (4, n) for fractions and (21, n) for group coefficients; a
mixture and temperature common to all states have n = 1 there and broadcast.
"""

from __future__ import annotations

from functools import cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from blender.realgas.coefficients import coefficients
from blender.realgas.groups import TauPower, groups_by_c, tau_exponents, term_groups
from blender.realgas.pairs import Reducing, reducing_functions

Array: TypeAlias = NDArray[np.float64]

BLOCK = 8192  # states; fewer cost more calls, more no longer stay in the cache
_TINY = 1e-300  # keeps 0/0 out where neither gas of a pair is present


def reducing_values(functions: tuple[Reducing, Reducing], fractions: Array) -> list[Array]:
    """Return the reducing temperature [K] and molar volume [m3/mol] of each mixture."""
    squares = fractions * fractions
    totals = [sum(own * xx for own, xx in zip(f.own, squares, strict=True)) for f in functions]
    for k, (i, j, _, _) in enumerate(functions[0].cross):
        x, y = fractions[i], fractions[j]
        product = x * y
        whole = x + y
        for of_function, function in enumerate(functions):
            _, _, factor, beta_squared = function.cross[k]
            part = product * factor
            if beta_squared != 1.0:  # else the quotient is one
                part *= whole
                part /= beta_squared * x + y + _TINY
            totals[of_function] += part
    return totals


@cache
def _power_plan() -> tuple[tuple[int, ...], tuple[tuple[int, int, int], ...]]:
    """Return the exponents (in eighths) row by row, and the products (row, row a, row b).

    The first four rows are tau and its three successive square roots; every further
    row is one product of two rows before it.
    """
    exponents, products = [8, 4, 2, 1], []

    def need(e: int) -> None:
        if e in exponents:
            return
        a = next((a for a in sorted(exponents, reverse=True) if e - a in exponents), None)
        if a is None:
            a = max(k for k in exponents if k < e)
            need(e - a)
        products.append((len(exponents), exponents.index(a), exponents.index(e - a)))
        exponents.append(e)

    for exponent in tau_exponents():
        if exponent:
            need(exponent)
    return tuple(exponents), tuple(products)


def tau_powers(tau: Array) -> Array:
    """Return tau^t for every t in use, one row each.

    Three square roots give the eighths, then each row is one product.
    """
    exponents, products = _power_plan()
    rows = np.empty((len(exponents), tau.size))
    rows[0] = tau
    for k in range(3):
        np.sqrt(rows[k], out=rows[k + 1])
    for row, a, b in products:
        np.multiply(rows[a], rows[b], out=rows[row])
    return rows


def group_coefficients(powers: Array, fractions: Array, order: int) -> Array:
    """Return A_cd, shape (21, n); for `order` 1 or 2 those of tau d/dtau, tau^2 d2/dtau2."""
    exponents, _ = _power_plan()
    groups = term_groups()
    rows = np.empty((len(groups), powers.shape[1]))
    for row, group in zip(rows, groups, strict=True):
        for k, power in enumerate(group.powers):
            part = np.empty_like(row) if k else row
            _weight(power, fractions, order, part)
            if power.eighths:
                part *= powers[exponents.index(power.eighths)]
            if k:
                np.add(row, part, out=row)
    return rows


def _weight(power: TauPower, fractions: Array, order: int, out: Array) -> None:
    """Write the sum of x n over the gases that share a power, times t or t (t - 1)."""
    t = power.eighths / 8.0
    factor = (1.0, t, t * (t - 1.0))[order]
    (gas, n), *others = power.shares
    np.multiply(fractions[gas], n * factor, out=out)
    for gas, n in others:
        out += fractions[gas] * (n * factor)


def _delta_powers(delta: Array) -> list[Array]:
    """Return delta^0 (never read) to delta^7."""
    powers = [delta, delta]
    for _ in range(6):
        powers.append(powers[-1] * delta)
    return powers


def _class_sums(
    groups: Array, powers: list[Array], terms: tuple[tuple[int, int], ...], count: int
) -> list[Array]:
    """Return the sums of d^m A delta^d over one class for m below `count`."""
    sums: list[Array] = []
    part = np.empty_like(powers[1])
    for row, d in terms:
        np.multiply(groups[row], powers[d], out=part)
        for m in range(count):
            if m and d != 1:
                np.multiply(part, float(d), out=part)
            if len(sums) <= m:
                sums.append(part.copy())
            else:
                np.add(sums[m], part, out=sums[m])
    return sums


def residual_sum(groups: Array, delta: Array) -> Array:
    """Return the sum of A_cd delta^d exp(-delta^c)."""
    powers = _delta_powers(delta)
    total = np.zeros_like(delta)
    for c, terms in groups_by_c():
        (value,) = _class_sums(groups, powers, terms, 1)
        if c:
            value *= np.exp(-powers[c])
        total += value
    return total


def compressibility(groups: Array, delta: Array) -> Array:
    """Return Z = 1 + delta alpha_delta."""
    powers = _delta_powers(delta)
    z = np.ones_like(delta)
    for c, terms in groups_by_c():
        if c:
            value, first = _class_sums(groups, powers, terms, 2)
            value *= powers[c]
            value *= c
            first -= value
            first *= np.exp(-powers[c])
            z += first
        else:
            z += _class_sums(groups, powers, terms, 2)[1]
    return z


def compressibility_and_slopes(groups: Array, delta: Array) -> tuple[Array, Array, Array]:
    """Return Z and its first two derivatives by ln delta.

    delta d/ddelta of delta^d exp(-delta^c) multiplies by d - w with w = c delta^c, and of w by c.
    """
    powers = _delta_powers(delta)
    z, slope, curvature = np.ones_like(delta), np.zeros_like(delta), np.zeros_like(delta)
    for c, terms in groups_by_c():
        s0, s1, s2, s3 = _class_sums(groups, powers, terms, 4)
        if c:
            _damp(c, powers[c], (s0, s1, s2, s3))
        z += s1
        slope += s2
        curvature += s3
    return z, slope, curvature


def _damp(c: int, power: Array, sums: tuple[Array, Array, Array, Array]) -> None:
    """Turn the sums s1, s2, s3 of d^m A delta^d into those with the factor exp(-delta^c)."""
    s0, s1, s2, s3 = sums
    damping = np.exp(-power)
    w = power * float(c)
    u = w - float(c)
    s0 *= w
    w_s1 = w * s1
    s1 -= s0
    # s3 - 3 w s2 + 3 u w s1 - (u^2 - c w) w s0
    part = w * s2
    part -= u * w_s1
    part *= 3.0
    s3 -= part
    np.multiply(u, u, out=part)
    w *= float(c)
    part -= w
    part *= s0
    s3 -= part
    # s2 - 2 w s1 + u w s0
    w_s1 *= 2.0
    s2 -= w_s1
    s0 *= u
    s2 += s0
    for total in (s1, s2, s3):
        np.multiply(total, damping, out=total)


class Prepared:
    """Mixtures at temperatures: all that does not depend on density.

    Parameters
    ----------
    temperature_k : Array
        Temperatures [K], shape (n,).
    fractions : Array
        Mole fractions of O2, He, N2, Ar [1], shape (4, n).
    pairs : str
        Name of the set of pair parameters.
    """

    def __init__(self, temperature_k: Array, fractions: Array, pairs: str) -> None:
        reducing_k, self.volume_m3_mol = reducing_values(reducing_functions(pairs), fractions)
        self.temperature_k = temperature_k
        self.fractions = fractions
        self.rt = coefficients().gas_constant * temperature_k
        self._powers = tau_powers(reducing_k / temperature_k)

    def groups(self, order: int = 0) -> Array:
        """Return A_cd, or its `order`-th tau derivative."""
        return group_coefficients(self._powers, self.fractions, order)


@cache
def keep_freed_memory() -> None:
    """Let what one block frees serve the next.

    The GNU C library hands 128 kB free at the end of the heap back to the system, to ask for
    it again at once; having freed one large piece, it keeps twice as much as that.
    """
    np.empty(2_000_000)
