"""A plan is as sure as the gauges on record let it be, and says which; the option still wins.

Figures: a class 1.6 gauge of 400 bar is off by 6.4 bar at most (EN 837-1, from memory).
"""

from __future__ import annotations

from typing import Any

import pytest

from blender.record import upkeep as kept
from blender.station import items, upkeep
from tests.station.shop import Shop


def gauge(shop: Shop, name: str, serves: str, of: str = "1.6@400bar") -> None:
    items.add(shop.station, shop.mara, "gauge", name, range=of, serves=serves)


def sure(shop: Shop, **options: Any) -> dict[str, Any]:
    answer = shop.plan(shop.request(), **options)
    assert answer.done
    found: dict[str, Any] = answer.facts["plan"]
    return found


def words(found: dict[str, Any]) -> str:
    return " | ".join(one["words"] for one in found["uncertainty"]["contributions"])


def test_each_stop_has_the_gauge_registered_for_its_gas(shop: Shop) -> None:
    before = sure(shop)
    assert not before["uncertainty"]["gauge_stated"]
    gauge(shop, "G-OX", "oxygen")
    gauge(shop, "G-TOP", "top", "0.25@400bar")
    found = sure(shop)
    assert "oxygen stop read on a class 1.6 gauge of 400 bar (G-OX)" in words(found)
    assert "last stop read on a class 0.2 gauge of 400 bar (G-TOP)" in words(found)
    assert found["uncertainty"]["gauge_stated"]
    assert found["uncertainty"]["gauges_on_record"] == ["G-OX", "G-TOP"]
    assert found["result"]["o2_uncertainty"] > before["result"]["o2_uncertainty"]
    assert [one["name"] for one in found["request"]["gauges"]] == ["G-OX", "G-TOP"]


def test_they_make_what_the_same_gauge_typed_makes(shop: Shop) -> None:
    typed = sure(shop, gauge="1.6@400bar")
    gauge(shop, "G1", "all")
    assert sure(shop)["result"]["o2_uncertainty"] == pytest.approx(
        typed["result"]["o2_uncertainty"], rel=1e-9
    )


def test_the_option_still_wins(shop: Shop) -> None:
    typed = sure(shop, gauge="0.6@400bar")
    gauge(shop, "G1", "all")
    again = sure(shop, gauge="0.6@400bar")
    assert again["result"]["o2_uncertainty"] == pytest.approx(typed["result"]["o2_uncertainty"])
    assert "G1" not in words(again)
    assert again["uncertainty"]["gauges_on_record"] == []


def test_two_for_one_gas_are_not_chosen_between(shop: Shop) -> None:
    gauge(shop, "G1", "all")
    gauge(shop, "G2", "all")
    assert not sure(shop)["uncertainty"]["gauge_stated"]


def test_a_stop_beyond_the_scale_is_told_and_planned_all_the_same(shop: Shop) -> None:
    gauge(shop, "LOW", "all", "1.0@100bar")  # the oxygen stop is 84.4 bar, the last 230
    found = sure(shop)
    (said,) = [one["text"] for one in found["warnings"] if one["code"] == "gauge-range"]
    assert "230.0 bar is beyond the scale of gauge LOW, 100 bar" in said
    assert "(LOW)" in words(found)
    assert not found["uncertainty"]["gauge_stated"]  # of the last stop nobody said


def test_one_that_took_anothers_place_counts_from_then(shop: Shop) -> None:
    gauge(shop, "OLD", "all")
    gauge(shop, "NEW", "oxygen", "0.6@400bar")
    upkeep.did(shop.station, shop.mara, "gauge", "OLD", "swapped", by="NEW")
    with shop.station.record.read() as conn:
        assert kept.last_act(conn, "gauge", "OLD", "swapped")
    assert "(NEW)" in words(sure(shop))
    assert "(OLD)" not in words(sure(shop))
