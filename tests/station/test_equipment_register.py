"""Gauges, whips, filters and the rest: registered, what was done to them, what falls due."""

from __future__ import annotations

from typing import Any

import pytest

from blender.errors import InputError, RefusedError
from blender.record.verify import verify
from blender.station import compressors, duties, items, upkeep, watch
from tests.station.shop import Shop

DAY_MIN = 24.0 * 60.0


def add(shop: Shop, kind: str, name: str, **facts: str) -> dict[str, Any]:
    return items.add(shop.station, shop.mara, kind, name, **facts)


def did(shop: Shop, kind: str, name: str, act: str, **facts: str) -> dict[str, Any]:
    return upkeep.did(shop.station, shop.jo, kind, name, act, **facts)


def listed(shop: Shop) -> list[dict[str, Any]]:
    with shop.station.record.read() as conn:
        return list(items.listing(conn)["equipment"])


def due(shop: Shop, within: int | None = None) -> dict[tuple[str, str], dict[str, Any]]:
    found = duties.due(shop.station.record, shop.clock(), within_days=within)["due"]
    return {(one["name"], one["what"]): one for one in found}


@pytest.fixture(name="k1")
def _k1(shop: Shop) -> Shop:
    compressors.add_compressor(shop.station, shop.mara, name="K1", rated_intake="40%")
    return shop


def test_an_item_is_listed_with_its_facts_and_what_was_done_last(shop: Shop) -> None:
    add(shop, "gauge", "G1", range="1.6@400bar", serves="oxygen", since="2026-01-10")
    did(shop, "gauge", "G1", "calibrated", off="-0.5bar", on="2026-11-01", note="paper 17")
    (one,) = listed(shop)
    assert (one["range"], one["serves"], one["since"]) == ("1.6@400bar", "oxygen", "2026-01-10")
    assert one["last"] == {"act": "calibrated", "day": "2026-11-01", "ok": True}
    with shop.station.record.read() as conn:
        told = upkeep.history(conn, "QUAY-1", "gauge", "G1")["done"]
    assert told[0]["text"] == "calibrated 2026-11-01, off by -0.5 bar, paper 17"
    assert told[0]["by"] == "Jo Blend"
    assert verify(shop.path).ok


def test_a_retired_item_takes_no_more_acts_and_stays_on_record(shop: Shop) -> None:
    add(shop, "whip", "W1", serves="oxygen")
    items.retire(shop.station, shop.mara, "whip", "W1", reason="bulged")
    assert listed(shop)[0]["retired"] == "bulged"
    with pytest.raises(InputError, match="there is in use: none"):
        did(shop, "whip", "W1", "cleaned")


@pytest.mark.parametrize(
    ("kind", "facts", "told"),
    [
        ("gauge", {}, "a gauge needs it"),
        ("gauge", {"range": "9@400bar"}, "a class from"),
        ("whip", {"life": "40h"}, "a whip has --serves"),
        ("filter", {"on": "K9", "life": "40h"}, "compressors in use are K1"),
        ("cell", {"on": "K1"}, "analysers in use are A1, A2"),
        ("spoon", {}, "one of gauge"),
        ("whip", {"serves": "argon"}, "one of oxygen"),
        ("whip", {"since": "2027-01-01"}, "lies in the future"),
    ],
)
def test_what_no_such_item_has_is_refused(
    k1: Shop, kind: str, facts: dict[str, str], told: str
) -> None:
    before = k1.seq()
    with pytest.raises(InputError, match=told):
        add(k1, kind, "X1", **facts)
    assert k1.seq() == before


@pytest.mark.parametrize(
    ("kind", "act", "facts", "told"),
    [
        ("compressor", "ran", {}, "ran needs it"),
        ("compressor", "ran", {"hours": "90h"}, "its meter showed 100 h before"),
        ("compressor", "cleaned", {}, "a compressor is ran, oil, serviced"),
        ("gauge", "swapped", {"by": "G1"}, "another one"),
        ("gauge", "swapped", {"by": "G9"}, "there is in use: G1"),
        ("gauge", "calibrated", {"off": "70bar"}, "within 50 bar"),
        ("gauge", "calibrated", {"hours": "3h"}, "calibrated takes --off"),
        ("compressor", "ran", {"hours": "101h", "temperature": "55C"}, "-20 to 50"),
    ],
)
def test_what_is_not_done_to_it_is_refused(
    k1: Shop, kind: str, act: str, facts: dict[str, str], told: str
) -> None:
    add(k1, "gauge", "G1", range="1.6@400bar")
    did(k1, "compressor", "K1", "ran", hours="100h")
    before = k1.seq()
    with pytest.raises(InputError, match=told):
        did(k1, kind, "G1" if kind == "gauge" else "K1", act, **facts)
    assert k1.seq() == before


