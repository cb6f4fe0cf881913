"""Working pressure counts at the rule set's reference temperature.

Numbers: EAN32, constant amount, GERG-2008 (pyaga8 0.1.18).
"""

from __future__ import annotations

import pytest

from tests.station.shop import Shop, gate


@pytest.mark.parametrize(
    ("want", "settle_at", "allowed"),
    [
        ("232bar:EAN32", "5C", False),  # 245.179 bar at 15 degC
        ("232bar:EAN32", "15C", True),
        ("238.148bar:EAN32", "20C", True),  # 232.000 bar at 15 degC
        ("238.3bar:EAN32", "20C", False),
        ("219.676bar:EAN32", "5C", True),
        ("219.9bar:EAN32", "5C", False),
    ],
)
def test_the_limit_counts_at_15_degrees(
    shop: Shop, want: str, settle_at: str, allowed: bool
) -> None:
    fill = shop.request(want=want)
    answer = shop.plan(fill, settle_at=settle_at)
    assert answer.done is allowed
    assert gate(answer, "working-pressure")[0] == ("pass" if allowed else "stop")
    assert shop.row(fill).state == ("planned" if allowed else "requested")


def test_the_cold_shed_says_why(shop: Shop) -> None:
    fill = shop.request(want="232bar:EAN32")
    answer = shop.plan(fill, settle_at="5C")
    assert "245.2 bar at 15 degC" in gate(answer, "working-pressure")[1]
    assert "232.0 bar" in gate(answer, "working-pressure")[1]


def test_nobody_may_allow_it(shop: Shop) -> None:
    fill = shop.request(want="232bar:EAN32")
    assert not shop.plan(fill, by=shop.mara, settle_at="5C").done


def test_read_in_the_shed_it_is_not_handed_out(shop: Shop) -> None:
    fill = shop.rested()
    shop.reading(fill, "232bar", "5C")
    shop.analyse(fill, "32.0")
    refused = shop.accept(fill, "32.0")
    assert gate(refused, "working-pressure")[0] == "stop"
    assert shop.row(fill).state == "analysed"
