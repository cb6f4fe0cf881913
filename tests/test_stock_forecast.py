"""When a gas runs out: against the inverse Gaussian law, and against stations drawn at random."""

from __future__ import annotations

import random

import pytest

from blender.errors import InputError
from blender.stock_forecast import runs_out


def test_a_steady_draw_runs_out_on_the_day_with_no_range() -> None:
    found = runs_out(100.0, [5.0] * 28)
    assert found is not None
    assert (found.days, found.low_days, found.high_days) == (20.0, 20.0, 20.0)


def test_the_range_with_many_days_is_that_of_the_first_passage() -> None:
    """Inverse Gaussian: mean C/m, variance C s2/m3 (from memory); 1.6449 holds nine in ten."""
    days = [0.0, 10.0] * 50_000
    found = runs_out(500.0, days)
    assert found is not None
    assert found.days == pytest.approx(100.0)
    sd = (500.0 * 25.0 / 5.0**3) ** 0.5
    assert found.high_days - found.days == pytest.approx(1.6449 * sd, rel=2e-3)


def test_nothing_drawn_says_nothing_and_an_empty_bottle_is_out_now() -> None:
    assert runs_out(100.0, [0.0] * 28) is None
    found = runs_out(0.0, [1.0, 2.0] * 7)
    assert found is not None
    assert (found.days, found.low_days, found.high_days) == (0.0, 0.0, 0.0)


def test_too_few_days_and_less_than_nothing_are_refused() -> None:
    with pytest.raises(InputError, match="at least 7"):
        runs_out(1.0, [1.0] * 6)
    with pytest.raises(InputError, match="0 or more"):
        runs_out(-1.0, [1.0] * 7)


def a_day(rng: random.Random) -> float:
    """Closed on two days of seven; else a number of fills of unlike size."""
    fills = sum(rng.random() < 0.12 for _ in range(20)) if rng.random() < 5 / 7 else 0
    return sum(rng.uniform(4.0, 20.0) for _ in range(fills))


def test_the_range_holds_what_comes_about_nine_times_in_ten() -> None:
    """600 stations: the share's own deviation is 1.2 points."""
    rng, held, asked = random.Random(11), 0, 600
    for _ in range(asked):
        found = runs_out(1000.0, [a_day(rng) for _ in range(28)])
        assert found is not None
        left, days = 1000.0, 0
        while left > 0.0:
            left, days = left - a_day(rng), days + 1
        held += found.low_days <= days <= found.high_days + 1.0
    assert 0.84 <= held / asked <= 0.96
