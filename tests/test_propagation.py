"""The law of propagation and the Monte Carlo method, on the examples of their own guides."""

from __future__ import annotations

import math

import numpy as np
import pytest

from blender.propagation import Doubt, combined, drawn, interval, propagated

# JCGM 100:2008, H.2, table H.2: simultaneous readings of potential, current and phase angle.
V = [5.007, 4.994, 5.005, 4.990, 4.999]
I = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]  # noqa: E741 - as printed
PHI = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


def test_correlated_readings_of_a_resistance():
    """JCGM 100:2008, H.2: R = V/I cos phi is 127.732 ohm with u = 0.071 ohm."""
    readings = np.array([V, I, PHI])
    v, i, phi = readings.mean(1)
    deviations = np.sqrt(np.diag(np.cov(readings)) / 5.0)
    sensitivities = np.array([math.cos(phi) / i, -v * math.cos(phi) / i**2, -v * math.sin(phi) / i])
    effects = sensitivities * deviations
    assert v / i * math.cos(phi) == pytest.approx(127.732, abs=5e-4)
    assert combined(effects, np.corrcoef(readings)) == pytest.approx(0.071, abs=5e-4)
    assert combined(effects) == pytest.approx(0.195, abs=1e-3)  # H.2 note: were they uncorrelated


def doubts(normal):
    """Four alike with mean 0 and standard deviation 1."""
    half = 2.0 if normal else math.sqrt(3.0)
    return [Doubt(str(i), "", -half, half, normal) for i in range(4)]


def summed(errors):
    return errors.sum(1, keepdims=True)


@pytest.mark.parametrize(
    ("normal", "ends"),
    [(True, 3.92), (False, 3.88)],
    ids=["JCGM 101:2008, 9.2.2 normal", "JCGM 101:2008, 9.2.3 rectangular"],
)
def test_the_additive_model(normal, ends):
    """Mean 0, u = 2.0, and the shortest 95 % interval as printed."""
    four = doubts(normal)
    assert propagated(summed, four).standard[0] == pytest.approx(2.0, abs=1e-12)
    low, high = interval(summed(drawn(four, 1_000_000, seed=3))[:, 0])
    assert (low, high) == (pytest.approx(-ends, abs=0.02), pytest.approx(ends, abs=0.02))


def test_an_error_on_one_side_counts_with_its_mean():
    """JCGM 100:2008, F.2.4.5: uniform from 0 to a has a root mean square of a / root 3."""
    one = Doubt("one", "", 0.0, 3.0)
    assert one.standard == pytest.approx(3.0 / math.sqrt(3.0))
    values = drawn([one], 200_000, seed=1)[:, 0]
    assert math.sqrt(np.mean(values**2)) == pytest.approx(one.standard, rel=5e-3)
    assert values.min() >= 0.0
    assert propagated(lambda e: 2.0 * e, [one]).standard[0] == pytest.approx(2.0 * one.standard)


def test_sensitivities_keep_their_sign_and_expand_by_two():
    budget = propagated(lambda e: np.stack([e[:, 0] - 2.0 * e[:, 1]], 1), doubts(True)[:2])
    assert budget.sensitivities[:, 0] == pytest.approx([1.0, -2.0])
    assert budget.expanded[0] == pytest.approx(2.0 * math.sqrt(5.0))


def test_errors_on_one_side_add_up_as_they_are():
    """Two that only ever lower: the root mean square of the sum, from a million draws."""
    two = [Doubt("a", "", -1.0, 0.0), Doubt("b", "", -1.0, 0.0)]
    root = math.sqrt(np.mean(summed(drawn(two, 1_000_000, 2)) ** 2))
    assert propagated(summed, two).standard[0] == pytest.approx(root, rel=2e-3)


def test_the_same_seed_gives_the_same_draws():
    assert (drawn(doubts(True), 9, 5) == drawn(doubts(True), 9, 5)).all()
    assert (drawn(doubts(True), 9, 5) != drawn(doubts(True), 9, 6)).any()
