"""Gates about what was looked at and measured: the right thing passes, the wrong one does not.

Limits: US Navy Diving Manual rev. 4, p. 10-11 (CO 2 ppm, CO2 500 ppm); EN 12021 as reprinted
(oil 0.5, water 35 mg/m3 above 200 bar); oxygen-compatible air 0.1 mg/m3 oil (from memory).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from blender.gas import AIR, OXYGEN, parse_gas
from blender.station import fitness, looking, measuring, requesting, ruling, staff, supplies
from blender.station.answer import Answer
from blender.station.equipment import add_supply
from blender.station.fitness import AirTest
from blender.station.gates import ASK, PASS, STOP, Gate
from blender.station.rules import Rules
from blender.station.supplies import change_supply
from tests.station.shop import Shop, gate

R = Rules()
ALL = Rules(
    look="yes", inside_look="yes", supply_analysis="yes", co_hours=8, compatible_air="yes",
    air_test_months=3, qualified="yes", one_person="yes", undertaking="yes",
)  # fmt: skip
GOOD = AirTest(1.0, 2.0, 500.0, 0.1, 35.0)
EAN36 = parse_gas("EAN36")
CAUTION = "caution"


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        (fitness.looked("outside", True, "", is_rule=True), PASS),
        (fitness.looked("outside", None, "", is_rule=True), ASK),
        (fitness.looked("outside", None, "", is_rule=False), CAUTION),
        (fitness.looked("outside", False, "dent", is_rule=False), STOP),
        (fitness.looked("valve", False, "bent", is_rule=False), STOP),
        (fitness.looked("marking", False, "no label", is_rule=False), ASK),
        (fitness.no_pressure(1.0, None, "", ALL), PASS),
        (fitness.no_pressure(0.9, None, "", ALL), ASK),
        (fitness.no_pressure(0.9, None, "", R), CAUTION),
        (fitness.no_pressure(0.0, True, "", ALL), PASS),
        (fitness.no_pressure(0.0, False, "rust", R), STOP),
        (fitness.no_pressure(200.0, False, "rust", R), STOP),
        (fitness.rich_unclean("label", clean=False, left=EAN36, gauge_bar=9, rules=R), ASK),
        (fitness.rich_unclean("label", clean=True, left=EAN36, gauge_bar=9, rules=R), PASS),
        (fitness.rich_unclean("label", clean=False, left=AIR, gauge_bar=9, rules=R), PASS),
        (fitness.rich_unclean("label", clean=False, left=EAN36, gauge_bar=0.9, rules=R), PASS),
        (fitness.air_test(GOOD, ALL), PASS),
        (fitness.air_test(None, R), CAUTION),
        (fitness.air_test(None, ALL), ASK),
        (fitness.air_test(replace(GOOD, months=3.1), ALL), ASK),
        (fitness.air_test(replace(GOOD, months=3.1), R), PASS),
        (fitness.air_test(replace(GOOD, co_ppm=2.1), R), STOP),
        (fitness.air_test(replace(GOOD, co2_ppm=501.0), R), STOP),
        (fitness.air_test(replace(GOOD, oil_mg=0.51), R), STOP),
        (fitness.air_test(replace(GOOD, water_mg=35.1), R), STOP),
        (fitness.carbon_monoxide(None, None, R), CAUTION),
        (fitness.carbon_monoxide(None, None, ALL), ASK),
        (fitness.carbon_monoxide(2.0, 8.0, ALL), PASS),
        (fitness.carbon_monoxide(2.0, 8.1, ALL), ASK),
        (fitness.carbon_monoxide(2.1, 0.1, R), STOP),
        (fitness.top_air(GOOD, clean=True, rich=True, rules=ALL), PASS),
        (fitness.top_air(replace(GOOD, oil_mg=0.11), clean=True, rich=True, rules=R), STOP),
        (fitness.top_air(replace(GOOD, oil_mg=0.11), clean=True, rich=False, rules=R), CAUTION),
        (fitness.top_air(replace(GOOD, oil_mg=0.11), clean=False, rich=True, rules=R), PASS),
        (fitness.top_air(None, clean=True, rich=True, rules=R), CAUTION),
        (fitness.top_air(None, clean=True, rich=True, rules=ALL), STOP),
        (fitness.supply_gas("o1", None, OXYGEN, R), CAUTION),
        (fitness.supply_gas("o1", None, OXYGEN, ALL), ASK),
        (fitness.supply_gas("o1", 0.99, OXYGEN, R), PASS),
        (fitness.supply_gas("o1", 0.98, OXYGEN, R), STOP),
        (fitness.qualified("Jo", ["banked"], "banked", ALL), PASS),
        (fitness.qualified("Jo", ["banked"], "mass", R), ASK),
        (fitness.qualified("Jo", [], "mass", R), CAUTION),
        (fitness.qualified("Jo", [], "mass", ALL), ASK),
        (fitness.undertaken("Jo", has=True, rules=ALL), PASS),
        (fitness.undertaken("Jo", has=False, rules=ALL), STOP),
        (fitness.undertaken("Jo", has=False, rules=R), CAUTION),
        (fitness.drift("A1", None, R), PASS),
        (fitness.drift("A1", -1.0, R), PASS),
        (fitness.drift("A1", -1.1, R), STOP),
        (fitness.two_parties({"Kai"}, {"Jo"}, R), PASS),
        (fitness.two_parties({"jo  blend"}, {"Jo Blend"}, R), STOP),
        (fitness.two_parties({"Jo Blend"}, {"Jo Blend"}, ALL), ASK),
    ],
)
def test_each_gate(asked: Gate, answer: str) -> None:
    assert (CAUTION if asked.caution else asked.answer) == answer
    assert asked.answer == PASS or not asked.caution
    assert len(asked.reason) > 5


def rule(shop: Shop, name: str, value: str) -> None:
    ruling.set_rule(shop.station, shop.mara, name, value, reason="insurer")


def air(shop: Shop, oil: str = "0.05mg/m3", **other: str) -> dict[str, Any]:
    usual = {"sampled": "2026-11-01", "co": "1ppm", "co2": "400ppm", "water": "20mg/m3"}
    return measuring.enter_air_test(
        shop.station, shop.jo, oil=oil, by="Coast lab 17", **(usual | other)
    )


def refused(shop: Shop, answer: Answer, name: str, said: str = STOP) -> None:
    """It was refused by this gate, and the record says so, with the deciding fact."""
    assert not answer.done
    assert gate(answer, name)[0] == said
    entry = shop.last()
    assert entry.kind == "fill.refused"
    told = {g["gate"]: (g["answer"], g["reason"]) for g in entry.data["gates"]}
    assert told[name] == gate(answer, name)
    assert shop.exceptions(answer.fill)[-1].kind == "refused"


def test_what_every_gate_said_is_entered_when_nothing_objects(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    assert shop.collect(fill, anchor).done
    told = {e.kind: {g["gate"] for g in e.data["gates"]} for e in shop.entries()
            if "gates" in e.data}  # fmt: skip
    both = {"periodic-test", "visual-inspection", "external-look", "valve", "marking",
            "internal-look", "residual-rich", "oxygen-clean", "top-air", "carbon-monoxide",
            "air-test", "supply-gas", "certification"}  # fmt: skip
    assert both | {"qualified", "residual", "working-pressure"} <= told["fill.planned"]
    assert both | {"qualified", "identity"} <= told["fill.started"]
    assert both - {"oxygen-clean"} | {"two-parties"} <= told["fill.accepted"]
    assert {"calibration", "drift"} <= told["fill.analysed"]
    assert {"identity", "label"} <= told["fill.collected"]


@pytest.mark.parametrize("part", ["outside", "valve", "inside"])
def test_a_bad_look_stops_everybody(shop: Shop, part: str) -> None:
    fill = shop.request()
    looking.look(shop.station, shop.jo, fill, **{part: "no, deep rust"})
    assert shop.exceptions(fill)[-1].kind == f"found-{part}"
    for by in (shop.jo, shop.mara):
        refused(shop, shop.plan(fill, by=by), fitness.LOOKS[part])
    looking.look(shop.station, shop.jo, fill, **{part: "yes, ground out and inspected"})
    assert shop.plan(fill).done


def test_a_look_found_bad_after_the_plan_stops_the_start(shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)
    looking.look(shop.station, shop.jo, fill, outside="no, cut")
    refused(shop, shop.start(fill), "external-look")


def test_looks_are_a_rule_if_the_station_says_so(shop: Shop) -> None:
    rule(shop, "look", "yes")
    rule(shop, "inside-look", "yes")
    fill = shop.request(have="0bar:air")
    refused(shop, shop.plan(fill), "external-look", ASK)
    looking.look(shop.station, shop.jo, fill, outside="yes", valve="yes", marking="yes")
    refused(shop, shop.plan(fill), "internal-look", ASK)
    looking.look(shop.station, shop.jo, fill, inside="yes, dry")
    assert shop.plan(fill).done


def test_ordinary_air_never_meets_oxygen_and_ends_oxygen_service(shop: Shop) -> None:
    assert not air(shop, "0.3mg/m3")["oxygen_compatible"]
    rich = shop.request()
    refused(shop, shop.plan(rich, by=shop.mara), "top-air")
    fill = shop.request(cylinder="C-1003", have="50bar:air", want="200bar:air")
    assert shop.plan(fill).done
    assert shop.start(fill, "C-1003").done
    told = shop.reading(fill, "200bar")
    assert "Oxygen service has ended" in told.text
    assert shop.last().data["why"] == "ordinary air was let in, 0.3 mg/m3 oil"
    air(shop)
    again = shop.request(cylinder="C-1003")
    assert gate(shop.plan(again), "oxygen-clean")[0] == STOP
    assert shop.exceptions(0)[-1].kind in ("no-longer-clean", "found-air-test")


def test_a_fill_elsewhere_ends_oxygen_service(shop: Shop) -> None:
    facts = {"cylinder": "C-1001", "customer": "Kai Diver", "have": "60bar:air",
             "residual": "stated", "want": "230bar:EAN32"}  # fmt: skip
    told = requesting.request(shop.station, shop.jo, **facts, filled_elsewhere="yes")
    assert "Oxygen service has ended" in told.text
    assert gate(shop.plan(told.fill), "oxygen-clean")[0] == STOP


def test_rich_gas_said_to_be_in_an_unclean_cylinder_asks_and_found_is_quarantined(
    shop: Shop,
) -> None:
    fill = shop.request(cylinder="C-1002", residual="label", want="200bar:air")
    answer = shop.plan(fill)
    assert gate(answer, "residual-rich")[0] == ASK
    assert shop.analyse(fill, "28.0", serial="C-1002").state == "quarantined"


def test_bad_air_stops_and_fresh_air_goes_on(shop: Shop) -> None:
    fill = shop.request()
    assert not measuring.read_co(shop.station, shop.jo, reading="6ppm")["ok"]
    refused(shop, shop.plan(fill, by=shop.mara), "carbon-monoxide")
    assert measuring.read_co(shop.station, shop.jo, reading="0.5 ppm", meter="CO-1")["ok"]
    assert shop.plan(fill).done
    air(shop, co2="900ppm")
    refused(shop, shop.start(fill), "air-test")


def test_new_oxygen_is_analysed_before_use(shop: Shop) -> None:
    rule(shop, "supply-analysis", "yes")
    bottle = {"gas": "oxygen", "size": "50L", "at": "180bar"}
    add_supply(shop.station, shop.mara, name="o1", **bottle)
    fill = shop.request()
    refused(shop, shop.plan(fill), "supply-gas", ASK)
    facts = {"analyser": "A1", "reading": "99.6"}
    assert measuring.analyse_supply(shop.station, shop.jo, "o1", **facts)["ok"]
    assert shop.plan(fill).done
    change_supply(shop.station, shop.jo, "o1", at="190bar")  # another bottle
    refused(shop, shop.start(fill), "supply-gas", ASK)
    facts["reading"] = "95.0"
    assert not measuring.analyse_supply(shop.station, shop.jo, "o1", **facts)["ok"]
    refused(shop, shop.start(fill, by=shop.mara), "supply-gas")


def test_a_gauge_reading_is_no_new_bottle(shop: Shop) -> None:
    bottle = {"gas": "oxygen", "size": "50L", "at": "180bar"}
    add_supply(shop.station, shop.mara, name="o1", **bottle)
    measuring.analyse_supply(shop.station, shop.jo, "o1", analyser="A1", reading="99.6")
    supplies.read_supply(shop.station, shop.jo, "o1", at="179bar")
    answer = shop.plan(shop.request())
    assert not next(g for g in answer.gates if g.gate == "supply-gas").caution


def test_an_analyser_that_drifted_is_set_afresh_first(shop: Shop) -> None:
    fill = shop.rested()
    found = measuring.check_analyser(shop.station, shop.jo, "A1", gas="oxygen", reading="97.0")
    assert not found["ok"]
    refused(shop, shop.analyse(fill, "32.0"), "drift")
    assert shop.analyse(fill, "32.0", analyser="A2").done


def test_qualified_for_another_method_asks_a_manager(shop: Shop) -> None:
    staff.qualify(shop.station, shop.mara, "Jo Blend", ["banked"], reason="card seen")
    fill = shop.request()
    refused(shop, shop.plan(fill), "qualified", ASK)
    staff.qualify(
        shop.station, shop.mara, "Jo Blend", ["banked", "partial-pressure"], reason="course done"
    )
    assert shop.plan(fill).done


def test_nobody_signs_as_the_customer_of_their_own_fill(shop: Shop) -> None:
    fill = shop.analysed()
    refused(shop, shop.accept(fill, "32.0", name="JO BLEND"), "two-parties")
    refused(shop, shop.accept(fill, "32.0", name="mara linde", by=shop.mara), "two-parties")
    rule(shop, "one-person", "yes")
    refused(shop, shop.accept(fill, "32.0", name="Jo Blend"), "two-parties", ASK)
    assert shop.accept(fill, "32.0", name="Jo Blend", by=shop.mara).done
    told = shop.exceptions(fill)[-1]
    assert told.kind == "allowed"
    assert "two-parties" in told.text


def test_a_manager_gives_leave_for_one_fill_with_a_reason(shop: Shop) -> None:
    fill, other = (shop.request(customer="Otto Luft") for _ in range(2))
    refused(shop, shop.plan(fill), "certification", ASK)
    looking.allow(shop.station, shop.mara, fill, gate="certification", reason="course dive")
    assert shop.plan(fill).done
    assert shop.start(fill).done
    kept = "certification: certified for air only, this is nitrox; allowed by Mara Linde: "
    assert shop.last().data["allowed"] == [f"{kept}course dive"]
    assert [row.kind for row in shop.exceptions(fill)].count("manager-allowed") == 1
    refused(shop, shop.plan(other), "certification", ASK)


def test_without_a_reason_that_is_said_or_refused(shop: Shop) -> None:
    fill = shop.request(customer="Otto Luft")
    assert shop.plan(fill, by=shop.mara).done
    assert shop.last().data["allowed"][0].endswith("; no reason given")
    rule(shop, "allow-reason", "yes")
    refused(shop, shop.start(fill, by=shop.mara), "certification")
    looking.allow(shop.station, shop.mara, fill, gate="certification", reason="course dive")
    assert shop.start(fill, by=shop.mara).done


def test_a_stop_cannot_be_allowed(shop: Shop) -> None:
    for name in ("periodic-test", "oxygen-clean", "identity", "order", "top-air"):
        assert name not in looking.ASKING
