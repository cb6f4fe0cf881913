"""A cylinder in quarantine is not filled, signed for or handed over under another number."""

from __future__ import annotations

import pytest

from blender.station import equipment, filling, requesting
from blender.station.gates_asked import unchecked
from blender.station.lookup import known
from blender.station.panel import panel_fill
from tests.station.shop import Shop, gate


def test_no_other_fill_of_a_cylinder_in_quarantine_is_started(shop: Shop) -> None:
    first = shop.analysed()
    shop.quarantine(first, "smells of oil")
    second = shop.request()
    assert shop.plan(second).done
    refused = shop.start(second)
    assert not refused.done
    assert gate(refused, "quarantine") == (
        "stop",
        "C-1001 is in quarantine with fill 1: a manager releases it (`fill release 1`), "
        "or reject it",
    )
    assert "hand it over" not in f"{refused.text} {unchecked(refused.gates)}"
    shop.reject(first)
    assert shop.start(second).done


def test_nor_resumed_signed_for_or_handed_over(shop: Shop) -> None:
    held, analysed = shop.filling(), shop.analysed(cylinder="C-1003")
    signed = shop.accepted(cylinder="D-7")
    shop.hold(held)
    for serial in ("C-1001", "C-1003", "D-7"):
        shop.quarantine(shop.request(cylinder=serial))
    refused = [shop.resume(held, "60bar"), shop.accept(analysed, "31.8"), shop.collect(*signed)]
    assert [one.done for one in refused] == [False] * 3
    assert {gate(one, "quarantine")[0] for one in refused} == {"stop"}


def test_a_request_is_only_told(shop: Shop) -> None:
    shop.quarantine(shop.request())
    made = requesting.request(shop.station, shop.jo, cylinder="C-1001", customer="Kai Diver",
                              have="60bar@20C:EAN28", residual="analysed",
                              want="230bar:EAN32")  # fmt: skip
    assert made.done
    assert "C-1001 is in quarantine with fill 1" in made.text


def _apart(shop: Shop) -> None:
    """A set's posts are also in the record one by one, and one of them in another set."""
    for serial, size in (("T-1", "12L"), ("T-2", "12L"), ("T-2+T-3", "2x12L"), ("T-9", "12L")):
        equipment.add_cylinder(
            shop.station, shop.mara, serial=serial, size=size, wp="232bar", tp="348bar",
            tested="2025-03", inspected="2026-02", clean="yes",
        )  # fmt: skip


@pytest.mark.parametrize(
    ("bad", "other", "told"),
    [
        ("T-1+T-2", "T-1", "T-1 is a post of T-1+T-2"),
        ("T-1+T-2", "T-2", "T-2 is a post of T-1+T-2"),
        ("T-2", "T-1+T-2", "T-2 is a post of T-1+T-2"),
        ("T-1+T-2", "T-2+T-3", "T-2+T-3 and T-1+T-2 both have T-2"),
    ],
)
def test_a_set_and_its_posts_are_set_apart_together(
    shop: Shop, bad: str, other: str, told: str
) -> None:
    _apart(shop)
    shop.quarantine(shop.request(cylinder=bad))
    made = requesting.request(shop.station, shop.jo, cylinder=other, customer="Kai Diver",
                              have="60bar@20C:EAN28", residual="analysed",
                              want="230bar:EAN32")  # fmt: skip
    assert f"{bad} is in quarantine with fill 1" in made.text
    assert shop.plan(made.fill).done
    refused = shop.start(made.fill, other, isolator="open")
    answer, why = gate(refused, "quarantine")
    assert answer == "stop"
    assert f"{bad} is in quarantine with fill 1" in why
    assert told in why
    assert told in known(shop.station.record, other, shop.clock())["due"][0]["text"]
    assert told in panel_fill(shop.station.record, made.fill).warnings[0]
    assert shop.release(1).done
    assert shop.start(made.fill, other, isolator="open").done


def test_a_cylinder_that_only_looks_like_a_post_is_none(shop: Shop) -> None:
    _apart(shop)
    shop.quarantine(shop.request(cylinder="T-1+T-2"))
    fill = shop.request(cylinder="T-9")
    assert shop.plan(fill).done
    assert shop.start(fill, "T-9").done


def test_gas_in_one_post_stops_the_set_at_the_panel_and_is_told_to_a_script(shop: Shop) -> None:
    _apart(shop)
    assert shop.start(_planned(shop, "T-1"), "T-1").done
    fill = _planned(shop, "T-1+T-2")
    refused = filling.start(
        shop.station, shop.jo, fill, serial="T-1+T-2", isolator="open", at_hand=True
    )
    assert gate(refused, "one-fill") == (
        "stop",
        "of this cylinder fill 1 is filling as T-1: hand it over or reject it first, so that no "
        "label speaks of other gas than is in it",
    )
    done = shop.start(fill, "T-1+T-2", isolator="open")
    assert done.done
    assert "fill 1 is filling as T-1" in " ".join(one.reason for one in done.gates if one.caution)


def _planned(shop: Shop, serial: str) -> int:
    fill = shop.request(cylinder=serial)
    assert shop.plan(fill).done
    return fill
