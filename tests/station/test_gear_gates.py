"""Filters, whips and panel are asked about where they are on the register, and nowhere else."""

from __future__ import annotations

import pytest

from blender.station import compressors, duties, items, looking, upkeep
from tests.station.shop import Shop, gate


@pytest.fixture(name="k1")
def _k1(shop: Shop) -> Shop:
    compressors.add_compressor(shop.station, shop.mara, name="K1", rated_intake="40%")
    upkeep.did(shop.station, shop.jo, "compressor", "K1", "ran", hours="100h")
    items.add(shop.station, shop.mara, "filter", "F1", on="K1", life="40h")
    return shop


def ran(shop: Shop, hours: str, temperature: str = "20C") -> None:
    facts = {"hours": hours, "temperature": temperature}
    upkeep.did(shop.station, shop.jo, "compressor", "K1", "ran", **facts)


def test_a_used_up_filter_asks_a_manager_until_it_is_changed(k1: Shop) -> None:
    ran(k1, "139h")
    assert gate(k1.plan(k1.request()), "filter") == ("pass", "filter F1 on K1 is 98% used")
    ran(k1, "140h")
    fill = k1.request()
    assert gate(k1.plan(fill), "filter")[0] == "ask"
    due = duties.due(k1.station.record, k1.clock())["due"]
    assert next(one["days"] for one in due if one["kind"] == "filter") <= 0
    looking.allow(k1.station, k1.mara, fill, gate="filter", reason="new one comes tomorrow")
    assert k1.plan(fill).done
    upkeep.did(k1.station, k1.jo, "filter", "F1", "changed", hours="140h")
    assert gate(k1.plan(k1.request()), "filter")[0] == "pass"


def test_warm_air_uses_it_up_in_fewer_hours(k1: Shop) -> None:
    ran(k1, "124h", "30C")  # 24 h at 1.74 an hour
    assert gate(k1.plan(k1.request()), "filter")[0] == "ask"


def test_without_a_filter_on_record_nobody_asks(shop: Shop) -> None:
    asked = {one.gate for one in shop.plan(shop.request()).gates}
    assert not asked & {"filter", "oxygen-path"}


def test_a_whip_found_unclean_lets_no_oxygen_through(shop: Shop) -> None:
    items.add(shop.station, shop.mara, "whip", "W1", serves="oxygen")
    items.add(shop.station, shop.mara, "whip", "W2", serves="top")
    assert gate(shop.plan(shop.request()), "oxygen-path")[0] == "pass"
    upkeep.did(shop.station, shop.jo, "whip", "W1", "cleaned", found="no", note="oil film")
    answer = shop.plan(shop.request(), by=shop.mara)
    assert gate(answer, "oxygen-path")[0] == "stop"
    air = shop.request(cylinder="C-1003", have="60bar@20C:air", want="200bar:air")
    assert "oxygen-path" not in {one.gate for one in shop.plan(air).gates}
    upkeep.did(shop.station, shop.jo, "whip", "W1", "cleaned")
    assert gate(shop.plan(shop.request()), "oxygen-path")[0] == "pass"


def test_a_panel_long_not_cleaned_is_cautioned_about(shop: Shop) -> None:
    items.add(shop.station, shop.mara, "panel", "P1", since="2024-01-01")
    answer = shop.plan(shop.request())
    assert answer.done
    assert "oxygen-path" in {one.gate for one in answer.cautions}
