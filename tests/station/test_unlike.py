"""What a request says against the record is told at once, whoever enters it."""

from __future__ import annotations

import pytest

from blender.station import requesting
from tests.station.shop import Shop

USUAL = {"cylinder": "C-1001", "customer": "Kai Diver", "want": "200bar:EAN32"}


@pytest.mark.parametrize("residual", ["label", "stated", "analysed"])
def test_another_gas_than_went_out_is_said_through_requests_nothing_came_of(
    shop: Shop, residual: str
) -> None:
    fill, anchor = shop.accepted()
    shop.collect(fill, anchor)
    shop.plan(shop.request())  # a request that was left standing says nothing of the gas
    have = {"have": "100bar:EAN50", "residual": residual}
    (mind,) = requesting.request(shop.station, shop.jo, **USUAL, **have).facts["minds"]
    assert f"(fill {fill})" in mind
    assert "O2 50.0 % is not the 32." in mind


@pytest.mark.parametrize("collects", [True, False])
def test_a_cylinder_still_in_the_shop_did_not_go_out(shop: Shop, collects: bool) -> None:
    fill, anchor = shop.accepted()
    if collects:
        shop.collect(fill, anchor)
    have = {"have": "100bar:EAN50", "residual": "label"}
    (mind,) = [
        one
        for one in requesting.request(shop.station, shop.jo, **USUAL, **have).facts["minds"]
        if "O2 50.0 %" in one
    ]
    assert ("went out on" in mind) is collects
    assert ("signed for, not collected yet, on" in mind) is not collects


def test_the_gas_of_its_own_label_is_no_contradiction(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    shop.collect(fill, anchor)
    have = {"have": "60bar:EAN32", "residual": "label"}
    assert requesting.request(shop.station, shop.jo, **USUAL, **have).facts["minds"] == []


def test_a_rich_gas_on_a_nitrox_card_is_said_at_the_request(shop: Shop) -> None:
    facts = {**USUAL, "want": "150bar:oxygen", "have": "0bar:air", "residual": "stated"}
    (mind,) = requesting.request(shop.station, shop.jo, **facts).facts["minds"]
    assert mind.startswith("certification: certified for nitrox; ")
