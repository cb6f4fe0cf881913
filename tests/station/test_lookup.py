"""The counter finds who and what is meant, and is told what check-in must know."""

from __future__ import annotations

import time

import pytest
from sqlalchemy import insert

from blender.errors import InputError
from blender.gas import parse_gas
from blender.record import search
from blender.record.models import CylinderRow, FillRow, PersonRow
from blender.record.projection import table
from blender.station import equipment, lookup, people
from blender.station.planning import analysed_mix
from tests.station.shop import Shop


def found(shop: Shop, text: str, limit: int = 30) -> list[tuple[str, object]]:
    return [(f["kind"], f["key"]) for f in lookup.find(shop.station.record, text, limit)]


def cylinder(shop: Shop, serial: str, **facts: str) -> None:
    usual = {"size": "12L", "wp": "232bar", "tp": "348bar", "tested": "2025-03",
             "inspected": "2026-02", "clean": "yes"}  # fmt: skip
    equipment.add_cylinder(shop.station, shop.jo, serial=serial, **(usual | facts))


def known(shop: Shop, serial: str) -> dict:
    return lookup.known(shop.station.record, serial, shop.clock())


def test_an_exact_serial_comes_first_and_a_post_finds_its_set(shop: Shop) -> None:
    cylinder(shop, "XC-1001")
    cylinder(shop, "C-10010")
    assert found(shop, "C-1001") == [
        ("cylinder", "C-1001"), ("cylinder", "C-10010"), ("cylinder", "XC-1001")]  # fmt: skip
    assert found(shop, "c-1001")[0] == ("cylinder", "C-1001")
    cylinder(shop, "AT-2")
    for post in ("T-1", "T-2", "t-2"):
        assert found(shop, post)[0] == ("cylinder", "T-1+T-2")
    assert found(shop, "t-1+t-2") == [("cylinder", "T-1+T-2")]


def test_any_part_of_a_name_in_any_script(shop: Shop) -> None:
    added = people.add_person(shop.station, shop.jo, name="Ελένη ŁUCJA", role="customer")
    assert found(shop, "λένη") == found(shop, "ΛΈΝΗ") == [("customer", added["person"])]
    assert found(shop, "łucja") == [("customer", added["person"])]
    assert [kind for kind, _ in found(shop, "DIVER")] == ["customer"]
    assert found(shop, added["person"].lower()) == [("customer", added["person"])]
    assert found(shop, "Jo Blend") == []  # staff are nobody's customer


@pytest.mark.parametrize("text", ["%", "_", "\\", "C_1001", "C%1", "' or 1=1 --", "", "  ", "\x00"])
def test_wildcards_mean_themselves(shop: Shop, text: str) -> None:
    assert found(shop, text) == []


def test_an_underscore_is_found_as_one(shop: Shop) -> None:
    cylinder(shop, "A_B")
    cylinder(shop, "AXB")
    assert found(shop, "a_b") == [("cylinder", "A_B")]
    assert known(shop, "A_B")["serial"] == "A_B"


def test_neither_kind_crowds_out_the_other(shop: Shop) -> None:
    for number in range(12):
        cylinder(shop, f"KAI-{number}")
    kinds = [kind for kind, _ in found(shop, "kai", 6)]
    assert kinds == ["cylinder"] * 5 + ["customer"]
    assert len(found(shop, "kai", 1)) == 1


def test_a_label_finds_its_fill_and_a_foreign_one_is_named(shop: Shop) -> None:
    fill, label = shop.accepted()
    assert found(shop, f"  {label} ") == [("fill", fill), ("cylinder", "C-1001")]
    assert found(shop, label[:40]) == []
    words = label.split()
    flipped = ("B" if words[4][0] == "A" else "A") + words[4][1:]
    for bad in ([*words[:4], flipped], [words[0], "ELSEWHERE", *words[2:]],
                [*words[:3], "999999", words[4]], [*words[:2], "2", *words[3:]]):  # fmt: skip
        with pytest.raises(InputError):
            lookup.find(shop.station.record, " ".join(bad))


def test_check_in_of_a_cylinder_never_seen_and_one_collected(shop: Shop) -> None:
    new = known(shop, "C-1001")
    assert (new["customer"], new["last_fill"], new["same_again"]) == (None, None, None)
    assert (new["open_fills"], new["residual"], new["due"]) == ([], None, [])
    fill, label = shop.accepted()
    waiting = known(shop, "C-1001")
    assert waiting["residual"] is None  # it stands in the shop still
    assert (waiting["open_fills"], waiting["same_again"]) == ([fill], "230bar:EAN32")
    shop.collect(fill, label)
    back = known(shop, "C-1001")
    assert back["residual"] == {"gas": "EAN32.1", "source": "label"}
    assert back["customer"]["name"] == "Kai Diver"
    last = back["last_fill"]
    assert (last["fill"], last["date"], last["state"]) == (fill, "2026-11-25", "collected")
    assert (last["want"], last["he"], last["pressure_bar"]) == ("230bar:EAN32", None, 230.0)
    assert last["o2"] == pytest.approx(0.321, abs=5e-4)
    shop.amend(fill, "reading", "32.5", "misread")
    amended = {"gas": "EAN32.5", "source": "label", "label_says": "EAN32.1"}
    assert known(shop, "C-1001")["residual"] == amended  # the label was not printed anew
    shop.reject(shop.request(want="200bar:EAN36"))
    again = known(shop, "C-1001")
    assert again["same_again"] == "230bar:EAN32"
    assert again["last_fill"]["state"] == "rejected"
    assert again["residual"] is None  # it was drained since


