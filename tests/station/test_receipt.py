"""A receipt is of what the readings drew; a suit bottle is no cylinder of the record."""

from __future__ import annotations

import math

import pytest

from blender.errors import RefusedError
from blender.station import pricing
from blender.station.cylinder_history import cylinder_history
from blender.station.receipt import free_gas_m3, receipt
from blender.station.suit_bottle import suit_bottle
from tests.station.shop import Shop


def test_it_reckons_what_was_drawn_at_the_prices_set(shop: Shop) -> None:
    fill, _ = shop.accepted()
    bare = receipt(shop.station.record, fill, shop.clock())
    (oxygen,) = (one for one in bare.items if one.supply != "top")
    assert bare.unpriced == (oxygen.supply,)
    pricing.set_price(shop.station, shop.mara, supply=oxygen.supply, price="6.50")
    view = receipt(shop.station.record, fill, shop.clock())
    assert view.total == pytest.approx(6.5 * oxygen.free_gas_m3)
    assert view.unpriced == ()
    # By hand: 12 L from 60 bar EAN28 to 230 bar EAN32 takes some 0.3 m3 of oxygen.
    assert math.isclose(oxygen.free_gas_m3, 0.3, abs_tol=0.05)


def test_a_cubic_metre_of_free_gas_is_the_published_amount() -> None:
    # CODATA 2018: molar volume of an ideal gas at 273.15 K and 101.325 kPa, 22.413 969 54 L/mol;
    # the gas constant GERG-2008 is built on lies 1.1 parts in a million above today's.
    assert free_gas_m3(1.0) == pytest.approx(22.41396954e-3, rel=2e-6)


def test_nothing_drawn_and_nothing_voided_is_charged_for(shop: Shop) -> None:
    with pytest.raises(RefusedError, match="no gas"):
        receipt(shop.station.record, shop.request(), shop.clock())


def test_a_cylinder_of_breathing_gas_gets_no_suit_tag(shop: Shop) -> None:
    with pytest.raises(RefusedError, match="another cylinder"):
        suit_bottle(shop.station.record, "C-1001", None, shop.clock())
    assert suit_bottle(shop.station.record, "SUIT-4", "725psi", shop.clock()).filled_bar == (
        pytest.approx(49.987, abs=0.001)
    )


def test_a_cylinders_history_has_its_stamps_and_every_fill(shop: Shop) -> None:
    fill, _ = shop.accepted()
    view = cylinder_history(shop.station.record, "C-1001", shop.clock())
    assert [one.fill for one in view.fills] == [fill]
    assert view.fills[0].gas.startswith("analysed O2 32.")
    assert view.changes[0].text.startswith("entered: size 12L")
    assert "oxygen clean yes" in view.changes[0].text
