"""The recipes of a fill, from the station's own gases and by the station's own rules."""

from __future__ import annotations

import pytest

from blender.errors import RefusedError
from blender.planning.options import Options
from blender.station import planning, ruling
from blender.station.recipes import recipes
from tests.station.shop import Shop


def test_the_recipes_of_a_request_and_each_can_be_planned(shop: Shop) -> None:
    fill = shop.request()
    before = shop.seq()
    found = recipes(shop.station.record, fill, Options(rated_intake="40%", scale="5g"))
    assert shop.seq() == before
    assert {"Partial pressure", "By mass", "Continuous flow"} <= {
        way.text.partition(":")[0] for way in found
    }
    for way in found:
        answer = planning.plan(shop.station, shop.jo, fill, way.options)
        assert answer.done, way
        planned = shop.last().data
        assert planned["result"]["o2_ppm"] == 320_000
        assert planned["result"]["o2_u_ppm"] > 0
        assert planned["method"] == way.options.method


def test_a_recipe_says_its_stops_and_how_sure_it_is(shop: Shop) -> None:
    """S1: the oxygen stop is 84.425 bar, with 99.5 % oxygen 84.582 (by pyaga8)."""
    fill = shop.request()
    text = next(way.text for way in recipes(shop.station.record, fill) if "Partial" in way.text)
    assert "to 84.6 bar" in text or "to 84.4 bar" in text
    assert "O2 +- 1.5 points" in text
    assert "oxygen stop read on a class 1.0 gauge" in text


def test_recipes_are_for_before_the_gas(shop: Shop) -> None:
    fill = shop.filling()
    with pytest.raises(RefusedError, match="before gas goes in"):
        recipes(shop.station.record, fill)


def test_a_rule_of_air_before_oxygen_is_planned_by(shop: Shop) -> None:
    """US Navy practice, 100 psi (from memory), as a rule of the station."""
    ruling.set_rule(shop.station, shop.mara, "air-first", "6.9bar", reason="new policy")
    fill = shop.request(have="0bar:air")
    shop.plan(fill)
    first, second, *_ = shop.last().data["steps"]
    assert (first["supply"], first["to_mbar"]) == ("top", 6_900)
    assert second["supply"] != "top"


def test_a_rule_of_a_least_step_is_planned_by(shop: Shop) -> None:
    def added(serial: str) -> list[str]:
        supplies = ("b1=EAN32@230barx50L", "o1=oxygen@180barx50L")
        fill = shop.request(cylinder=serial, have="0bar:air", want="150bar:EAN32")
        assert shop.plan(fill, supply=supplies).done
        return [one["supply"] for one in shop.last().data["steps"] if one["action"] == "add"]

    assert added("C-1001") == ["o1", "b1"]
    ruling.set_rule(shop.station, shop.mara, "least-step", "0.5bar", reason="what a dial shows")
    assert added("C-1003") == ["b1"]


def test_a_rule_of_order_is_planned_by(shop: Shop) -> None:
    ruling.set_rule(shop.station, shop.mara, "gas-order", "Oxygen-first", reason="new policy")
    assert shop.station.rules.gas_order == "oxygen first"
    fill = shop.request(have="40bar:21/35", want="200bar:18/45", customer="Lena Tief")
    assert shop.plan(fill, supply=("he=helium", "o=oxygen")).done
    supplies = [step["supply"] for step in shop.last().data["steps"] if "supply" in step]
    assert supplies == ["o", "he", "top"]
    found = recipes(shop.station.record, fill, Options(supply=("he=helium", "o=oxygen")))
    assert all("helium first" not in way.kind for way in found)


def test_each_order_is_planned_as_it_was_chosen(shop: Shop) -> None:
    fill = shop.request(have="40bar:21/35", want="200bar:18/45", customer="Lena Tief")
    first = {}
    for way in recipes(shop.station.record, fill):
        assert planning.plan(shop.station, shop.jo, fill, way.options).done
        first[way.kind] = shop.last().data["steps"][0]["supply"]
    assert first["partial pressure, helium first"] == "helium"
    assert first["partial pressure, oxygen first"] == "oxygen"


def test_an_order_of_bottles_the_plan_opens_none_of_is_told(shop: Shop) -> None:
    supplies = ("b1=EAN36@230barx50L", "o1=oxygen@180barx50L")
    fill = shop.request(have="0bar:air", want="150bar:EAN32")
    told = shop.plan(fill, supply=supplies, draw="o1").spoken
    assert "Not used: --draw o1" in told
    used = shop.plan(shop.request(cylinder="C-1003"), supply=supplies, draw="o1").spoken
    assert "--draw" not in used
