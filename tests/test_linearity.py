"""Two-point linearity and drift per cell, against figures worked out by hand."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.linearity import drift_per_month, off_between


def test_a_cell_that_tires_at_the_top_is_a_little_off_at_nitrox() -> None:
    """Set on air at 20.9; pure oxygen shows 97.0, so 3 points low over a span of 79.1 points."""
    off = off_between(0.36, 0.209, 1.0, -3.0)
    assert off == pytest.approx(-3.0 * 15.1 / 79.1, abs=1e-9)
    assert off_between(0.209, 0.209, 1.0, -3.0) == 0.0
    assert off_between(1.0, 0.209, 1.0, -3.0) == pytest.approx(-3.0)


def test_the_order_of_the_gases_does_not_matter_to_the_line() -> None:
    assert off_between(0.5, 1.0, 0.2, 0.8) == pytest.approx(0.5)


def test_gases_too_near_to_each_other_are_refused() -> None:
    with pytest.raises(InputError, match="at least 10 points"):
        off_between(0.3, 0.28, 0.32, 0.1)


def test_drift_is_the_slope_of_its_checks() -> None:
    """Least squares by hand: days 0 10 20 30, off 0 -0.1 -0.3 -0.4: slope -0.014 a day."""
    found = drift_per_month([0.0, 10.0, 20.0, 30.0], [0.0, -0.1, -0.3, -0.4])
    assert found == pytest.approx(-0.014 * 30.4375)
    assert drift_per_month([0.0, 1.0], [0.0, 1.0]) is None
    assert drift_per_month([2.0, 2.0, 2.0], [0.0, 1.0, 2.0]) is None
