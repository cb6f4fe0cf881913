"""Cylinders opened together: alike, known and wanted the same, or not at all."""

from __future__ import annotations

from itertools import permutations

import pytest

from blender.errors import InputError, RefusedError
from blender.gas import parse_gas
from blender.station import equipment
from blender.station.gates import Gate
from blender.station.manifold import check_together, start_together
from blender.vessel import contents_at, joined
from tests.station.shop import Shop, gate

CYLINDERS = ("C-1001", "C-1003", "D-7")


def asked(
    shop: Shop, *have: str, residual: str = "analysed", want: str = "200bar:EAN32"
) -> list[int]:
    """Ask for one fill a cylinder, with what is left in each."""
    return [
        shop.request(cylinder=serial, have=left, residual=residual, want=want)
        for serial, left in zip(CYLINDERS, have, strict=False)
    ]


def planned(shop: Shop, *have: str) -> list[int]:
    fills = asked(shop, *have)
    for fill in fills:
        assert shop.plan(fill).done
    return fills


def answers(gates: list[Gate]) -> dict[str, str]:
    return {gate.gate: gate.answer for gate in gates}


def reason(gates: list[Gate], name: str) -> str:
    return next(gate.reason for gate in gates if gate.gate == name)


def test_alike_cylinders_pass_and_nothing_is_entered(shop: Shop) -> None:
    fills = asked(shop, "50bar@20C:EAN32", "50.5bar@20C:EAN32", "50bar@20C:EAN32")
    before = shop.seq()
    gates = check_together(shop.station.record, fills)
    assert answers(gates) == dict.fromkeys(
        ("known-contents", "same-wanted", "same-mix", "same-pressure"), "pass"
    )
    assert shop.seq() == before


def test_unlike_mixes_stop_and_say_what_would_be_in_them(shop: Shop) -> None:
    gates = check_together(shop.station.record, asked(shop, "60bar@20C:EAN28", "100bar@20C:EAN50"))
    assert answers(gates)["same-mix"] == "stop"
    # 80.045 bar, 33.497 % and 50.000 %: worked out beforehand, independently.
    said = reason(gates, "same-mix").partition("opened together")[2]
    assert "level to 80.0 bar" in said
    assert "C-1001 O2 33.5 %, C-1003 O2 50.0 %" in said


@pytest.mark.parametrize(
    ("second", "answer"), [("EAN32.5", "pass"), ("EAN32.6", "stop"), ("0.32/0.005", "pass"),
                           ("32/1", "stop")]
)  # fmt: skip
def test_half_a_point_is_alike(shop: Shop, second: str, answer: str) -> None:
    fills = asked(shop, "50bar@20C:EAN32", f"50bar@20C:{second}")
    assert answers(check_together(shop.station.record, fills))["same-mix"] == answer


def test_pressures_apart_stop_and_say_where_levelling_leads(shop: Shop) -> None:
    fills = asked(shop, "60bar@20C:EAN32", "100bar@20C:EAN32")
    gates = check_together(shop.station.record, fills)
    assert answers(gates)["same-pressure"] == "stop"
    said = reason(gates, "same-pressure")
    parts = [contents_at(parse_gas("EAN32"), at, 20.0, 0.012) for at in (60.0, 100.0)]
    assert f"until all show {joined(*parts).gauge_bar(20.0):.1f} bar" in said
    close = asked(shop, "60bar@20C:EAN32", "61bar@20C:EAN32")
    assert answers(check_together(shop.station.record, close))["same-pressure"] == "pass"


@pytest.mark.parametrize("how", ["label", "stated", "unknown"])
def test_what_was_never_analysed_stops(shop: Shop, how: str) -> None:
    fills = asked(shop, "50bar@20C:EAN32", "50bar@20C:EAN32", residual=how)
    gates = check_together(shop.station.record, fills)
    assert answers(gates)["known-contents"] == "stop"
    assert how in reason(gates, "known-contents")
    for fill, serial in zip(fills, CYLINDERS, strict=False):
        shop.analyse(fill, "32.0", serial=serial)
    assert answers(check_together(shop.station.record, fills))["known-contents"] == "pass"


