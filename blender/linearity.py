"""Whether an analyser reads straight: set on one gas, tried on a second, and what lies between."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from blender.errors import InputError

# Between two gases nearer than this a reading's last digit decides; own choice.
LEAST_SPAN = 0.10


def off_between(o2: float, low_o2: float, high_o2: float, off_high_points: float) -> float:
    """Return how far off an analyser reads between two gases, if its error grows evenly.

    Parameters
    ----------
    o2 : float
        Oxygen of the gas that is asked about [1].
    low_o2, high_o2 : float
        Oxygen of the gas it was set on, and of the one it was tried on [1].
    off_high_points : float
        What it showed too much there [percentage points].

    Returns
    -------
    float
        What it shows too much [percentage points]; 0 at the gas it was set on.

    Raises
    ------
    InputError
        If the two gases are less than 10 points of oxygen apart.

    Notes
    -----
    Two points make a straight line and no more: a cell that bends between them is not found.

    Examples
    --------
    >>> round(off_between(0.32, 0.21, 1.0, -2.0), 3)
    -0.278
    """
    if abs(high_o2 - low_o2) < LEAST_SPAN:
        given = f"{low_o2 * 100:.1f} % and {high_o2 * 100:.1f} %"
        raise InputError("second gas", given, "two gases at least 10 points of oxygen apart")
    return off_high_points * (o2 - low_o2) / (high_o2 - low_o2)


def drift_per_month(days: Sequence[float], off_points: Sequence[float]) -> float | None:
    """Return how fast an analyser or cell drifts, by a straight line through its checks.

    Parameters
    ----------
    days : sequence of float
        When it was checked [days].
    off_points : sequence of float
        How far off it was found each time [percentage points].

    Returns
    -------
    float or None
        Points a month of 30.4 days; None for fewer than three checks or all on one day.

    Examples
    --------
    >>> round(drift_per_month([0.0, 30.4, 60.8], [0.0, -0.2, -0.4]), 3)
    -0.2
    """
    if len(days) < 3 or len(set(days)) < 2:
        return None
    return statistics.linear_regression(days, off_points).slope * 365.25 / 12.0
