"""Every gate lets the right thing through, stops the wrong one, and the record says so."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from blender.gas import AIR, OXYGEN, parse_gas
from blender.station import equipment, gates
from blender.station.answer import Answer
from blender.station.gates import ASK, PASS, STOP, Gate
from blender.station.gates_asked import unchecked
from blender.station.rules import Rules
from tests.station.shop import Shop, gate

RULES, TEN = Rules(), Rules(rest_minutes=10)
EAN36, EAN22, TRIMIX = parse_gas("EAN36"), parse_gas("0.22/0"), parse_gas("18/45")


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        (gates.order("start", "planned"), PASS),
        (gates.order("start", "requested"), STOP),
        (gates.identity("C-1", " C-1 "), PASS),
        (gates.identity("C-1", "C-2"), STOP),
        (gates.identity("C-1", "c-1"), STOP),
        (gates.identity("C-1", ""), STOP),
        (gates.post_identity("A+B", "B"), PASS),
        (gates.post_identity("A+B", "A+B"), PASS),
        (gates.post_identity("A+B", "C"), STOP),
        (gates.periodic_test("2021-11", (2026, 11), RULES), PASS),
        (gates.periodic_test("2021-11", (2026, 12), RULES), STOP),
        (gates.periodic_test("2026-12", (2026, 11), RULES), STOP),
        (gates.inspection("2025-11", (2026, 11), RULES), PASS),
        (gates.inspection("2025-10", (2026, 11), RULES), ASK),
        (gates.inspection("2026-12", (2026, 11), RULES), STOP),
        (gates.working_pressure(232.05, 232.0, RULES), PASS),
        (gates.working_pressure(232.06, 232.0, RULES), STOP),
        (gates.developed_pressure(348.0, 348.0, RULES), PASS),
        (gates.developed_pressure(348.01, 348.0, RULES), STOP),
        (gates.oxygen_clean(False, [AIR, EAN22], RULES), PASS),
        (gates.oxygen_clean(False, [], RULES), PASS),
        (gates.oxygen_clean(True, [OXYGEN], RULES), PASS),
        (gates.oxygen_clean(False, [AIR, parse_gas("0.2201/0")], RULES), STOP),
        (gates.residual("analysed", 60.0, [OXYGEN], RULES), PASS),
        (gates.residual("stated", 60.0, [AIR], RULES), PASS),
        (gates.residual("unknown", 0.9, [OXYGEN], RULES), PASS),
        (gates.residual("unknown", 1.0, [OXYGEN], RULES), STOP),
        (gates.residual("label", 60.0, [EAN36], RULES), STOP),
        (gates.mixed_before_drain(drains=True, unmixed=False), PASS),
        (gates.mixed_before_drain(drains=False, unmixed=True), PASS),
        (gates.mixed_before_drain(drains=True, unmixed=True), STOP),
        (gates.helium_measured(False, False), PASS),
        (gates.helium_measured(True, True), PASS),
        (gates.helium_measured(True, False), STOP),
        (gates.certification("nitrox", EAN36), PASS),
        (gates.certification("", TRIMIX), PASS),
        (gates.certification("trimix", TRIMIX), PASS),
        (gates.certification("air", AIR), PASS),
        (gates.certification("air", EAN36), ASK),
        (gates.certification("nitrox", TRIMIX), ASK),
        (gates.leak(81.58, 79.09, 0.03, RULES), PASS),
        (gates.leak(81.58, 79.07, 0.03, RULES), STOP),
        (gates.leak(81.58, 84.2, -0.03, RULES), STOP),
        (gates.calibrated("A1", 24.0, RULES), PASS),
        (gates.calibrated("A1", 24.1, RULES), ASK),
        (gates.calibrated("A1", None, RULES), STOP),
        (gates.in_use("A1", ""), PASS),
        (gates.in_use("A1", "cell is dead"), STOP),
        (gates.rested(0.0, RULES, ""), PASS),
        (gates.rested(10.0, TEN, ""), PASS),
        (gates.rested(9.9, TEN, ""), STOP),
        (gates.rested(9.9, TEN, "cold water"), ASK),
        (gates.rested(-3.0, TEN, ""), STOP),
        (gates.fresh_meter("A1", stale=False), PASS),
        (gates.fresh_meter("A1", stale=True), STOP),
        (gates.found_rich(True, EAN36, RULES), PASS),
        (gates.found_rich(False, EAN22, RULES), PASS),
        (gates.found_rich(False, EAN36, RULES), STOP),
        (gates.isolator(1, "closed"), PASS),
        (gates.isolator(2, "open"), PASS),
        (gates.isolator(2, "closed"), STOP),
        (gates.both_posts("A", ["A"], None), PASS),
        (gates.both_posts("A+B", ["A", "B"], 0.5), PASS),
        (gates.both_posts("A+B", ["A", "A"], 0.0), STOP),
        (gates.both_posts("A+B", ["A+B"], 0.0), STOP),
        (gates.both_posts("A+B", ["A+B", "A+B"], 0.0), PASS),
        (gates.both_posts("A+B", ["A", "B"], 0.6), STOP),
        (gates.decision("accept", ""), PASS),
        (gates.decision("relabel", ""), PASS),
        (gates.decision("reject", "hypoxic"), STOP),
        (gates.decision("recheck", ""), STOP),
    ],
)
def test_each_gate(asked: Gate, answer: str) -> None:
    assert asked.answer == answer
    assert len(asked.reason) > 5


def test_only_a_manager_passes_where_the_gate_asks() -> None:
    ask, stop = Gate("x", ASK, "why"), Gate("y", STOP, "why")
    assert not gates.refuses([ask], "manager")
    for role in ("blender", "auditor", "customer", ""):
        assert gates.refuses([ask], role)
    assert gates.refuses([ask, stop], "manager")
    assert not gates.refuses([Gate("z", PASS, "")], "blender")


def _add(shop: Shop, **facts: str) -> None:
    usual = {
        "serial": "X-1",
        "size": "12L",
        "wp": "232bar",
        "tp": "348bar",
        "tested": "2025-03",
        "inspected": "2026-02",
        "clean": "yes",
    }
    equipment.add_cylinder(shop.station, shop.mara, **(usual | facts))


def _plan_of(**stamps: str) -> Callable[[Shop], tuple[Answer, str]]:
    def run(shop: Shop) -> tuple[Answer, str]:
        _add(shop, **stamps)
        return shop.plan(shop.request(cylinder="X-1")), "requested"

    return run


def _stale_before_start(shop: Shop) -> tuple[Answer, str]:
    """In date when planned, out of date when the gas is to go in."""
    _add(shop, tested="2021-11")
    fill = shop.request(cylinder="X-1")
    assert shop.plan(fill).done
    shop.clock.turn(60 * 24 * 8)  # into December
    return shop.start(fill, "X-1"), "planned"


def _no_longer_clean(shop: Shop) -> tuple[Answer, str]:
    _add(shop)
    fill = shop.request(cylinder="X-1")
    assert shop.plan(fill).done
    equipment.change_cylinder(shop.station, shop.jo, serial="X-1", clean="no")
    return shop.start(fill, "X-1"), "planned"


@pytest.mark.parametrize(
    ("name", "act"),
    [
        ("periodic-test", _plan_of(tested="2021-10")),
        ("periodic-test", _plan_of(tested="2027-01")),
        ("periodic-test", _stale_before_start),
        ("visual-inspection", _plan_of(inspected="2025-10")),
        ("visual-inspection", _plan_of(inspected="2027-01")),
        ("oxygen-clean", _plan_of(clean="no")),
        ("oxygen-clean", _no_longer_clean),
        ("working-pressure", _plan_of(wp="200bar", tp="300bar")),
        ("developed-pressure", _plan_of(tp="260bar")),
    ],
)
def test_the_refusal_is_in_the_record(
    shop: Shop, name: str, act: Callable[[Shop], tuple[Answer, str]]
) -> None:
    refused, state = act(shop)
    assert not refused.done
    assert refused.state == state == shop.row(refused.fill).state
    assert gate(refused, name)[0] in (ASK, STOP)
    entry = shop.last()
    assert entry.kind == "fill.refused"
    assert [g.as_dict() for g in refused.gates] == entry.data["gates"]
    assert (entry.sig or {})["name"] == "Jo Blend"
    (row,) = shop.exceptions(refused.fill)
    assert (row.kind, row.seq) == ("refused", entry.seq)
    assert name in row.text
    assert name in refused.text


def test_a_manager_may_allow_what_is_asked_and_the_record_keeps_it(shop: Shop) -> None:
    _add(shop, inspected="2025-10")
    fill = shop.request(cylinder="X-1")
    assert not shop.plan(fill).done
    assert shop.plan(fill, by=shop.mara).done
    (told,) = shop.last().data["allowed"]
    assert told.startswith("visual-inspection: inspected 2025-10")
    kinds = [(row.kind, row.person == shop.mara.person) for row in shop.exceptions(fill)]
    assert kinds == [("refused", False), ("allowed", True)]


def test_a_manager_may_not_allow_a_stop(shop: Shop) -> None:
    _add(shop, tested="2021-10", inspected="2025-10")
    fill = shop.request(cylinder="X-1")
    refused = shop.plan(fill, by=shop.mara)
    assert not refused.done
    assert "allowed" not in shop.last().data


def test_what_was_allowed_once_is_asked_again(shop: Shop) -> None:
    _add(shop, inspected="2025-10")
    fill = shop.request(cylinder="X-1")
    shop.plan(fill, by=shop.mara)
    assert not shop.start(fill, "X-1").done
    assert shop.start(fill, "X-1", by=shop.mara).done


def test_certification_is_asked_of_the_gas_analysed(shop: Shop) -> None:
    fill = shop.request(customer="Otto Luft", have="60bar@20C:air", want="200bar:air")
    assert shop.plan(fill).done
    shop.start(fill)
    shop.reading(fill, "200bar")
    shop.analyse(fill, "20.9")
    assert shop.accept(fill, "21.0", name="Otto Luft").done
    fill = shop.request(customer="Otto Luft")
    assert gate(shop.plan(fill), "certification")[0] == ASK


def test_nasty_scans_are_kept_spelled_out(shop: Shop) -> None:
    fill = shop.request()
    shop.plan(fill)
    for nasty in ("\x1b[2J", "\u202e1001-C", "é", "[/]", "=1+1", "x" * 5000, "\ud800"):
        refused = shop.start(fill, nasty)
        assert gate(refused, "identity")[0] == STOP
        told = gate(refused, "identity")[1]
        assert told.isprintable()
        assert len(told) < 400
        assert shop.exceptions(fill)[-1].text.isprintable()


def test_a_missing_diving_card_is_told_wherever_nitrox_is_planned(shop: Shop) -> None:
    told = shop.plan(shop.request(customer="Uma Neu"))
    (gate,) = [one for one in told.gates if one.gate == "certification"]
    assert gate.caution
    assert "no diving card is on record" in unchecked(told.gates)
    air = shop.plan(shop.request(customer="Uma Neu", cylinder="C-1003", want="200bar:air",
                                 have="60bar@20C:air"))  # fmt: skip
    assert [one.caution for one in air.gates if one.gate == "certification"] == [False]
