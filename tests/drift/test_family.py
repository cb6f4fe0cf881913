"""Charts together: few false alarms, a bias found soon, the right thing blamed."""

from __future__ import annotations

import random
import statistics
from collections.abc import Iterator
from dataclasses import replace

import pytest

from blender.drift import Departure, Family, watched
from blender.drift.departure import scatter
from blender.drift.ewma import ewma
from blender.drift.family import SINGLE
from blender.drift.suspects import likely, suspects
from blender.drift.track import Track

# Scatter of an analysed fill whose gauge is read to half a bar and whose analyser repeats to
# 0.2 points; the budget counts the whole class of the gauge, so it is wider.
SCATTERS, BUDGETED = 0.3, 0.5


def station(seed: int, count: int, biases: dict[str, float], since: int = 0) -> Iterator[Departure]:
    """A station with two analysers, two gauges and two oxygen supplies, and what is off there."""
    rng = random.Random(seed)
    for place in range(count):
        effects = {
            f"analyser {rng.choice(('A1', 'A2'))}": 1.0,
            f"oxygen gauge {rng.choice(('G1', 'G2'))}": rng.uniform(0.3, 0.6),
            f"supply {rng.choice(('o1', 'o2'))}": rng.uniform(0.1, 0.3),
            "method partial-pressure": 1.0,
        }
        off = sum(bias * effects.get(cause, 0.0) for cause, bias in biases.items())
        points = rng.gauss(0.0, SCATTERS) + (off if place >= since else 0.0)
        yield Departure(place, points, BUDGETED, effects)


def first_alarm(seed: int, biases: dict[str, float], since: int, most: int) -> Family:
    family = Family()
    for one in station(seed, most, biases, since):
        family.add(one)
        if any(alarm.until >= since for alarm in family.alarms):
            break
    return family


def runs_in_control(seeds: range) -> list[int]:
    return [len(first_alarm(seed, {}, 0, 3000).departures) for seed in seeds]


def fills_until_found(seeds: range) -> list[int]:
    """Fills through the biased gauge until an alarm, after 60 fills without a bias."""
    found = []
    for seed in seeds:
        family = first_alarm(seed, {"oxygen gauge G1": 1.0}, 60, 600)
        late = [one for one in family.departures if one.place >= 60]
        found.append(sum("oxygen gauge G1" in one.effects for one in late))
    return found


def test_without_a_bias_alarms_are_rare():
    """A mean run of 300 fills; of 25 stations the mean's own deviation is a fifth."""
    assert statistics.mean(runs_in_control(range(25))) >= 300


@pytest.mark.soak
def test_without_a_bias_alarms_are_rare_at_four_hundred_stations():
    runs = runs_in_control(range(1000, 1400))
    below = statistics.mean(runs) - 2.0 * statistics.stdev(runs) / len(runs) ** 0.5
    assert below >= 300


def test_a_gauge_one_bar_off_is_found_within_fifteen_of_its_fills():
    assert statistics.median(fills_until_found(range(40))) <= 15


@pytest.mark.soak
def test_a_gauge_one_bar_off_is_found_at_four_hundred_stations():
    assert statistics.median(fills_until_found(range(2000, 2400))) <= 15


@pytest.mark.parametrize(
    "cause, bias",
    [("oxygen gauge G1", 1.3), ("analyser A2", -0.6), ("supply o2", -2.5), ("oxygen gauge G2", -2)],
)
def test_the_right_thing_is_blamed_with_its_bias_and_its_day(cause, bias):
    blamed, close, near = 0, 0, 0
    for seed in range(12):
        family = watched(station(seed, 260, {cause: bias}, since=120))
        last = family.alarms[-1]
        first = last.suspects[0]
        blamed += first.cause == cause
        close += abs(first.bias - bias) <= 1.5 * first.half_width
        near += abs(first.since - 120) <= 25
    assert blamed >= 11
    assert close >= 11
    assert near >= 9


def test_what_is_always_used_together_is_not_told_apart():
    row = [
        Departure(n, random.Random(n).gauss(0.6, 0.3), 0.3, {"analyser A1": 1.0, "gauge G1": 0.5})
        for n in range(40)
    ]
    assert {one.cause for one in likely(suspects(row, 1.0))} == {"analyser A1", "gauge G1"}


def test_one_wild_fill_is_an_alarm_of_its_own_and_blames_nothing():
    row = list(station(5, 60, {}))
    row[40] = Departure(40, 4.0, BUDGETED, row[40].effects)
    alarm = next(one for one in watched(row).alarms if one.place == 40)
    assert (alarm.rule, alarm.charts, alarm.suspects) == (SINGLE, (), ())
    assert not watched(row).alarms[-1].standing


def test_a_wild_fill_is_no_measure_of_what_is_off():
    """Half a point off, and among the fills one whose gas was entered to the wrong step."""
    row = list(station(3, 60, {"analyser A1": 0.5}))
    row[30] = replace(row[30], points=-47.0)
    family = watched(row)
    biases = {one.cause: one.bias for alarm in family.alarms for one in alarm.suspects}
    assert biases["analyser A1"] == pytest.approx(0.5, abs=0.25)
    assert max(map(abs, biases.values())) < 3.0


def test_what_is_too_small_to_be_mended_raises_no_alarm():
    def worth(cause: str) -> float:  # a point of a supply moves the mix by a fifth of one
        return 5.0 if cause.startswith("supply") else 1.0

    biases = {"analyser A1": 0.15}
    assert watched(station(5, 400, biases)).alarms
    assert not watched(station(5, 400, biases), worth).alarms
    large = watched(station(5, 400, {"analyser A1": 1.5}), worth)
    assert likely(large.alarms[0].suspects)[0].cause == "analyser A1"


def test_scatter_is_that_of_neighbours_whatever_the_shift():
    rng = random.Random(9)
    row = [rng.gauss(0.0, 0.6) for _ in range(400)]
    assert scatter(row) == pytest.approx(0.6, rel=0.15)
    assert scatter(row) == pytest.approx(scatter([one + 3.0 for one in row]))


def test_a_track_of_equal_fills_is_the_chart_of_the_handbook():
    rng, track = random.Random(2), Track()
    row = [rng.gauss(0.2, 0.5) for _ in range(30)]
    for place, value in enumerate(row):
        track.add(place, value * 0.4, effect=0.4, sigma=0.5 * 0.4, limit=3.0)
    chart = ewma(row, target=0.0, sigma=0.5, limit=3.0)
    weights = [1.0 - 0.8 ** (n + 1) for n in range(30)]  # the track's mean does not start at zero
    assert [one.mean * w for one, w in zip(track.points, weights, strict=True)] == pytest.approx(
        chart.means
    )
    assert [one.half * w for one, w in zip(track.points, weights, strict=True)] == pytest.approx(
        chart.upper
    )
