"""A fill by mass: the scale is read, and what it shows is what went in.

Molar masses O2 31.9988, N2 28.0134, Ar 39.948 g/mol (standard atomic weights as GERG-2008 has
them): pure oxygen let in until the scale shows 0.4 kg is 400 / 31.9988 = 12.5005 mol.
"""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.station import equipment, filling, mending
from blender.station.answer import Answer
from blender.station.book import story
from blender.station.panel import panel_fill
from tests.station.shop import Shop

OXYGEN_G_MOL = 31.9988


def by_mass(shop: Shop, **facts: str) -> int:
    fill = shop.request(**facts)
    assert shop.plan(fill, method="mass", scale="5g").done
    assert shop.start(fill).done
    return fill


def scale(shop: Shop, fill: int, shows: str) -> Answer:
    return filling.reading(shop.station, shop.jo, fill, scale=shows)


def test_the_next_act_is_told_by_the_scale(shop: Shop) -> None:
    fill = shop.request()
    planned = shop.plan(fill, method="mass", scale="5g")
    assert "add oxygen until the scale reads 0.405 kg" in planned.text
    started = shop.start(fill)
    assert "until the scale reads 0.405 kg (gauge about 84.4 bar at 20.0 degC)" in started.text
    stop = panel_fill(shop.station.record, fill).stop
    assert stop is not None
    assert stop.scale_g == 405.0


def test_what_the_scale_shows_is_what_went_in(shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="50L", at="150bar")
    fill = by_mass(shop)
    before = shop.moles(fill)[0]
    assert not scale(shop, fill, "0.2kg").facts["closes"]
    answer = scale(shop, fill, "400 g")
    assert "Scale 0.400 kg: the gauge should show 84." in answer.text
    assert shop.moles(fill)[0] - before == pytest.approx(400.0 / OXYGEN_G_MOL, abs=2e-6)
    data = shop.last().data
    assert (data["scale_mg"], data["gauge"], data["typed"]["at"]) == (400_000, "scale", "400 g")
    drawn = sum(e.data["drawn_umol"] for e in shop.entries() if e.kind == "fill.reading")
    assert drawn == pytest.approx(400.0 / OXYGEN_G_MOL * 1e6, abs=3)


def test_a_gauge_does_as_well_and_both_at_once_do_not(shop: Shop) -> None:
    fill = by_mass(shop)
    assert shop.reading(fill, "84.4bar").facts["closes"]
    for given in ({"at": "84.4bar", "scale": "0.4kg"}, {}, {"at": "84.4bar"}, {"scale": "heavy"}):
        with pytest.raises(InputError):
            filling.reading(shop.station, shop.jo, fill, **given)


def test_a_scale_says_nothing_where_the_plan_is_by_the_gauge(shop: Shop) -> None:
    fill, before = shop.filling(), shop.seq()
    with pytest.raises(InputError, match="this plan is not by mass"):
        scale(shop, fill, "0.4kg")
    assert shop.seq() == before


def test_less_than_was_in_is_pointed_out(shop: Shop) -> None:
    fill = by_mass(shop)
    answer = scale(shop, fill, "-0.5kg")
    assert answer.facts["warnings"][0]["code"] == "below-contents"
    with pytest.raises(InputError, match="less than nothing"):
        scale(shop, fill, "-20kg")


def test_a_drain_is_weighed_too(shop: Shop) -> None:
    fill = by_mass(shop, have="150bar@20C:EAN50", want="200bar:EAN32")
    (drain, *_) = shop.last_plan(fill)
    assert drain["action"] == "drain"
    answer = scale(shop, fill, f"{drain['scale_mg'] / 1e6:.6f}kg")
    assert answer.facts["closes"]


def test_a_mistyped_scale_is_corrected(shop: Shop) -> None:
    one, other = by_mass(shop), by_mass(shop, cylinder="C-1001")
    scale(shop, one, "0.045kg")
    done = mending.correct_reading(shop.station, shop.jo, one, scale="0.405kg")
    assert "Corrected: 0.045kg was a slip" in done.text
    scale(shop, other, "0.405kg")
    assert shop.moles(one) == shop.moles(other)
    (kind,) = [row.text for row in shop.exceptions(one) if row.kind == "reading-corrected"]
    assert kind == "0.045kg -> 0.405kg"
    told = story(shop.station.record, one)
    assert "until the scale reads 0.405 kg" in told["steps"][0]["also"]
    assert told["readings"][0]["typed"] == "0.045kg"
