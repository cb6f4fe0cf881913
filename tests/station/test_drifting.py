"""What fills say together, through the record: departures, alarms, corrections.

How charts, limits and suspects behave is `tests/drift`'s to check, against published tables.
"""

from __future__ import annotations

import random
import re
import statistics
from typing import Any

import pytest

from blender.errors import InputError, RefusedError
from blender.record.verify import verify
from blender.station import (
    book,
    correcting,
    drift_words,
    drifting,
    equipment,
    items,
    papers,
    upkeep,
    watch,
)
from blender.station.days import days_of
from blender.station.panel import panel_fill
from tests.station.shop import Shop

DAY_MIN = 24.0 * 60.0
# Scatter of an analysed fill: a gauge read to half a bar, an analyser that repeats to 0.2 points.
SCATTER = 0.3


@pytest.fixture(name="gauged")
def _gauged(shop: Shop) -> Shop:
    """Give the station an oxygen gauge, a top gauge and a supply that never runs out."""
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen99.5")
    for name, serves in (("G1", "oxygen"), ("G2", "top")):
        items.add(shop.station, shop.mara, "gauge", name, range="1.0@250bar", serves=serves)
    return shop


def entered(shop: Shop) -> dict[str, Any]:
    """The departure of the last analysis."""
    found = [e for e in shop.entries() if e.kind == "fill.analysed"][-1].data["departure"]
    assert isinstance(found, dict)
    return found


def made(shop: Shop, oxygen: str, top: str = "230bar") -> float:
    """The oxygen in a fill whose stops were these [points]."""
    fill = shop.filling()
    shop.reading(fill, oxygen)
    shop.reading(fill, top)
    amounts = shop.moles(fill)
    return 100.0 * amounts[0] / sum(amounts)


# -- one fill ----------------------------------------------------------------------------------


def test_an_analysis_keeps_what_was_predicted_and_what_moved_it(gauged: Shop) -> None:
    fill = gauged.analysed("32.6")
    one, amounts = entered(gauged), gauged.moles(fill)
    assert one["predicted_ppm"] == pytest.approx(1e6 * amounts[0] / sum(amounts), abs=1)
    assert set(one["effects"]) == {"analyser A1", "gauge G1", "method partial-pressure",
                                   "supply o1"}  # fmt: skip
    plan = next(e for e in gauged.entries() if e.kind == "fill.planned").data["result"]
    analysis = next(e for e in gauged.entries() if e.kind == "fill.analysed").data
    expected = ((plan["o2_u_ppm"] / 2) ** 2 + (analysis["o2_u_ppm"] / 2) ** 2) ** 0.5
    assert one["sigma_ppm"] == pytest.approx(expected, abs=1)


def test_what_a_bar_moves_is_what_the_same_fill_with_a_bar_more_holds(gauged: Shop) -> None:
    gauged.analysed("32.1")
    effects = entered(gauged)["effects"]
    a_bar_more = made(gauged, "84.925bar") - made(gauged, "83.925bar")
    assert effects["gauge G1"] / 1e6 == pytest.approx(a_bar_more, rel=0.01)


def test_one_gauge_for_all_stops_has_both_effects_together(shop: Shop) -> None:
    items.add(shop.station, shop.mara, "gauge", "G0", range="1.0@250bar", serves="all")
    shop.analysed("32.1")
    both = made(shop, "84.925bar", "230.5bar") - made(shop, "83.925bar", "229.5bar")
    # To 2 %: that another mix is compressed a little differently is left out.
    assert entered(shop)["effects"]["gauge G0"] / 1e6 == pytest.approx(both, rel=0.02)


def test_without_a_register_the_kind_of_stop_is_blamed(shop: Shop) -> None:
    shop.analysed("32.1")
    assert "gauge of oxygen stops" in entered(shop)["effects"]


def test_a_second_look_at_the_same_gas_is_no_further_fill(gauged: Shop) -> None:
    fill = gauged.analysed("32.1")
    gauged.analyse(fill, "32.2")
    assert "departure" not in gauged.last().data
    assert drifting.show(gauged.station.record)["fills"] == 1


def test_an_amended_reading_moves_its_departure_and_a_voided_fill_has_none(gauged: Shop) -> None:
    fill, label = gauged.accepted()
    assert gauged.collect(fill, label).done
    before = drifting.chart(gauged.station.record, "analyser A1")["points"][0]["value"]
    assert gauged.amend(fill, "reading", "33.1").done
    assert gauged.amend(fill, "reading", "33.4").done
    after = drifting.chart(gauged.station.record, "analyser A1")["points"][0]["value"]
    assert after - before == pytest.approx(1.3, abs=0.02)
    early = gauged.request()
    gauged.void(early, by=gauged.mara)
    assert drifting.show(gauged.station.record)["fills"] == 1
    assert verify(gauged.path).ok


