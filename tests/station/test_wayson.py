"""The ways on of a fill, from what the record says is in it and within what its stamps allow."""

from __future__ import annotations

import pytest

from blender.errors import InputError, RefusedError
from blender.planning.options import Options
from blender.station import planning
from blender.station.wayson import ways_on
from tests.station.shop import Shop


def test_an_overshoot_of_oxygen(shop: Shop) -> None:
    """Numbers worked out beforehand in pyaga8 (GERG-2008): 34.794 % by topping, bleed to 73.163."""
    fill = shop.filling()
    shop.reading(fill, "92bar")
    before = shop.seq()
    found = ways_on(shop.station.record, fill)
    assert shop.seq() == before
    assert found[0].kind == "bleed"
    assert "73.2 bar" in found[0].text
    assert any("34.79% O2" in way.text for way in found)
    assert all("306" not in way.text for way in found)  # filling on would burst the rating


def test_a_chosen_way_is_planned_and_a_bleed_waits_for_its_analysis(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "92bar")
    ways = {way.kind: way for way in ways_on(shop.station.record, fill)}
    assert not planning.plan(shop.station, shop.jo, fill, ways["bleed"].options).done
    top = planning.plan(shop.station, shop.jo, fill, ways["top"].options)
    assert top.done
    assert shop.reading(fill, "230bar").state == "resting"


def test_after_an_analysis_off_target(shop: Shop) -> None:
    fill = shop.rested(want="228bar:EAN32")
    shop.analyse(fill, "33.6")
    found = ways_on(shop.station.record, fill)
    assert "leave" not in {way.kind for way in found}
    assert found[0].drains
    made = planning.plan(shop.station, shop.jo, fill, found[0].options)
    assert made.state == "correcting"


def test_what_is_not_open_has_no_ways(shop: Shop) -> None:
    with pytest.raises(RefusedError, match="requested"):
        ways_on(shop.station.record, shop.request())
    with pytest.raises(InputError):
        ways_on(shop.station.record, 999)


def test_every_way_can_be_planned_as_it_is_offered(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "90bar")
    shop.hold(fill)
    shop.analyse(fill, "52.3")
    for way in ways_on(shop.station.record, fill):
        assert isinstance(way.options, Options)
        assert planning.plan(shop.station, shop.jo, fill, way.options).done, way.kind
