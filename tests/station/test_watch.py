"""The office: exceptions newest first, what runs out, and the rules in words."""

from __future__ import annotations

from dataclasses import fields, replace

from blender.station import equipment, ruling, watch
from blender.station.rules import Rules
from tests.station.shop import Shop
from tests.station.test_lookup import cylinder


def test_exceptions_newest_first_within_a_span(shop: Shop) -> None:
    record = shop.station.record
    first = shop.filling()
    shop.hold(first, reason="power cut")
    middle = shop.clock.us + 1
    shop.clock.turn(10)
    second = shop.filling(cylinder="C-1003")
    shop.hold(second, reason="end of shift")
    found = watch.exceptions(record)
    assert [(row["fill"], row["text"]) for row in found] == [
        (second, "end of shift"), (first, "power cut")]  # fmt: skip
    assert (found[0]["who"], found[0]["kind"]) == ("Jo Blend", "held")
    assert found[0]["when"].endswith("+01:00")
    assert [row["fill"] for row in watch.exceptions(record, middle)] == [second]
    assert [row["fill"] for row in watch.exceptions(record, 0, middle)] == [first]
    assert [row["fill"] for row in watch.exceptions(record, limit=1)] == [second]


def test_what_runs_out_soonest_first(shop: Shop) -> None:
    cylinder(shop, "OLD-1", tested="2021-10", inspected="2026-06")
    cylinder(shop, "SOON-1", tested="2022-06", inspected="2025-12")
    cylinder(shop, "EDGE-1", tested="2022-01", inspected="2026-01")  # 31 January is 67 days off
    equipment.add_analyser(shop.station, shop.mara, name="A9")
    shop.clock.turn(23 * 60)
    found = watch.due(shop.station.record, shop.clock(), Rules())
    assert [row.get("analyser") or row["serial"] for row in found] == ["A9", "OLD-1", "SOON-1"]
    assert (found[1]["what"], found[1]["date"]) == ("periodic-test", "2026-10-31")
    assert (found[1]["days"], found[2]["days"]) == (-26, 35)
    shop.clock.turn(60)
    late = watch.due(shop.station.record, shop.clock(), Rules())
    assert {row["analyser"] for row in late if "analyser" in row} == {"A1", "A2", "A9"}


def test_a_stamp_ahead_of_the_calendar_is_shown(shop: Shop) -> None:
    cylinder(shop, "LATER-1", tested="2027-03")
    found = watch.due(shop.station.record, shop.clock(), Rules())
    assert [(row["serial"], "future" in row["text"]) for row in found] == [("LATER-1", True)]


def test_the_horizon_keeps_to_the_rules(shop: Shop) -> None:
    yearly = replace(Rules(), inspection_months=10)
    found = watch.due(shop.station.record, shop.clock(), yearly)
    assert {row["serial"] for row in found} >= {"C-1001", "T-1+T-2"}
    assert {row["days"] for row in found} == {36}


def test_every_rule_has_its_words(shop: Shop) -> None:
    lines = ruling.listing(shop.station.record)["rules"]
    assert [ruling.field_named(one["rule"]) for one in lines] == [f.name for f in fields(Rules)]
    assert all(one["text"] and one["meaning"] for one in lines)
    assert ("clean-above", "22.0%") in [(one["rule"], one["text"]) for one in lines]