def test_a_flow_hangs_on_its_method_and_not_on_its_oxygens_purity(gauged: Shop) -> None:
    fill = gauged.request(have="60bar@20C:air")
    plan = gauged.plan(fill, method="continuous-flow", rated_intake="40%").facts["plan"]
    gauged.start(fill)
    for step in plan["steps"]:
        if step["action"] == "flow":
            gauged.reading(fill, f"{step['to_bar']:.3f}bar")
    gauged.analyse(fill, "32.0")
    assert set(entered(gauged)["effects"]) == {"analyser A1", "method continuous-flow"}


# -- many fills --------------------------------------------------------------------------------


def enter(shop: Shop, analysed: list[tuple[str, float]]) -> None:
    """Enter analyses of one fill's stops: on which gauge its oxygen stop was read, how far off.

    The bodies are those of a real analysis; only the reading and the gauge differ.
    """
    real = [e for e in shop.entries() if e.kind == "fill.analysed"][-1].data
    gauge = next(cause for cause in real["departure"]["effects"] if cause.startswith("gauge"))
    with shop.station.record.write() as unit:
        for name, points in analysed:
            shop.clock.turn(DAY_MIN / 8.0)
            effects = dict(real["departure"]["effects"])
            effects[f"gauge {name}"] = effects.pop(gauge)
            o2_ppm = real["departure"]["predicted_ppm"] + round(points * 1e4)
            data = real | {"o2_ppm": o2_ppm, "departure": real["departure"] | {"effects": effects}}
            unit.append("fill.analysed", data, at=shop.clock(), by=shop.jo.signer, meaning="x")


def biased(seed: int, count: int, bias_bar: float, since: int) -> list[tuple[str, float]]:
    """A row of fills read on two gauges by turns, the first of them off since some fill."""
    rng, rows = random.Random(seed), []
    for place in range(count):
        gauge = rng.choice(("G1", "G3"))
        off = 0.3637 * bias_bar if gauge == "G1" and place >= since else 0.0
        rows.append((gauge, rng.gauss(0.0, SCATTER) + off))
    return rows


@pytest.fixture(name="long")
def _long(gauged: Shop) -> Shop:
    gauged.analysed("31.94")
    return gauged


def fills_until_found(shop: Shop, seed: int) -> int:
    row = biased(seed, 60 + 80, 1.0, since=60)
    enter(shop, row)
    with shop.station.record.read() as conn:
        charts, _ = drifting.family(conn, len(row))
    raised = [alarm.place for alarm in charts.alarms if alarm.until >= 60]
    if not raised:
        return 10 * len(row)  # never, which counts as longer than any
    return sum(gauge == "G1" for gauge, _ in row[60 : max(raised[0], 60) + 1])


def test_a_bar_of_bias_is_found_within_fifteen_fills_of_that_gauge(long: Shop) -> None:
    """Three stations; sixty are the soak's."""
    assert statistics.median(fills_until_found(long, seed) for seed in range(3)) <= 15


@pytest.mark.soak
def test_a_bar_of_bias_is_found_at_sixty_stations(long: Shop) -> None:
    assert statistics.median(fills_until_found(long, seed) for seed in range(100, 160)) <= 15


@pytest.mark.soak
def test_without_a_bias_the_charts_of_a_station_are_quiet_for_three_hundred_fills(
    long: Shop,
) -> None:
    """Runs until the first alarm of rows that begin anew; the mean's own deviation is a sixth."""
    runs = []
    for seed in range(200, 236):
        enter(long, row := biased(seed, 1200, 0.0, since=0))
        with long.station.record.read() as conn:
            charts, _ = drifting.family(conn, len(row))
        runs.append(charts.alarms[0].place if charts.alarms else len(row))
    assert statistics.mean(runs) >= 300


def test_the_alarm_says_what_is_off_since_when_and_what_it_rests_on(long: Shop) -> None:
    enter(long, biased(4, 140, 1.3, since=80))
    answer = drifting.show(long.station.record)
    (alarm,) = answer["standing"]
    assert alarm["suspects"][0]["cause"] == "gauge G1"
    assert alarm["suspects"][0]["bias"] == pytest.approx(1.3, abs=0.5)
    assert alarm["text"].startswith(f"oxygen stops read {alarm['suspects'][0]['bias']:.1f} bar low")
    assert "likely gauge G1, the oxygen gauge" in alarm["text"]
    assert "weighted mean beyond its limit on:" in alarm["evidence"]
    told = drift_words.lines(answer)
    assert any(line.startswith("ALARM: oxygen stops read") for line in told)


