"""A bank whose gas does not add up is named with the forecast and with what falls due."""

from __future__ import annotations

from typing import Any

from blender.station import duties, equipment, in_hand, supplies
from blender.station.rules import Rules
from blender.station.watch import due as stamps_due
from tests.station.shop import Shop

WEEK = 7 * 24 * 60


def bank(shop: Shop, reading: str) -> None:
    equipment.add_supply(shop.station, shop.mara, name="b7", gas="oxygen", size="50L", at="180bar")
    supplies.read_supply(shop.station, shop.jo, "b7", at=reading)


def due(shop: Shop, within: int | None = None) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = duties.due(shop.station.record, shop.clock(), within_days=within)[
        "due"
    ]
    return found


def told(shop: Shop) -> list[str]:
    return in_hand.lines(in_hand.in_hand(shop.station.record, shop.clock()))


def test_a_leak_is_named_in_the_forecast_and_in_what_is_due(shop: Shop) -> None:
    bank(shop, "150bar")
    found = in_hand.in_hand(shop.station.record, shop.clock())
    (one,) = found["unbalanced"]
    assert (one["supply"], one["closes"]) == ("b7", False)
    # 30 bar of oxygen in 50 L at 20 degC are some 61 mol (ideal: 30e5 * 0.05 / 8.314 / 293.15).
    assert -70.0 < one["unexplained_mol"] < -55.0
    assert "a leak" in one["text"]
    (line,) = [line for line in told(shop) if line.startswith("! b7")]
    assert "what is in hand is unsure" in line
    for within in (None, 0, 365):
        (mine,) = [one for one in due(shop, within) if one["kind"] == "supply"]
        assert (mine["name"], mine["what"], mine["days"]) == ("b7", "balance", None)
        assert "its gas does not add up" in duties.line(mine)


def test_more_than_there_can_be_is_named_too(shop: Shop) -> None:
    bank(shop, "215bar")
    (one,) = in_hand.in_hand(shop.station.record, shop.clock())["unbalanced"]
    assert "connected that nobody entered" in one["text"]


def test_a_bank_that_adds_up_is_not_named(shop: Shop) -> None:
    bank(shop, "179.6bar")
    assert in_hand.in_hand(shop.station.record, shop.clock())["unbalanced"] == []
    assert not [one for one in due(shop) if one["kind"] == "supply"]


def test_another_bottle_ends_it_and_so_do_weeks(shop: Shop) -> None:
    bank(shop, "150bar")
    shop.clock.turn(5 * WEEK)
    shop.rested()
    assert not [one for one in due(shop) if one["kind"] == "supply"]
    supplies.read_supply(shop.station, shop.jo, "b7", at="100bar")
    assert [one for one in due(shop) if one["kind"] == "supply"]
    supplies.change_supply(shop.station, shop.jo, "b7", at="200bar")
    assert not [one for one in due(shop) if one["kind"] == "supply"]
    assert in_hand.in_hand(shop.station.record, shop.clock())["unbalanced"] == []


def test_stamps_further_off_than_two_months_are_listed_where_asked_for(shop: Shop) -> None:
    equipment.add_cylinder(
        shop.station, shop.mara, serial="FAR-1", size="12L", wp="232bar", tp="348bar",
        tested="2025-03", inspected="2026-06", clean="no",
    )  # fmt: skip

    def far(within: int | None) -> set[str]:
        return {one["what"] for one in due(shop, within) if one["name"] == "FAR-1"}

    # Today is 2026-11-25: the inspection runs out on 2027-06-30, in 217 days, the test in 2030.
    assert far(None) == far(60) == far(216) == set()
    assert far(217) == {"visual-inspection"}
    assert far(1600) == {"visual-inspection", "periodic-test"}
    assert not [
        one for one in stamps_due(shop.station.record, shop.clock(), Rules())
        if one.get("serial") == "FAR-1"
    ]  # fmt: skip
