"""Uncertainty of a result from what is doubtful in its inputs.

`propagated` is the law of propagation of JCGM 100:2008, 5.1, its sensitivities found by
moving each input by its own standard uncertainty (5.1.3, note 2); `drawn` and `interval` are
the Monte Carlo method of JCGM 101:2008 (5.9, 7.7), which needs no straight lines.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
# From errors, shape (n, inputs), to results, shape (n, outputs).
Model = Callable[[Array], Array]
COVERAGE_FACTOR = 2.0


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far one input may be off.

    Parameters
    ----------
    cause : str
        A stable word for it.
    text : str
        It in plain words.
    low, high : float
        Bounds of the error; it may lie on one side only.
    normal : bool
        Whether the error is normal with the bounds at two standard deviations; else it lies
        anywhere between the bounds with the same chance (JCGM 100, 4.3.7).

    Examples
    --------
    >>> round(Doubt("gauge", "a gauge of class 1.0 on 250 bar", -2.5, 2.5).standard, 3)
    1.443
    """

    cause: str
    text: str
    low: float
    high: float
    normal: bool = False

    @property
    def mean(self) -> float:
        """Mean error."""
        return (self.low + self.high) / 2.0

    @property
    def deviation(self) -> float:
        """Standard deviation of the error."""
        return (self.high - self.low) / (4.0 if self.normal else math.sqrt(12.0))

    @property
    def standard(self) -> float:
        """Standard uncertainty; a mean that nobody corrects for counts (JCGM 100, F.2.4.5)."""
        return math.hypot(self.mean, self.deviation)

    @property
    def bound(self) -> float:
        """The larger of the two bounds, without sign."""
        return max(abs(self.low), abs(self.high))


@dataclass(frozen=True, slots=True)
class Budget:
    """What each doubt does to each output.

    Parameters
    ----------
    doubts : tuple of Doubt
        The inputs.
    sensitivities : ndarray, shape (inputs, outputs)
        Change of each output by that of an input.
    """

    doubts: tuple[Doubt, ...]
    sensitivities: Array

    @property
    def standard(self) -> Array:
        """Combined standard uncertainty of each output, shape (outputs,).

        Errors on one side have means, and these add up as they are, not as squares.
        """
        spread = np.array([doubt.deviation for doubt in self.doubts])
        means = np.array([doubt.mean for doubt in self.doubts])
        by_chance = [combined(column * spread) for column in self.sensitivities.T]
        both: Array = np.hypot(by_chance, means @ self.sensitivities)
        return both

    @property
    def bounds(self) -> Array:
        """How far each doubt alone may put each output off, shape (inputs, outputs)."""
        bound = np.array([doubt.bound for doubt in self.doubts])
        far: Array = np.abs(self.sensitivities) * bound[:, None]
        return far

    @property
    def expanded(self) -> Array:
        """Expanded uncertainty of each output, k = 2, shape (outputs,)."""
        return COVERAGE_FACTOR * self.standard


def combined(effects: Array, correlation: Array | None = None) -> float:
    """Combined standard uncertainty of one output.

    Parameters
    ----------
    effects : ndarray, shape (inputs,)
        Sensitivity times standard uncertainty of each input.
    correlation : ndarray, shape (inputs, inputs), or None
        Correlation coefficients of the inputs [1]; None is independent ones.

    Returns
    -------
    float
        Standard uncertainty, in the output's unit.

    Notes
    -----
    Source: JCGM 100:2008, equations (10) and (16).

    Examples
    --------
    >>> round(combined(np.array([3.0, 4.0])), 9)
    5.0
    """
    related = np.eye(len(effects)) if correlation is None else correlation
    return math.sqrt(max(float(effects @ related @ effects), 0.0))


def propagated(model: Model, doubts: Sequence[Doubt]) -> Budget:
    """Propagate independent doubts through a model.

    Parameters
    ----------
    model : callable
        Gives results, shape (n, outputs), from errors, shape (n, inputs).
    doubts : sequence of Doubt
        The inputs, one a column.

    Returns
    -------
    Budget
        What each doubt does.

    Examples
    --------
    >>> halves = [Doubt("a", "a", -1.0, 1.0), Doubt("b", "b", -1.0, 1.0)]
    >>> propagated(lambda errors: errors.sum(1, keepdims=True), halves).standard.round(3)
    array([0.816])
    """
    up = np.array([min(doubt.standard, doubt.high) for doubt in doubts])
    down = np.array([max(-doubt.standard, doubt.low) for doubt in doubts])
    results = model(np.concatenate([np.diag(up), np.diag(down)]))
    moved = results[: len(doubts)] - results[len(doubts) :]
    return Budget(tuple(doubts), moved / (up - down)[:, None])


def drawn(doubts: Sequence[Doubt], count: int, seed: int) -> Array:
    """Draw errors of every input.

    Parameters
    ----------
    doubts : sequence of Doubt
        The inputs.
    count : int
        How many draws.
    seed : int
        Where the generator begins: the same seed gives the same draws.

    Returns
    -------
    ndarray, shape (count, inputs)
        The errors.

    Examples
    --------
    >>> drawn([Doubt("a", "a", 0.0, 1.0)], 3, seed=1).shape
    (3, 1)
    """
    generator = np.random.default_rng(seed)
    columns = [
        generator.normal(doubt.mean, doubt.deviation, count)
        if doubt.normal
        else generator.uniform(doubt.low, doubt.high, count)
        for doubt in doubts
    ]
    return np.stack(columns, axis=1)


def interval(values: Array, probability: float = 0.95) -> tuple[float, float]:
    """Return the probabilistically symmetric coverage interval of drawn results.

    Parameters
    ----------
    values : ndarray, shape (n,)
        The results.
    probability : float
        How much of them it holds [1].

    Returns
    -------
    tuple of float
        Its ends, in the results' unit.

    Notes
    -----
    Source: JCGM 101:2008, 7.7.

    Examples
    --------
    >>> low, high = interval(np.arange(101.0), 0.9)
    >>> round(low, 9), round(high, 9)
    (5.0, 95.0)
    """
    tail = (1.0 - probability) / 2.0
    low, high = np.quantile(values, [tail, 1.0 - tail])
    return float(low), float(high)