def test_an_alarm_of_one_fill_says_its_limit_and_the_scatter_it_was_judged_by(long: Shop) -> None:
    enter(long, [*biased(4, 60, 0.0, since=0), ("G1", 3.0), ("G1", 0.0)])
    (alarm,) = drifting.show(long.station.record)["alarms"]
    found = re.search(
        r"\+(\S+) points, limit \+-(\S+): (\S+) times the (\S+) points", alarm["evidence"]
    )
    assert found
    points, limit, times, scatter = map(float, found.groups())
    assert points > limit == pytest.approx(times * scatter, rel=0.03)
    assert scatter == pytest.approx(SCATTER, rel=0.5)


def test_a_span_has_the_alarms_that_stood_in_it_as_they_were_seen_at_its_end(long: Shop) -> None:
    def said(since: str, until: str) -> list[dict[str, Any]]:
        span = days_of(since, until, long.clock())
        found = drifting.of_span(long.station.record, span.since_us, span.until_us, 20)
        return [*found["alarms"]]

    enter(long, biased(4, 20, 0.0, since=0))
    quiet_until = long.clock().iso[:10]
    long.clock.turn(DAY_MIN)
    enter(long, biased(4, 60, 1.6, since=0))
    seen_until = long.clock().iso[:10]
    long.clock.turn(30 * DAY_MIN)
    correct(long, since=quiet_until)
    assert said("", quiet_until) == []
    (then,) = [one for one in said("", seen_until) if one["standing"]]
    assert then["suspects"][0]["cause"] == "gauge G1"  # the correction came a month later
    drawn = drifting.chart(long.station.record, "gauge G1", until=seen_until)
    assert drawn["corrections"] == []
    assert drawn["points"][-1]["beyond"]
    assert (
        drifting.chart(long.station.record, "gauge G1", until=quiet_until)["points"][-1]["day"]
        <= quiet_until
    )


def test_of_what_is_always_used_together_the_thing_is_named_before_the_way(long: Shop) -> None:
    enter(long, biased(4, 140, 1.3, since=0))
    for alarm in drifting.show(long.station.record, alarms=0)["alarms"]:
        ways = [one["cause"].startswith("method ") for one in alarm["suspects"]]
        assert ways == sorted(ways)


def test_a_chart_has_each_fill_with_its_limits_and_the_single_values(long: Shop) -> None:
    enter(long, biased(4, 30, 0.0, since=0))
    drawn = drifting.chart(long.station.record, "gauge  G1", last=10)
    assert drawn["unit"] == "bar"
    assert len(drawn["points"]) == 10
    assert all(one["lower"] < 0.0 < one["upper"] for one in drawn["points"])
    values = [one["value"] for one in drawn["points"]]
    assert drawn["individuals"]["centre"] == pytest.approx(statistics.mean(values))
    lines = drift_words.chart_lines(drawn)
    assert len(lines) == 13
    assert all(len(line) <= 80 for line in lines)
    with pytest.raises(InputError, match="there are charts of analyser A1, gauge G1"):
        drifting.chart(long.station.record, "gauge G9")


# -- corrections -------------------------------------------------------------------------------


def correct(shop: Shop, by: str = "1.3bar", **facts: str) -> dict[str, Any]:
    given = {"since": "2026-11-20", "reason": "compared with the test gauge"} | facts
    return correcting.correct(shop.station, shop.mara, "G1", by=by, **given)


def test_a_corrected_gauge_counts_by_so_much_more_and_everybody_is_told(gauged: Shop) -> None:
    signed = correct(gauged)
    fill = gauged.request()
    planned = gauged.plan(fill)
    stop = planned.facts["plan"]["steps"][0]["to_bar"]
    dial = f"On the dial stop at {stop - 1.3:.1f} bar: gauge G1 is corrected by +1.3 bar"
    assert dial in planned.text
    assert any(dial in warning for warning in papers.tag_view(gauged.station.record, fill).warnings)
    started = gauged.start(fill)
    assert started.facts["next"]["gauge_shows_bar"] == pytest.approx(stop - 1.3, abs=2e-3)
    assert started.facts["next"]["correction"] == signed["seq"]
    assert dial in started.text
    shown = panel_fill(gauged.station.record, fill).stop
    assert shown is not None
    assert shown.dial_bar == pytest.approx(stop - 1.3, abs=2e-3)
    answer = gauged.reading(fill, f"{stop - 1.3:.3f}bar")
    assert answer.facts["closes"]
    assert answer.facts["reading"]["pressure_bar"] == pytest.approx(stop, abs=2e-3)
    assert f"It shows {stop - 1.3:.1f} bar; gauge G1 is corrected by +1.3 bar" in answer.text
    data = gauged.last().data
    assert data["gauge_mbar"] - data["shown_mbar"] == 1300
    assert data["correction"] == signed["seq"]
    read = book.story(gauged.station.record, fill)["readings"][0]
    assert read["shown_bar"] == pytest.approx(stop - 1.3, abs=2e-3)
    assert read["correction"] == signed["seq"]
    assert "corrected" in "\n".join(book.story_lines(book.story(gauged.station.record, fill)))


