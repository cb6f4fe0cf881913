"""A cylinder in quarantine is not filled, signed for or handed over under another number."""

from __future__ import annotations

from blender.station import requesting
from blender.station.gates_asked import unchecked
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
