"""A compressor and the prices of gas on record: recipes are complete and ranked by cost."""

from __future__ import annotations

from typing import Any

import pytest

from blender.errors import InputError
from blender.planning.options import Options
from blender.record.rebuild import rebuild
from blender.station import compressors, equipment, planning, pricing
from blender.station.recipes import recipes
from tests.station.shop import Shop


def add(shop: Shop, name: str = "K1", rated: str = "40%", **more: str) -> dict[str, Any]:
    return compressors.add_compressor(
        shop.station, shop.mara, name=name, rated_intake=rated, **more
    )


def test_with_one_on_record_recipes_include_continuous_flow(shop: Shop) -> None:
    fill = shop.request()
    kinds = [way.text.partition(":")[0] for way in recipes(shop.station.record, fill)]
    assert "Continuous flow" not in kinds
    add(shop, maximum="330bar", delivery="200L/min")
    found = recipes(shop.station.record, fill)
    flow = next(way for way in found if way.text.startswith("Continuous flow"))
    made = planning.plan(shop.station, shop.jo, fill, flow.options)
    assert made.done
    assert made.facts["plan"]["request"]["rated_intake"] == 0.40
    assert shop.last().data["rated_ppm"] == 400_000
    assert made.facts["plan"]["steps"][0]["oxygen_l_min"] > 0.0


def test_its_maximum_bounds_what_the_top_gas_reaches(shop: Shop) -> None:
    add(shop, maximum="200bar")
    with pytest.raises(Exception, match=r"compressor's maximum of 200\.0 bar"):
        shop.plan(shop.request())


def test_a_typed_figure_above_the_record_is_refused_and_one_below_is_taken(shop: Shop) -> None:
    add(shop, rated="34%", maximum="300bar")
    fill = shop.request()
    for more in ({"rated_intake": "40%"}, {"compressor_max": "330bar"}):
        with pytest.raises(InputError, match="the record has K1 for"):
            shop.plan(fill, method="continuous-flow", **more)
    plan = shop.plan(fill, method="continuous-flow").facts["plan"]
    assert plan["request"]["rated_intake"] == 0.34
    add(shop, name="K2", rated="40%")
    assert shop.plan(fill, method="continuous-flow", rated_intake="36%").done


def test_a_change_keeps_what_is_not_given_and_a_retired_one_is_not_planned_with(
    shop: Shop,
) -> None:
    add(shop, delivery="200L/min")
    changed = compressors.change_compressor(shop.station, shop.mara, name="K1", maximum="225bar")
    assert (changed["rated_intake"], changed["maximum_bar"]) == (0.40, 225.0)
    assert changed["delivery_l_min"] == 200.0
    compressors.retire_compressor(shop.station, shop.mara, name="K1", reason="sold")
    with pytest.raises(InputError, match="no default"):
        shop.plan(shop.request(), method="continuous-flow")
    tables = shop.tables()
    assert rebuild(shop.station.record).entries == shop.seq()
    assert shop.tables() == tables
    (one,) = compressors.listing(shop.station.record)["compressors"]
    assert one["retired"] == "sold"


@pytest.mark.parametrize(
    "given",
    [
        {"rated": "15%"},
        {"rated": "140%"},
        {"maximum": "0bar"},
        {"delivery": "fast"},
        {"name": " "},
    ],
)
def test_what_no_compressor_is(shop: Shop, given: dict[str, str]) -> None:
    before = shop.seq()
    with pytest.raises(InputError):
        add(shop, **given)
    assert shop.seq() == before


def test_a_name_is_taken_once_and_nothing_is_not_changed(shop: Shop) -> None:
    add(shop)
    with pytest.raises(InputError, match="already"):
        add(shop)
    with pytest.raises(InputError, match="give --rated-intake"):
        compressors.change_compressor(shop.station, shop.mara, name="K1")
    with pytest.raises(InputError, match="no compressor of that name"):
        compressors.retire_compressor(shop.station, shop.mara, name="K9", reason="sold")


def price(shop: Shop, supply: str, money: str) -> None:
    pricing.set_price(shop.station, shop.mara, supply=supply, price=money)


def test_recipes_are_ranked_by_what_they_cost(shop: Shop) -> None:
    """EAN32 from EAN28: cheap banked EAN36 or dear oxygen, and then the other way round."""
    for name, gas, at in (("o1", "oxygen", "180bar"), ("b1", "EAN36", "240bar")):
        equipment.add_supply(
            shop.station, shop.mara, name=name, gas=gas, size="2x50L", at=at
        )  # fmt: skip
    fill = shop.request()
    price(shop, "o1", "60")
    price(shop, "b1", "0.1")
    first = recipes(shop.station.record, fill)[0]
    assert "b1" in first.text.partition(";")[0]
    assert "costs" in first.text
    price(shop, "o1", "0.1")
    price(shop, "b1", "60")
    first = recipes(shop.station.record, fill)[0]
    assert "b1" not in first.text.partition(";")[0]
    # 0.305 m3 of pure oxygen for this fill (12.66 mol at 24.06 L, 20 degC and 1 atm).
    price(shop, "o1", "100")
    dear = next(w for w in recipes(shop.station.record, fill) if "o1 to 84.4 bar" in w.text)
    assert "costs 30.4" in dear.text or "costs 30.5" in dear.text


def test_a_price_is_of_a_supply_there_is(shop: Shop) -> None:
    price(shop, "oxygen", "6.5")  # without supplies of its own a station has these
    price(shop, "top", "0.2")
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen")
    with pytest.raises(InputError, match="the supplies are o1, top"):
        price(shop, "oxygen", "7")
    for money in ("-1", "1e9", "free"):
        with pytest.raises(InputError):
            price(shop, "o1", money)
    known = pricing.listing(shop.station.record)["prices"]
    assert known == [{"supply": "o1", "price_m3": None}, {"supply": "top", "price_m3": 0.2}]


def test_without_a_price_of_a_gas_used_no_cost_is_told(shop: Shop) -> None:
    text = recipes(shop.station.record, shop.request(), Options())[0].text
    assert "costs" not in text