def test_a_correction_is_an_exception_when_signed_and_when_ended(gauged: Shop) -> None:
    signed = correct(gauged)
    correcting.end(gauged.station, gauged.mara, "gauge G1", reason="new gauge")
    kinds = [one["kind"] for one in watch.exceptions(gauged.station.record)]
    assert kinds[:2] == ["correction-ended", "corrected"]
    with gauged.station.record.read() as conn:
        (one,) = drifting.corrections(conn)
        assert drifting.corrections(conn, standing_only=True) == []
    assert (one["signed"]["seq"], one["ended"]["reason"]) == (signed["seq"], "new gauge")
    fill = gauged.filling()
    assert "correction" not in gauged.reading(fill, "84.425bar").facts["reading"]
    assert verify(gauged.path).ok


def test_the_right_correction_ends_the_alarm(long: Shop) -> None:
    enter(long, biased(4, 140, 1.3, since=80))
    (alarm,) = drifting.show(long.station.record)["standing"]
    correct(long, f"{alarm['suspects'][0]['bias']:.1f}bar", since=alarm["since"])
    assert drifting.show(long.station.record)["standing"] == []


@pytest.mark.parametrize(
    ("gauge", "facts", "told"),
    [
        ("G9", {}, "there is in use: G1, G2"),
        ("analyser A1", {}, "calibrate"),
        ("supply o1", {}, "supply change"),
        ("gauge of oxygen stops", {}, "register it first"),
        ("G1", {"by": "1.3"}, "with its unit"),
        ("G1", {"by": "7bar"}, "is replaced"),
        ("G1", {"by": "0bar"}, "0.05 to 5 bar"),
        ("G1", {"since": "2027-01-01"}, "lies in the future"),
        ("G1", {"reason": ""}, "must not be empty"),
    ],
)
def test_what_cannot_be_corrected_is_refused(
    gauged: Shop, gauge: str, facts: dict[str, str], told: str
) -> None:
    given = {"by": "1.3bar", "since": "2026-11-20", "reason": "compared"} | facts
    before = gauged.seq()
    with pytest.raises(InputError, match=told):
        correcting.correct(gauged.station, gauged.mara, gauge, **given)
    assert gauged.seq() == before


def test_a_gauge_is_corrected_once_and_by_a_manager(gauged: Shop) -> None:
    with pytest.raises(RefusedError, match="correction needs manager"):
        correcting.correct(
            gauged.station, gauged.jo, "G1", by="1bar", since="2026-11-20", reason="x"
        )
    with pytest.raises(InputError, match="no correction of it is in force"):
        correcting.end(gauged.station, gauged.mara, "G1", reason="x")
    correct(gauged)
    with pytest.raises(InputError, match="it is corrected already"):
        correct(gauged)


# -- swapped gauges ----------------------------------------------------------------------------


def test_a_gauge_swapped_mid_fill_takes_its_place_and_is_said(gauged: Shop) -> None:
    fill = gauged.filling()
    gauged.reading(fill, "70bar")
    items.add(gauged.station, gauged.mara, "gauge", "G7", range="1.0@250bar")
    upkeep.did(gauged.station, gauged.jo, "gauge", "G1", "swapped", by="G7")
    answer = gauged.reading(fill, "84.425bar")
    assert "Gauge G7 took the place of G1 during this fill" in answer.text
    assert gauged.last().data["gauge"] == "G7"
    gauged.reading(fill, "230bar")
    gauged.analyse(fill, "32.1")
    # The last reading on the oxygen gauge settles what went in: the first cancels out.
    effects = entered(gauged)["effects"]
    assert "gauge G7" in effects
    assert "gauge G1" not in effects
    other = gauged.filling(cylinder="C-1003")
    assert "took the place" not in gauged.reading(other, "84.425bar").text


def test_a_gauge_that_shows_too_much_is_corrected_downwards(gauged: Shop) -> None:
    assert correct(gauged, "-0.5bar")["by_bar"] == -0.5
    started = gauged.start(_planned(gauged))
    shown = started.facts["next"]["gauge_shows_bar"]
    assert shown == pytest.approx(started.facts["next"]["to_bar_here"] + 0.5, abs=2e-3)


def _planned(shop: Shop) -> int:
    fill = shop.request()
    assert shop.plan(fill).done
    return fill