def test_a_blender_enters_what_was_done_but_adds_and_retires_nothing(shop: Shop) -> None:
    with pytest.raises(RefusedError, match="equipment needs manager"):
        items.add(shop.station, shop.jo, "whip", "W1")
    add(shop, "whip", "W1")
    assert did(shop, "whip", "W1", "cleaned")["seq"]
    with pytest.raises(RefusedError, match="equipment needs manager"):
        items.retire(shop.station, shop.jo, "whip", "W1", reason="old")
    with pytest.raises(RefusedError, match="upkeep needs"):
        upkeep.did(shop.station, shop.ada, "whip", "W1", "cleaned")


def test_what_is_found_wrong_is_an_exception(shop: Shop) -> None:
    add(shop, "monitor", "M1")
    did(shop, "monitor", "M1", "tested", found="no", note="no alarm at 19 %")
    found = watch.exceptions(shop.station.record)[0]
    assert (found["kind"], found["text"]) == (
        "tested",
        "monitor M1: tested 2026-11-25, NOT FOUND SOUND, no alarm at 19 %",
    )


# -- what falls due ----------------------------------------------------------------------------


def test_a_gauge_falls_due_a_year_after_it_was_calibrated_with_a_month_of_lead(shop: Shop) -> None:
    add(shop, "gauge", "G1", range="1.6@400bar", since="2024-01-01")
    did(shop, "gauge", "G1", "calibrated", on="2025-12-30")  # until 2026-12-30: 35 days
    assert ("G1", "calibrated") not in due(shop)
    assert due(shop, within=40)["G1", "calibrated"]["days"] == 35
    shop.clock.turn(6 * DAY_MIN)
    assert due(shop)["G1", "calibrated"]["days"] == 29
    shop.clock.turn(40 * DAY_MIN)
    one = due(shop)["G1", "calibrated"]
    assert one["days"] == -11
    assert "overdue by 11 days" in one["text"]
    assert "no source" in one["source"]
    did(shop, "gauge", "G1", "calibrated")
    assert ("G1", "calibrated") not in due(shop)


def test_only_a_whip_for_oxygen_is_cleaned_for_oxygen(shop: Shop) -> None:
    for name, serves in (("W1", "oxygen"), ("W2", "top")):
        add(shop, "whip", name, serves=serves, since="2025-06-01")
    assert ("W1", "cleaned") in due(shop)
    assert ("W2", "cleaned") not in due(shop)


def test_the_list_has_stamps_and_analysers_too_and_is_in_order(shop: Shop) -> None:
    shop.clock.turn(30 * DAY_MIN)
    lines = duties.due(shop.station.record, shop.clock())["due"]
    assert ("A1", "calibration") in due(shop)
    shop.clock.turn(60 * DAY_MIN)
    assert ("C-1001", "visual-inspection") in due(shop)
    days = [one["days"] for one in lines if one["days"] is not None]
    assert days == sorted(days)


def test_oil_falls_due_by_the_hour_meter(k1: Shop) -> None:
    did(k1, "compressor", "K1", "oil", hours="1000h")
    did(k1, "compressor", "K1", "ran", hours="1470h")
    assert ("K1", "oil") not in due(k1)
    did(k1, "compressor", "K1", "ran", hours="1480h")
    assert due(k1)["K1", "oil"]["hours_left"] == pytest.approx(20.0)
    did(k1, "compressor", "K1", "oil", hours="1480h")
    assert ("K1", "oil") not in due(k1)


# -- filters -----------------------------------------------------------------------------------


def test_a_filter_is_used_up_sooner_in_warm_air(k1: Shop) -> None:
    """40 h at 20 degC are 40 / 1.739 = 23.0 h at 30 degC: saturation 31.824 and 55.324 mmHg."""
    did(k1, "compressor", "K1", "ran", hours="100h")
    add(k1, "filter", "F1", on="K1", life="40h", at="20C")
    k1.clock.turn(10 * DAY_MIN)
    did(k1, "compressor", "K1", "ran", hours="110h", temperature="20C")
    did(k1, "compressor", "K1", "ran", hours="121h", temperature="30C")
    one = due(k1, within=9999)["F1", "changed"]
    assert "used" in one
    wear = 55.324 / 31.824
    assert one["used"] == pytest.approx((10.0 + 11.0 * wear) / 40.0, rel=1e-4)
    assert one["hours_left"] == pytest.approx((30.0 - 11.0 * wear) / wear, rel=1e-4)
    assert one["used"] < 0.8
    did(k1, "compressor", "K1", "ran", hours="123h", temperature="30C")
    one = due(k1)["F1", "changed"]
    assert one["used"] > 0.8
    assert one["days"] <= 10
    did(k1, "filter", "F1", "changed", hours="123h")
    assert ("F1", "changed") not in due(k1)
    assert due(k1, within=9999)["F1", "changed"]["used"] == 0.0