def test_different_wishes_stop(shop: Shop) -> None:
    one = shop.request(cylinder="C-1001", want="200bar:EAN32")
    other = shop.request(cylinder="C-1003", want="200bar:EAN36")
    higher = shop.request(cylinder="D-7", want="230bar:EAN32")
    assert answers(check_together(shop.station.record, [one, other]))["same-wanted"] == "stop"
    gates = check_together(shop.station.record, [one, higher])
    assert answers(gates)["same-wanted"] == "pass"
    assert "close each at its own" in reason(gates, "same-wanted")


def test_the_answer_does_not_hang_on_the_order(shop: Shop) -> None:
    fills = asked(shop, "60bar@20C:EAN28", "100bar@20C:EAN50", "80bar@20C:18/45")
    told = [check_together(shop.station.record, order) for order in permutations(fills)]
    assert all(gates == told[0] for gates in told)


def test_one_alone_twice_or_unknown_is_bad_input(shop: Shop) -> None:
    one, other = shop.request(), shop.request()
    for numbers in ([], [one], [one, one], [one, 999], [one, other]):  # the last: one cylinder
        with pytest.raises(InputError):
            check_together(shop.station.record, numbers)


def test_all_are_started_whatever_order_they_were_scanned_in(shop: Shop) -> None:
    fills = planned(shop, "50bar@20C:EAN28", "50.6bar@20C:EAN28")
    told = start_together(shop.station, shop.jo, fills[::-1], ["C-1001", "C-1003"])
    assert [(answer.fill, answer.state, answer.done) for answer in told] == [
        (fill, "filling", True) for fill in fills[::-1]
    ]
    assert {shop.row(fill).state for fill in fills} == {"filling"}


def test_unlike_cylinders_are_refused_each_by_an_entry(shop: Shop) -> None:
    fills = planned(shop, "60bar@20C:EAN28", "100bar@20C:EAN30")
    before = shop.seq()
    told = start_together(shop.station, shop.jo, fills, ["C-1001", "C-1003"])
    assert [(answer.done, answer.state) for answer in told] == [(False, "planned")] * 2
    assert all("same-mix" in answer.text for answer in told)
    assert [entry.kind for entry in shop.entries()][before:] == ["fill.refused"] * 2
    assert [shop.row(fill).state for fill in fills] == ["planned"] * 2


@pytest.mark.parametrize("by", ["jo", "mara"])
def test_one_that_may_not_be_started_keeps_all_from_it(shop: Shop, by: str) -> None:
    fills = planned(shop, "50bar@20C:EAN28", "50bar@20C:EAN28")
    told = start_together(shop.station, getattr(shop, by), fills, ["C-9999", "C-1001"])
    assert [answer.done for answer in told] == [False, False]
    assert "C-9999" in told[1].text
    assert f"fill {fills[1]}, which was refused" in told[0].text
    assert [shop.row(fill).state for fill in fills] == ["planned"] * 2
    assert all(shop.exceptions(fill)[-1].kind == "refused" for fill in fills)


def test_fewer_serials_than_cylinders_is_bad_input(shop: Shop) -> None:
    fills = planned(shop, "50bar@20C:EAN28", "50bar@20C:EAN28")
    with pytest.raises(InputError, match="--serial"):
        start_together(shop.station, shop.jo, fills, ["C-1001"])


def test_only_who_may_start_one_may_start_several(shop: Shop) -> None:
    fills = planned(shop, "50bar@20C:EAN28", "50bar@20C:EAN28")
    with pytest.raises(RefusedError):
        start_together(shop.station, shop.ada, fills, ["C-1001", "C-1003"])


def test_levelling_never_takes_a_cylinder_beyond_its_rating(shop: Shop) -> None:
    equipment.add_cylinder(
        shop.station, shop.mara, serial="L-1", size="12L", wp="100bar", tp="150bar",
        tested="2025-03", inspected="2026-02", clean="yes",
    )  # fmt: skip
    low = shop.request(cylinder="L-1", have="60bar@20C:EAN32", want="90bar:EAN32")
    full = shop.request(cylinder="C-1001", have="200bar@20C:EAN32", want="220bar:EAN32")
    assert all(shop.plan(fill).done for fill in (low, full))
    told = start_together(shop.station, shop.jo, [low, full], ["L-1", "C-1001"])
    assert [answer.done for answer in told] == [False, False]
    assert gate(told[0], "working-pressure")[0] == "stop"
    assert gate(told[1], "working-pressure")[0] == "pass"
