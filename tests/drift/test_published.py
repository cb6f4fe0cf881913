"""The charts against published figures.

The worked examples are those of the NIST/SEMATECH e-Handbook of Statistical Methods, sections
6.3.2.2 (individuals) and 6.3.2.4 (EWMA); data and results recalled, from memory.  The mean run
lengths are the table that textbooks of quality control reprint after J. M. Lucas and
M. S. Saccucci, Technometrics 32 (1990); from memory.
"""

from __future__ import annotations

import random
import statistics

import pytest

from blender.drift import individuals, limit_for, mean_run
from blender.drift.ewma import ewma
from blender.errors import InputError

ROW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
LONG_ROW = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *ROW]
MEANS = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
         50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip
SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0)
RUNS = {
    (3.054, 0.40): (500, 224, 71.2, 28.4, 14.3, 5.9, 3.5),
    (2.998, 0.25): (500, 170, 48.2, 20.1, 11.1, 5.5, 3.6),
    (2.962, 0.20): (500, 150, 41.8, 18.2, 10.5, 5.5, 3.7),
    (2.814, 0.10): (500, 106, 31.3, 15.9, 10.3, 6.1, 4.4),
    (2.615, 0.05): (500, 84.1, 28.8, 16.4, 11.4, 7.1, 5.2),
}


def test_individuals_of_the_handbook():
    chart = individuals(ROW)
    assert chart.centre == pytest.approx(50.81, abs=5e-3)
    assert chart.upper == pytest.approx(55.8041, abs=5e-4)
    assert chart.lower == pytest.approx(45.8159, abs=5e-4)
    assert chart.beyond == ()


def test_a_value_far_out_is_beyond_its_limits():
    assert individuals([*ROW, 65.0, *ROW]).beyond == (10,)


def test_one_value_makes_no_chart():
    with pytest.raises(InputError, match="at least two"):
        individuals([50.0])


def test_weighted_means_of_the_handbook():
    chart = ewma(LONG_ROW, target=50.0, sigma=2.0539, weight=0.3, limit=3.0, settled=True)
    assert [round(mean, 2) for mean in chart.means] == MEANS
    assert chart.upper[0] == pytest.approx(52.5884, abs=5e-4)
    assert chart.lower[-1] == pytest.approx(47.4115, abs=5e-4)
    assert chart.beyond == ()


def test_limits_begin_narrow_and_become_those_of_a_long_row():
    """The first mean is weight * value, so its deviation is weight * sigma."""
    narrow, wide = (ewma([50.0] * 60, 50.0, 2.0, 0.3, 3.0, settled) for settled in (False, True))
    assert narrow.upper[0] == pytest.approx(50.0 + 3.0 * 0.3 * 2.0)
    assert narrow.upper[-1] == pytest.approx(wide.upper[-1], abs=1e-9)


@pytest.mark.parametrize("chart", RUNS)
def test_mean_runs_of_the_table(chart):
    limit, weight = chart
    for shift, run in zip(SHIFTS, RUNS[chart], strict=True):
        assert mean_run(limit, shift, weight) == pytest.approx(run, rel=0.008, abs=0.06)


def test_a_limit_gives_the_run_it_was_asked_for():
    for run in (100.0, 500.0, 3000.0):
        assert mean_run(limit_for(run)) == pytest.approx(run, rel=2e-3)


def test_a_mean_run_is_what_a_simulation_finds():
    """4 000 rows drawn with a shift of one: the standard error is below 2 %."""
    rng, half = random.Random(3), limit_for(200.0) * (0.2 / 1.8) ** 0.5
    runs = []
    for _ in range(4000):
        mean, count = 0.0, 0
        while abs(mean) <= half:
            mean += 0.2 * (rng.gauss(1.0, 1.0) - mean)
            count += 1
        runs.append(count)
    assert statistics.mean(runs) == pytest.approx(mean_run(limit_for(200.0), 1.0), rel=0.06)
