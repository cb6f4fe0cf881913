"""The fill log by cylinder, customer or blender: exactly those fills, and it says which."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.station.export import log_view
from tests.station.shop import Shop


def _chosen(shop: Shop, first: str = "", last: str = "", **of: str) -> tuple[list[int], str]:
    view = log_view(shop.station.record, first, last, shop.clock(), **of)
    return [line.fill for line in view.lines], view.selection


def test_a_choice_has_exactly_the_fills_that_fit(shop: Shop) -> None:
    fill, _ = shop.accepted()
    asked = shop.request(cylinder="D-7")
    assert _chosen(shop) == ([fill, asked], "")
    serial = log_view(shop.station.record, "", "", shop.clock()).lines[0].cylinder
    assert _chosen(shop, cylinder=serial) == ([fill], f"of cylinder {serial}")
    assert _chosen(shop, cylinder="D-7") == ([asked], "of cylinder D-7")
    assert _chosen(shop, blender="Jo Blend") == ([fill], "by Jo Blend")
    assert _chosen(shop, "2026-11-26", "2026-11-27", cylinder="D-7")[0] == []


@pytest.mark.parametrize(
    "of", [{"cylinder": "no such"}, {"customer": "Nobody"}, {"blender": "Nobody"}]
)
def test_who_or_what_is_not_there_is_said(shop: Shop, of: dict[str, str]) -> None:
    with pytest.raises(InputError, match=next(iter(of))):
        _chosen(shop, **of)