def test_what_is_due_is_said_before_it_is(shop: Shop) -> None:
    cylinder(shop, "OLD-1", tested="2021-10", inspected="2025-10", clean="no")
    cylinder(shop, "SOON-1", tested="2021-12", inspected="2025-12")
    old = {one["what"]: one for one in known(shop, "OLD-1")["due"]}
    assert {what: one["answer"] for what, one in old.items()} == {
        "periodic-test": "stop", "visual-inspection": "ask", "oxygen-clean": "stop"}  # fmt: skip
    assert old["periodic-test"]["days"] == -25  # good until 31 October, today is 25 November
    soon = {one["what"]: (one["answer"], one["days"]) for one in known(shop, "SOON-1")["due"]}
    assert soon == {"periodic-test": ("pass", 36), "visual-inspection": ("pass", 36)}


def test_a_post_is_known_as_its_set(shop: Shop) -> None:
    assert known(shop, "T-2")["serial"] == "T-1+T-2"
    assert known(shop, " T-1+T-2 ")["posts"] == 2
    for bad in ("T-", "T", "", "%", "t-2+t-1"):
        with pytest.raises(InputError, match="no such serial"):
            known(shop, bad)


def test_the_card_of_a_customer(shop: Shop) -> None:
    (kai,) = [key for _, key in found(shop, "Kai Diver")]
    fill, _ = shop.accepted()
    other = shop.request(cylinder="D-7")
    shop.request(cylinder="C-1003", customer="Lena Tief")
    card = lookup.customer_card(shop.station.record, str(kai))
    assert (card["name"], card["certified"]) == ("Kai Diver", "nitrox")
    assert card["cylinders"] == ["D-7", "C-1001"]
    assert [(row["fill"], row["gas"]) for row in card["fills"]] == [
        (other, "EAN32"), (fill, "EAN32")]  # fmt: skip
    for nobody in (shop.jo.person, "P-NOBODY"):
        with pytest.raises(InputError):
            lookup.customer_card(shop.station.record, nobody)


@pytest.mark.parametrize("want", ["230bar:18/45", "230bar:oxygen", "230bar:EAN32", "230bar:air"])
def test_a_suggested_residual_is_read_back_as_it_was_analysed(want: str) -> None:
    for o2 in (0, 4_000, 9_960, 10_400, 100_000, 209_500, 321_000, 996_000):
        for he in (-1, 0, 400, 600, 8_000, 9_960, 10_400, 450_000, 900_000):
            if o2 + he > 1_000_000 or (o2 < 10_500 and he < 10_500):
                continue  # nobody hands out a gas that is all nitrogen
            fill = FillRow(o2_ppm=o2, he_ppm=he, want_typed=want)
            gas = parse_gas(lookup._as_typed(fill, analysed_mix(fill)))
            assert gas.o2 == pytest.approx(o2 / 1e6, abs=6e-4), (o2, he)
            assert gas.he == pytest.approx(max(he, 0) / 1e6, abs=6e-4), (o2, he)


def test_quick_where_there_is_much_and_fills_are_reached_by_index(shop: Shop) -> None:
    record = shop.station.record
    fill = shop.request()
    with record.read() as conn:
        one = shop.row(fill).model_dump()
        bottle = search.cylinder_of(conn, "C-1001").model_dump()
        kai = search.customers_like(conn, "Kai", 1)[0].model_dump()
    with record._engine.begin() as conn:
        conn.execute(insert(table(CylinderRow)), [
            {**bottle, "serial": f"S-{n:06}"} for n in range(20_000)])  # fmt: skip
        conn.execute(insert(table(PersonRow)), [
            {**kai, "person": f"P-{n:06}", "name": f"Diver {n:06}"} for n in range(10_000)
        ])  # fmt: skip
        conn.execute(insert(table(FillRow)), [
            {**one, "fill": n + 10, "state": "collected", "serial": f"S-{n % 20_000:06}",
             "customer": f"P-{n % 10_000:06}"} for n in range(60_000)])  # fmt: skip
    start = time.process_time()
    assert found(shop, "S-019999") == [("cylinder", "S-019999")]
    assert len(found(shop, "0")) == 30
    assert known(shop, "S-019999")["last_fill"]["fill"] == 60_009
    assert len(lookup.customer_card(record, "P-000007")["fills"]) == 6
    assert time.process_time() - start < 1.5
    with record.read() as conn:
        for column in ("serial", "customer"):
            query = f"SELECT * FROM fill WHERE {column} = 'x' ORDER BY fill DESC LIMIT 50"
            plan = conn.exec_driver_sql(f"EXPLAIN QUERY PLAN {query}").all()
            assert all("SEARCH" in row.detail for row in plan), plan
