"""Too rich: drain, and the rebound after a quick bleed.

Amounts: GERG-2008 (pyaga8 0.1.18); the temperature after a quick bleed is CoolProp HEOS,
isentropic.
"""

from __future__ import annotations

import pytest

from tests.station.shop import Shop, gate


def rich(shop: Shop) -> int:
    fill = shop.request(have="180bar@20C:EAN40", want="200bar:EAN32")
    answer = shop.plan(fill)
    steps = answer.facts["plan"]["steps"]
    assert [s["action"] for s in steps] == ["drain", "rest", "add", "rest", "analyse"]
    assert steps[0]["to_bar"] == pytest.approx(111.462, abs=0.05)
    assert steps[0]["amount_mol"] == pytest.approx(32.833, rel=1e-3)
    assert steps[2]["to_bar"] == pytest.approx(200.0, abs=0.05)
    shop.start(fill)
    return fill


def test_drain_rest_second_reading_then_air(shop: Shop) -> None:
    fill = rich(shop)
    first = shop.reading(fill, "111.462bar")
    assert first.state == "filling"
    assert first.facts["warnings"][0]["code"] == "rest-first"
    assert "let it" in first.facts["next_text"]
    assert first.facts["next"] == {"step": 1, "action": "rest"}  # nothing may go in yet
    second = shop.reading(fill, "111.462bar")
    assert second.facts["closes"]
    assert second.facts["next"]["action"] == "add"
    assert sum(shop.moles(fill)) == pytest.approx(56.550, rel=1e-3)
    last = shop.reading(fill, "200bar")
    assert last.state == "resting"
    assert last.facts["holds"]["o2"] == pytest.approx(0.32, abs=1e-4)


def test_a_reading_above_the_stop_keeps_draining(shop: Shop) -> None:
    fill = rich(shop)
    answer = shop.reading(fill, "140bar")
    assert not answer.facts["closes"]
    assert answer.facts["next"]["action"] == "drain"
    assert shop.row(fill).step == 0


def test_the_rebound_sends_back_to_the_drain(shop: Shop) -> None:
    """111.462 bar on gas at -18.2 degC is 135.282 bar when it has warmed to 20 degC."""
    fill = rich(shop)
    shop.reading(fill, "111.462bar")
    rebound = shop.reading(fill, "135.282bar")
    assert not rebound.facts["closes"]
    assert rebound.facts["warnings"][0]["code"] == "rebound"
    assert rebound.facts["next"]["action"] == "drain"
    assert shop.row(fill).step == 0
    # What is in it follows the settled reading, not the quick one.
    assert rebound.facts["leads_to"]["o2"] == pytest.approx(0.32, abs=1e-4)
    shop.reading(fill, "111.4bar")
    assert shop.reading(fill, "111.45bar").facts["closes"]
    assert shop.reading(fill, "200bar").facts["holds"]["o2"] == pytest.approx(0.32, abs=1e-4)


def test_told_the_gas_is_cold_the_first_reading_is_not_the_stop(shop: Shop) -> None:
    fill = rich(shop)
    answer = shop.reading(fill, "111.462bar", "-18.238C")
    assert not answer.facts["closes"]
    o2, he, n2, ar = shop.moles(fill)
    assert o2 + he + n2 + ar > 65.0  # far more than the 56.550 wanted


def test_air_cannot_go_in_before_the_second_reading(shop: Shop) -> None:
    """A reading as if topped up, entered instead of the second one, concludes nothing."""
    fill = rich(shop)
    shop.reading(fill, "111.462bar")
    before = shop.row(fill).contents_umol
    answer = shop.reading(fill, "200bar")
    assert answer.facts["warnings"][0]["code"] == "above-contents"
    assert not answer.facts["closes"]
    assert (shop.row(fill).state, shop.row(fill).step) == ("filling", 1)
    assert shop.row(fill).contents_umol == before


def test_more_than_ever_was_in_it_while_draining_concludes_nothing(shop: Shop) -> None:
    fill = rich(shop)
    before = shop.row(fill).contents_umol
    answer = shop.reading(fill, "190bar")
    assert answer.facts["warnings"][0]["code"] == "above-contents"
    assert shop.row(fill).contents_umol == before


def test_drained_below_the_stop_says_where_that_leads(shop: Shop) -> None:
    fill = rich(shop)
    shop.reading(fill, "100bar")
    answer = shop.reading(fill, "100bar")
    assert answer.facts["closes"]
    assert answer.facts["leads_to"]["o2"] < 0.315


def test_part_filled_gas_is_not_bled_at_once(shop: Shop) -> None:
    """Gas just let in has not mixed: a plan that drains is refused until it is analysed."""
    fill = shop.filling()
    shop.reading(fill, "110bar")  # far beyond the oxygen stop
    refused = shop.plan(fill)
    assert not refused.done
    assert gate(refused, "mixed")[0] == "stop"
    assert shop.row(fill).state == "filling"
    shop.hold(fill)
    assert not shop.plan(fill).done
    shop.analyse(fill, "57.0")
    assert shop.plan(fill).done  # it has been analysed: it has mixed
