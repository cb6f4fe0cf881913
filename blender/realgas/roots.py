"""Density from pressure for one block of states: Halley's method on y = 1 / Z.

With p = P / (R T rho_r) and delta = p y the equation is Z(p y) y = 1, which stays finite at
zero pressure.  From the seed two passes over the block are enough everywhere in range; a
state that is not solved then is passed over by itself.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from blender.realgas import onestate
from blender.realgas.kernel import Array, compressibility_and_slopes

_MAX_PASSES = 10
_Positions: TypeAlias = NDArray[np.intp]


def virials(groups: Array) -> tuple[Array, Array]:
    """Return b and c of Z = 1 + b delta + c delta^2 + ..."""
    linear, square, damped = onestate.virial_rows()
    b: Array = groups[list(linear)].sum(axis=0)
    c: Array = groups[list(square)].sum(axis=0)
    c -= groups[damped]
    c *= 2.0
    return b, c


def virial_seed(groups: Array, ideal: Array) -> Array:
    """Return y from the truncated virial series of `onestate.virial_seed`."""
    b, c = virials(groups)
    b = b * ideal
    c = c * ideal * ideal
    y = np.ones_like(ideal)
    for _ in range(2):
        first = b * y
        second = c * y * y
        fourth = onestate.FOURTH_SHARE * second * second
        excess = y * (1.0 + first + second + fourth) - 1.0
        y -= excess / np.maximum(1.0 + 2.0 * first + 3.0 * second + 5.0 * fourth, 0.2)
    return y


def solve(groups: Array, ideal: Array, y: Array) -> Array:
    """Return y = 1 / Z of each state, improving the first guess `y` in place."""
    unsolved = _unsolved(_halley(groups, ideal, y))
    for _ in range(_MAX_PASSES):
        if not unsolved.size:
            return y
        if unsolved.size > y.size // 4:
            unsolved = _unsolved(_halley(groups, ideal, y))
        else:
            some = y[unsolved]
            step = _halley(_columns(groups, unsolved), ideal[unsolved], some)
            y[unsolved] = some
            unsolved = unsolved[_unsolved(step)]
    for k in unsolved.tolist():  # never seen to be needed; slow, but cannot fail
        column = _columns(groups, k).ravel().tolist()
        y[k] = onestate.solve(onestate.isothermal(column), float(ideal[k]))
    return y


def _columns(groups: Array, positions: Any) -> Array:  # an index or an array of them
    """Return the coefficients of some states; one common column stands for all."""
    return groups if groups.shape[1] == 1 else groups[:, positions]


def _halley(groups: Array, ideal: Array, y: Array) -> Array:
    """Improve y in place and return the relative steps taken."""
    z, slope, curvature = compressibility_and_slopes(groups, ideal * y)
    curvature += slope
    slope += z
    z -= 1.0 / y
    z /= slope  # Newton's relative step
    curvature /= slope
    curvature *= z
    curvature *= -0.5
    curvature += 1.0
    z /= curvature
    y -= y * z
    return z


def _unsolved(step: Array) -> _Positions:
    """Return where the last step was not small enough, not-a-number included."""
    return np.flatnonzero(~(np.abs(step) <= onestate.HALLEY_LAST_STEP))
