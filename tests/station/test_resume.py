"""Power cut between oxygen and top, next morning at 12 degC; then a leak.

Numbers: GERG-2008 (pyaga8 0.1.18), moles conserved.
"""

from __future__ import annotations

import pytest

from blender.errors import InputError
from tests.station.shop import Shop, gate


def held(shop: Shop) -> int:
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    answer = shop.hold(fill)
    assert answer.facts["holds_text"] == "O2 49.1 % - DO NOT BREATHE"
    assert answer.facts["gauge_should_show_bar"]["20C"] == pytest.approx(84.425, abs=0.01)
    shop.clock.turn(16 * 60)
    return fill


def test_the_cut_loses_nothing(shop: Shop) -> None:
    """Another process opens the file and finds the fill where it stood."""
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    again = Shop.open(shop.path)
    try:
        row = again.row(fill)
        assert (row.state, row.step) == ("filling", 1)
        assert sum(again.moles(fill)) == pytest.approx(43.161, rel=1e-3)
        again.clock.us = shop.clock.us
        assert again.hold(fill).state == "held"
    finally:
        again.station.record.close()


def test_consistent_reading_goes_on(shop: Shop) -> None:
    fill = held(shop)
    answer = shop.resume(fill, "81.6bar", "12C")
    assert (answer.done, answer.state) == (True, "filling")
    assert answer.facts["expected_bar"] == pytest.approx(81.581, abs=0.005)
    assert "consistent" in gate(answer, "contents")[1]
    assert answer.facts["next"]["to_bar"] == pytest.approx(230.0, abs=0.01)
    last = shop.reading(fill, "230bar")
    assert last.facts["holds"]["o2"] == pytest.approx(0.32, abs=1e-4)


def test_a_leak_is_refused_and_its_reading_kept(shop: Shop) -> None:
    fill = held(shop)
    answer = shop.resume(fill, "78.0bar", "12C")
    assert (answer.done, answer.state) == (False, "held")
    assert answer.facts["missing_mol"] == pytest.approx(1.899, abs=0.005)
    assert answer.facts["missing_fraction"] == pytest.approx(0.044, abs=1e-4)
    assert "4.4%" in gate(answer, "contents")[1]
    data = shop.last().data
    assert shop.last().kind == "fill.refused"
    assert data["given"]["gauge_mbar"] == 78000
    assert data["given"]["typed"] == {"at": "78.0bar", "temperature": "12C"}
    assert (shop.row(fill).gauge_mbar, shop.row(fill).temp_mk) == (78000, 285150)
    assert "refused" in [row.kind for row in shop.exceptions(fill)]


def test_after_the_leak_analyse_plan_resume(shop: Shop) -> None:
    fill = held(shop)
    shop.resume(fill, "78.0bar", "12C")
    analysed = shop.analyse(fill, "49.126")  # the loss was mixed gas
    assert analysed.state == "held"
    assert sum(shop.moles(fill)) == pytest.approx(41.262, rel=1e-3)
    made = shop.plan(fill, temperature="12C,20C")
    assert made.done
    adds = [s for s in made.facts["plan"]["steps"] if s["action"] == "add"]
    assert [s["to_bar"] for s in adds] == pytest.approx([79.247, 230.0], abs=0.05)
    assert [s["amount_mol"] for s in adds] == pytest.approx([0.677, 68.091], rel=2e-3)
    answer = shop.resume(fill, "78.0bar", "12C")
    assert (answer.done, answer.state) == (True, "filling")
    shop.reading(fill, "79.25bar", "12C")
    last = shop.reading(fill, "230bar")
    assert last.state == "resting"
    assert last.facts["holds"]["o2"] == pytest.approx(0.32, abs=2e-4)


def test_topping_up_blindly_is_not_possible(shop: Shop) -> None:
    fill = held(shop)
    shop.resume(fill, "78.0bar", "12C")
    assert not shop.reading(fill, "230bar").done
    assert not shop.start(fill).done
    assert shop.row(fill).state == "held"


def test_identity_comes_first(shop: Shop) -> None:
    fill = held(shop)
    answer = shop.resume(fill, "81.6bar", "12C", serial="C-1003")
    assert not answer.done
    assert gate(answer, "identity")[0] == "stop"
    assert shop.row(fill).gauge_mbar == 84425  # another cylinder's gauge says nothing of this one


def test_held_while_resting_goes_back_to_resting(shop: Shop) -> None:
    fill = shop.rested()
    shop.hold(fill, "closing time")
    assert shop.resume(fill, "230bar").state == "resting"


def test_a_new_plan_while_held_takes_the_fill_back_to_filling(shop: Shop) -> None:
    """Held while it rested, then planned again: gas goes in again, so it is filling."""
    fill = shop.filling(want="200bar:EAN32")
    shop.reading(fill, f"{shop.steps(fill)[0].to_mbar / 1000:.1f}bar")
    shop.reading(fill, "150bar")
    shop.reading(fill, "200bar")
    shop.hold(fill, "found low")
    shop.analyse(fill, "30.0")
    made = shop.plan(fill)
    assert made.done, made.text
    answer = shop.resume(fill, "200bar")
    assert answer.state == "filling"


def test_a_hold_names_a_reason(shop: Shop) -> None:
    fill = shop.filling()
    for reason in ("", "   ", "\x1b[2J", "x" * 301):
        with pytest.raises(InputError):
            shop.hold(fill, reason)
    assert shop.row(fill).state == "filling"
