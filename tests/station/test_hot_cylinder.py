"""Stops read on hot gas, and temperatures that are not the gas's.

Numbers: GERG-2008 (pyaga8 0.1.18), moles conserved.
"""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.station import papers
from tests.station.shop import Shop


def hot(shop: Shop) -> int:
    fill = shop.request(have="60bar@33C:EAN28")
    assert shop.plan(fill, temperature="30C,41C").done
    shop.start(fill)
    return fill


def test_each_stop_at_its_own_temperature(shop: Shop) -> None:
    fill = shop.request(have="60bar@33C:EAN28")
    assert sum(shop.moles(fill)) == pytest.approx(29.015, rel=1e-3)
    steps = shop.plan(fill, temperature="30C,41C").facts["plan"]["steps"]
    adds = [s for s in steps if s["action"] == "add"]
    assert [s["to_bar"] for s in adds] == pytest.approx([85.163, 254.667], abs=0.05)
    assert [s["amount_mol"] for s in adds] == pytest.approx([12.796, 68.219], rel=1e-3)
    shop.start(fill)
    assert shop.reading(fill, "85.163bar", "30C").facts["closes"]
    last = shop.reading(fill, "254.667bar", "41C")
    assert last.state == "resting"
    assert last.facts["holds"]["o2"] == pytest.approx(0.32, abs=1e-4)
    settled = shop.reading(fill, "230.0bar", "20C")
    assert settled.facts["warnings"] == []
    assert all(g.answer == "pass" for g in settled.gates)


def test_the_same_stop_moves_with_the_gas(shop: Shop) -> None:
    """The oxygen stop of 85.163 bar at 30 degC is 81.744 bar when the gas is at 20 degC."""
    fill = hot(shop)
    answer = shop.reading(fill, "81.744bar", "20C")
    assert answer.facts["closes"]
    assert answer.facts["leads_to"]["o2"] == pytest.approx(0.32, abs=1e-4)


def test_stops_of_cold_gas_read_on_hot_are_told(shop: Shop) -> None:
    """The trap: 84.425 and 230 bar read on gas at 30 and 41 degC give 32.696 %."""
    fill = shop.request(have="60bar@33C:EAN28")
    shop.plan(fill, temperature="30C,41C")
    shop.start(fill)
    shop.reading(fill, "84.425bar", "30C")
    short = shop.reading(fill, "230bar", "41C")
    assert not short.facts["closes"]
    assert short.facts["holds"]["o2"] * 100 == pytest.approx(32.696, abs=0.01)
    assert short.facts["next"]["to_bar"] == pytest.approx(254.667, abs=0.05)


@pytest.mark.parametrize("kind", ["wall", "room"])
def test_the_walls_temperature_never_closes_a_step(shop: Shop, kind: str) -> None:
    fill = hot(shop)
    before = shop.moles(fill)
    answer = shop.reading(fill, "85.163bar", "20C", kind=kind)
    assert not answer.facts["closes"]
    assert answer.facts["warnings"][0]["code"] == "temperature-not-gas"
    assert shop.moles(fill) == before
    assert shop.row(fill).step == 0
    stored = shop.last().data
    assert (stored["gauge_mbar"], stored["kind"]) == (85163, kind)  # kept all the same


def test_the_walls_temperature_counts_after_a_rest(shop: Shop) -> None:
    fill = shop.rested()
    at_once = shop.reading(fill, "229bar", "20C", kind="wall")
    assert at_once.facts["warnings"][0]["code"] == "temperature-not-gas"
    shop.clock.turn(31)
    rested = shop.reading(fill, "229bar", "20C", kind="wall")
    assert rested.facts["warnings"] == []
    assert sum(shop.moles(fill)) < 110.0  # the amount follows the gauge


def test_a_wall_temperature_never_stands_in_silently(shop: Shop) -> None:
    """Neither for the amount of a residual analysed while held, nor on the label."""
    fill = shop.filling()
    shop.reading(fill, "84.425bar", "20C")
    shop.reading(fill, "140bar", "10C", kind="wall")  # the gas is far hotter
    shop.hold(fill)
    shop.analyse(fill, "49.1")
    assert sum(shop.moles(fill)) == pytest.approx(43.161, rel=1e-3)  # as last known
    fill = shop.rested(cylinder="C-1003") if False else shop.request(cylinder="C-1003")
    shop.plan(fill)
    shop.start(fill, "C-1003")
    shop.reading(fill, "84.425bar")
    shop.reading(fill, "240bar", "27C")
    shop.reading(fill, "239bar", "12C", kind="wall")
    shop.analyse(fill, "32.1", serial="C-1003")
    shop.accept(fill, "32.1")
    view = papers.label_view(shop.station.record, fill)
    assert (view.pressure_bar, view.pressure_temperature_c) == (240.0, 27.0)


def test_a_hot_pressure_is_judged_at_the_reference(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    over = shop.reading(fill, "250bar", "20C")
    assert ("working-pressure", "stop") in [(g.gate, g.answer) for g in over.gates]
    shop.analyse(fill, "31.0")
    refused = shop.accept(fill, "31.0")
    assert not refused.done


def test_a_temperature_has_a_unit_and_a_kind(shop: Shop) -> None:
    fill = hot(shop)
    for at, temperature, kind in (
        ("85bar", "30", "gas"),
        ("85", "30C", "gas"),
        ("85bar", "30C", "water"),
        ("85bar", "75C", "gas"),
        ("1,234bar", "30C", "gas"),
        ("-3bar", "30C", "gas"),
    ):
        count = shop.seq()
        with pytest.raises(InputError):
            shop.reading(fill, at, temperature, kind=kind)
        assert shop.seq() == count
