"""Rule sets: what is in print, chosen whole, with the source beside each value.

The values are those the sources print: 29 CFR 1910.430(b) (CO 20 ppm, CO2 1 000 ppm, oil
5 mg/m3, a test every 6 months), EN 12021 (CO 5 ppm, CO2 500 ppm, oil 0.5 mg/m3, water 35 mg/m3),
US Navy Diving Manual rev. 4, p. 10-10 and 10-11 (CO 2 ppm, CO2 500 ppm, 90 days, 100 psi of air
first), 46 CFR 197.326 (40 %), 49 CFR 180.209 (5 years).
"""

from __future__ import annotations

import pytest

from blender.errors import InputError, RefusedError
from blender.record.verify import verify
from blender.station import rule_sets, ruling
from blender.station.rules import Rules
from tests.station.shop import Shop

PRINTED = {
    "us-work": {"clean_above_o2": 0.4, "co_ppm": 20, "co2_ppm": 1000, "oil_mg": 5,
                "air_test_months": 6, "test_years": 5, "hot_c": 55},
    "europe": {"clean_above_o2": 0.22, "co_ppm": 5, "co2_ppm": 500, "oil_mg": 0.5,
               "water_mg": 35, "air_test_months": 3, "inspection_months": 12, "test_years": 5},
    "us-navy": {"co_ppm": 2, "co2_ppm": 500, "air_test_months": 3, "air_first_bar": 6.9},
}  # fmt: skip


def test_a_new_station_works_by_the_strictest() -> None:
    usual = Rules()
    for one in rule_sets.rule_set("strictest").values:
        assert getattr(usual, one.field) == one.value, one.field


def test_no_set_is_stricter_than_the_strictest_in_what_is_a_limit() -> None:
    for name in rule_sets.NAMES:
        for one in rule_sets.rule_set(name).values:
            if one.field in ("co_ppm", "co2_ppm", "oil_mg", "water_mg", "compatible_oil_mg"):
                assert float(one.value) >= getattr(Rules(), one.field)


@pytest.mark.parametrize("name", PRINTED)
def test_a_set_is_put_into_force_whole(shop: Shop, name: str) -> None:
    done = rule_sets.use_rule_set(shop.station, shop.mara, name, reason="we moved")
    rules = shop.station.rules
    assert {field: getattr(rules, field) for field in PRINTED[name]} == pytest.approx(PRINTED[name])
    assert rules.name == rule_sets.rule_set(name).title
    assert "own marking come first" in done["first"]
    reasons = [row["changes"][-1]["reason"] for row in ruling.listing(shop.station.record)["rules"]
               if row["changes"] and row["rule"] != "name"]  # fmt: skip
    assert all("we moved" in told and "(" in told for told in reasons)
    with pytest.raises(InputError, match="in force already"):
        rule_sets.use_rule_set(shop.station, shop.mara, name, reason="again")
    assert verify(shop.path).ok


def test_single_rules_are_changed_afterwards(shop: Shop) -> None:
    rule_sets.use_rule_set(shop.station, shop.mara, "us-work", reason="we moved")
    ruling.set_rule(shop.station, shop.mara, "clean-above", "23.5%", reason="respirator rule")
    assert shop.station.rules.clean_above_o2 == 0.235
    assert shop.station.rules.co_ppm == 20


def test_only_a_manager_chooses_and_only_what_there_is(shop: Shop) -> None:
    count = shop.seq()
    for by in (shop.jo, shop.ada):
        with pytest.raises(RefusedError):
            rule_sets.use_rule_set(shop.station, by, "europe", reason="x")
    for name in ("mine", "", "../etc/passwd", "EUROPE"):
        with pytest.raises(InputError, match="there are strictest"):
            rule_sets.use_rule_set(shop.station, shop.mara, name, reason="x")
    assert shop.seq() == count


def test_every_list_says_what_comes_first_and_where_each_value_is_from(shop: Shop) -> None:
    told = rule_sets.lines(rule_sets.listing())
    assert told[0] == ruling.lines(ruling.listing(shop.station.record))[0]
    assert "Local codes and the cylinder's own marking come first" in told[0]
    for one in rule_sets.listing()["sets"]:
        for line in one["rules"]:
            assert line["source"].endswith(
                ("the source)", "reprints it)", "from memory)", "no source)")
            )
