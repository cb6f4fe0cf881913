"""When a gas runs out: against the inverse Gaussian law, and against stations drawn at random."""

from __future__ import annotations

import math
import random
import statistics

import pytest

from blender.errors import InputError
from blender.stock_forecast import RunsOut, runs_out


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


def busy(rng: random.Random, day: int, quiet: float = 1.5, weekend: float = 9.0) -> float:
    """A day at a station with busy weekends, closed on Mondays: so many fills of unlike size."""
    rate = {0: 0.0, 5: weekend, 6: weekend}.get(day % 7, quiet)
    fills = sum(rng.random() < rate / 30 for _ in range(30))
    return sum(rng.uniform(6.0, 14.0) for _ in range(fills))


def until_empty(rng: random.Random, content: float, day: int) -> int:
    left, days = content, 0
    while left > 0.0:
        left, days = left - busy(rng, day + days), days + 1
    return days


def plainly(content: float, drawn: list[float]) -> RunsOut:
    """The same without weekdays: too few of them to be told apart."""
    mean = statistics.fmean(drawn)
    variance, days = statistics.variance(drawn), content / mean
    spread = math.sqrt(content * variance / mean**3 + days**2 * variance / mean**2 / len(drawn))
    return RunsOut(mean, days, max(days - 1.6449 * spread, 0.0), days + 1.6449 * spread)


def test_busy_weekends_are_reckoned_with_on_whatever_day_it_is_asked() -> None:
    """400 simulated stations of four weeks: ranges hold, are narrower, their middles nearer."""
    rng, held, asked = random.Random(5), 0, 400
    wide = plain_wide = off = plain_off = 0.0
    for number in range(asked):
        today = number % 7
        drawn = [busy(rng, today + day) for day in range(28)]
        found, plain = runs_out(600.0, drawn), plainly(600.0, drawn)
        assert found is not None
        assert found.by_weekday
        days = until_empty(rng, 600.0, today)
        held += found.low_days <= days <= found.high_days + 1.0
        wide, plain_wide = (
            wide + found.high_days - found.low_days,
            plain_wide + plain.high_days - plain.low_days,
        )
        off, plain_off = (
            off + abs(found.days - days + 0.5),
            plain_off + abs(plain.days - days + 0.5),
        )
    assert 0.84 <= held / asked <= 0.97
    assert wide < 0.6 * plain_wide
    assert off < 0.85 * plain_off


def test_it_knows_whether_a_weekend_comes_before_it_runs_out() -> None:
    """No scatter: 10 on five days, 100 on two; 130 last from Monday to within Saturday."""
    week = [10.0] * 5 + [100.0] * 2
    on_monday = runs_out(130.0, week * 4)
    assert on_monday is not None
    assert 5.0 < on_monday.days <= 6.0
    on_saturday = runs_out(130.0, (week[5:] + week[:5]) * 4)
    assert on_saturday is not None
    assert 1.0 < on_saturday.days <= 2.0
    assert on_monday.a_day == on_saturday.a_day == pytest.approx(250.0 / 7.0)


def test_weekdays_that_differ_by_chance_alone_are_taken_together() -> None:
    """Of stations without any pattern few are seen to have one."""
    rng = random.Random(3)
    seen = [runs_out(1000.0, [a_day(rng) for _ in range(28)]) for _ in range(300)]
    assert sum(one is not None and one.by_weekday for one in seen) / 300 < 0.12


def test_fewer_than_three_weeks_tell_no_weekdays_apart() -> None:
    found = runs_out(100.0, ([1.0] * 5 + [50.0] * 2) * 2)
    assert found is not None
    assert not found.by_weekday
