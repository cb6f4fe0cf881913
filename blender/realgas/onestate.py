"""The arithmetic of the scalar path on one state; no checks here.

delta and tau are density and inverse temperature over the mixture's reducing values, and
y = 1 / Z, so that delta = y P / (R T rho_r) and the density wanted solves Z(delta) y = 1.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import NamedTuple, TypeAlias

from blender.realgas.groups import groups_by_c, tau_exponents, term_groups

# Per gas: (position of the group, n, position of t).
Recipe: TypeAlias = tuple[tuple[tuple[int, float, int], ...], ...]

# Halley's method triples the digits: a step this small leaves an error below 2e-12.
HALLEY_LAST_STEP = 1.5e-4
# Found by trial to make the seed good enough for two steps everywhere in range.
FOURTH_SHARE = 1.0 / 3.0
_MAX_STEPS = 100


@cache
def _recipe(order: int) -> Recipe:
    """Where each term of each gas goes; n is times t or t (t - 1) for `order` 1 or 2."""
    position = {e: k for k, e in enumerate(tau_exponents())}
    recipe: tuple[list[tuple[int, float, int]], ...] = ([], [], [], [])
    for row, group in enumerate(term_groups()):
        for power in group.powers:
            t = power.eighths / 8.0
            factor = (1.0, t, t * (t - 1.0))[order]
            for gas, n in power.shares:
                recipe[gas].append((row, n * factor, position[power.eighths]))
    return tuple(tuple(terms) for terms in recipe)


@cache
def _exponents() -> tuple[float, ...]:
    return tuple(e / 8.0 for e in tau_exponents())


def group_coefficients(tau: float, fractions: Sequence[float], order: int = 0) -> list[float]:
    """Return the 21 A_cd [1] at `tau` [1]; `order` 1 or 2: of tau d/dtau, tau^2 d2/dtau2."""
    powers = [tau**t for t in _exponents()]
    coefficients = [0.0] * len(term_groups())
    for x, terms in zip(fractions, _recipe(order), strict=True):
        if x:
            for row, n, k in terms:
                coefficients[row] += x * n * powers[k]
    return coefficients


class Isothermal(NamedTuple):
    """What depends on mixture and temperature only."""

    coefficients: list[float]  # the 21 A_cd
    b: float  # of Z = 1 + b delta + c delta^2 + ...
    c: float


def isothermal(coefficients: list[float]) -> Isothermal:
    """Return the coefficients with the reduced virial coefficients they give."""
    linear, square, damped = virial_rows()
    b = sum([coefficients[k] for k in linear])
    c = 2.0 * (sum([coefficients[k] for k in square]) - coefficients[damped])
    return Isothermal(coefficients, b, c)


@cache
def virial_rows() -> tuple[tuple[int, ...], tuple[int, ...], int]:
    """Return the groups with d = 1, with d = 2, and the one with delta exp(-delta).

    The last gives b delta - b delta^2 + ... when the exponential is expanded.
    """
    groups = term_groups()
    linear, square = (tuple(k for k, g in enumerate(groups) if g.d == d) for d in (1, 2))
    return linear, square, next(k for k in linear if groups[k].c == 1)


def residual_sum(coefficients: list[float], delta: float) -> float:
    """Return the sum of A_cd delta^d exp(-delta^c) [1] at `delta` [1]."""
    total = 0.0
    for c, terms in groups_by_c():
        damping = math.exp(-(delta**c)) if c else 1.0
        total += damping * sum([coefficients[k] * delta**d for k, d in terms])
    return total


def compressibility(coefficients: list[float], delta: float) -> tuple[float, float, float]:
    """Return Z [1] and its first two derivatives by ln `delta` [1]."""
    square = delta * delta
    cube = square * delta
    fourth = square * square
    powers = (1.0, delta, square, cube, fourth, fourth * delta, cube * cube, fourth * cube)
    z, slope, curvature = 1.0, 0.0, 0.0
    for c, terms in groups_by_c():
        s0 = s1 = s2 = s3 = 0.0
        for k, d in terms:
            part = coefficients[k] * powers[d]
            s0 += part
            part *= d
            s1 += part
            part *= d
            s2 += part
            s3 += part * d
        if c:
            w = c * powers[c]
            u = w - c
            damping = math.exp(-powers[c])
            z += damping * (s1 - w * s0)
            slope += damping * (s2 - w * (2.0 * s1 - u * s0))
            curvature += damping * (s3 - w * (3.0 * (s2 - u * s1) + (u * u - c * w) * s0))
        else:
            z += s1
            slope += s2
            curvature += s3
    return z, slope, curvature


def compressibility_alone(coefficients: list[float], delta: float) -> float:
    """Return Z [1] at `delta` [1]: what a pressure asks for, in half the time."""
    square = delta * delta
    cube = square * delta
    fourth = square * square
    powers = (1.0, delta, square, cube, fourth, fourth * delta, cube * cube, fourth * cube)
    z = 1.0
    for c, terms in groups_by_c():
        s0 = s1 = 0.0
        for k, d in terms:
            part = coefficients[k] * powers[d]
            s0 += part
            s1 += part * d
        z += math.exp(-powers[c]) * (s1 - c * powers[c] * s0) if c else s1
    return z


def solve(at: Isothermal, ideal: float) -> float:
    """Return y = 1 / Z [1] where delta = `ideal` y, by Halley's method kept inside a bracket.

    Z y rises with y, so each evaluation narrows the bracket; a step that would leave it is
    replaced by its middle.  In range Z is 0.7 to 1.5.
    """
    low, high = 0.0, 4.0
    y = virial_seed(at.b * ideal, at.c * ideal * ideal)
    for _ in range(_MAX_STEPS):
        z, slope, curvature = compressibility(at.coefficients, ideal * y)
        excess = z - 1.0 / y
        if excess > 0.0:
            high = y
        else:
            low = y
        steepness = z + slope
        step = math.inf
        if steepness > 0.0:
            newton = excess / steepness
            step = newton / max(1.0 - 0.5 * newton * (slope + curvature) / steepness, 0.5)
        if abs(step) <= HALLEY_LAST_STEP:
            return y * (1.0 - step)
        y *= 1.0 - step
        if not low < y < high:
            y = 0.5 * (low + high)
    raise AssertionError("density did not converge inside the range of the model")


def virial_seed(b: float, c: float) -> float:
    """Return y [1] from Z = 1 + b y + c y^2 + (c y^2)^2 / 3, within 7 % of the root.

    `b` and `c` are the virial terms at the ideal gas's density; the last term stands for all
    the higher ones of a dense gas.
    """
    y = 1.0
    for _ in range(2):
        first = b * y
        second = c * y * y
        fourth = FOURTH_SHARE * second * second
        excess = y * (1.0 + first + second + fourth) - 1.0
        y -= excess / max(1.0 + 2.0 * first + 3.0 * second + 5.0 * fourth, 0.2)
    return y
