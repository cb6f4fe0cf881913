"""An audit finds what was planted: an override, an amendment, a leak, an unsigned gas."""

from __future__ import annotations

import pytest

from blender.record import read
from blender.record.moment import Moment
from blender.record.verify import verify
from blender.station import amending, equipment, items, ruling, supplies
from blender.station.audit import AuditView, audit
from blender.station.gas_balance import balances
from blender.station.numbers import mol
from reports.audit import lines
from tests.station.shop import Shop


def _audited(shop: Shop) -> AuditView:
    record = shop.station.record
    verified = verify(record.location)
    return audit(record, "2026-11-01", "2026-11-30", shop.clock(), verified)


def test_a_quiet_day_has_nothing_to_be_told(shop: Shop) -> None:
    shop.accepted()
    view = _audited(shop)
    assert view.verified.ok
    assert dict(view.by_state) == {"accepted": 1}
    assert all(found == () for found in view.noted.values())
    assert view.unsigned == ()


def test_what_was_planted_is_found_in_its_group(shop: Shop) -> None:
    fill, _ = shop.accepted()
    amending.amend(
        shop.station, shop.mara, fill, field="reading", to="32.0", reason="misread the screen"
    )
    ruling.set_rule(shop.station, shop.mara, "rest", "10min", reason="the insurer asks for it")
    view = _audited(shop)
    assert {one.kind for one in view.noted["undone"]} == {"amended"}
    assert [one.kind for one in view.noted["overrides"]] == ["rule-changed"]
    assert view.noted["overrides"][0].by == "Mara Linde"
    assert [text for text in view.unsigned if "DO NOT BREATHE" in text]  # signed for no more


def test_days_outside_are_not_in_it(shop: Shop) -> None:
    shop.accepted()
    record = shop.station.record
    view = audit(record, "2026-10-01", "2026-10-31", shop.clock(), verify(record.location))
    assert view.fills == 0
    assert view.balances == ()
    assert view.charts == ()
    assert {one["cause"] for one in _audited(shop).charts} >= {"analyser A1"}


def test_what_is_of_no_fill_is_told_in_the_zone_it_was_entered_in(shop: Shop) -> None:
    """As the fills around it are, wherever the report is printed."""
    ruling.set_rule(shop.station, shop.mara, "rest", "10min", reason="the insurer asks for it")
    entered, elsewhere = shop.clock(), Moment(shop.clock().us, 0)
    record = shop.station.record
    view = audit(record, "2026-11-01", "2026-11-30", elsewhere, verify(record.location))
    (one,) = view.noted["overrides"]
    assert one.at.offset_min == entered.offset_min == 60


def test_what_was_due_is_reckoned_as_of_the_last_day_and_says_so(shop: Shop) -> None:
    items.add(shop.station, shop.mara, "gauge", "G1", range="1.0@250bar", serves="oxygen")
    shop.clock.turn(500 * 24 * 60)
    view = _audited(shop)
    assert view.due_on == "2026-11-30"
    assert not [one for one in view.due if "overdue" in one]
    told = [text for caption, text, _ in lines(view) if caption == "Due"]
    assert "as of 2026-11-30; what was seen to since is left out" in told[0]
    record, today = shop.station.record, shop.clock().iso[:10]
    late = audit(record, "2026-11-01", "2099-12-31", shop.clock(), verify(record.location))
    assert late.due_on == today
    assert [one for one in late.due if one.startswith("gauge G1") and "overdue" in one]


@pytest.mark.parametrize(("reading", "closes"), [("179.6bar", True), ("150bar", False)])
def test_a_balance_closes_unless_gas_is_missing(shop: Shop, reading: str, closes: bool) -> None:
    bottle = {"gas": "oxygen", "size": "50L", "at": "180bar"}
    equipment.add_supply(shop.station, shop.mara, name="b7", **bottle)
    supplies.read_supply(shop.station, shop.jo, "b7", at=reading)
    with shop.station.record.read() as conn:
        found = {one.supply: one for one in balances(conn, "QUAY-1", 0, 2**62)}
    one = found["b7"]
    assert one.closes is closes
    # By hand, ideal gas: 50 L at 180 bar and 20 degC is some 400 mol, 30 bar of it a sixth.
    assert one.connected_mol == pytest.approx(398, rel=0.05)
    missing = 0.0 if closes else -398 * 30 / 180
    assert one.unexplained_mol == pytest.approx(missing, rel=0.12, abs=2.0)


def test_what_one_reading_errs_by_the_next_takes_back(shop: Shop) -> None:
    """Ten readings of a bank nobody drew from are no less sure together than one."""
    bottle = {"gas": "oxygen", "size": "50L", "at": "180bar"}
    equipment.add_supply(shop.station, shop.mara, name="b7", **bottle)

    def doubt() -> float:
        with shop.station.record.read() as conn:
            (one,) = balances(conn, "QUAY-1", 0, 2**62)
        return one.doubt_mol

    supplies.read_supply(shop.station, shop.jo, "b7", at="180bar")
    after_one = doubt()
    for _ in range(9):
        supplies.read_supply(shop.station, shop.jo, "b7", at="180bar")
    assert doubt() == pytest.approx(after_one, rel=0.05)
    # Both its ends are read on a class 1.6 gauge of 250 bar: 2 sqrt(2) x 4 / sqrt(3) bar, and 2 K.
    assert after_one / 398 * 180 == pytest.approx(6.6, rel=0.06)


def test_a_balance_adds_up_to_what_the_record_has_in_hand(shop: Shop) -> None:
    """What came is what was drawn, what left, what is there and what is missing; to a micromole."""
    bottle = {"gas": "oxygen99.5", "size": "50L", "at": "180bar"}
    equipment.add_supply(shop.station, shop.mara, name="o1", **bottle)
    shop.analysed("32.1")
    supplies.read_supply(shop.station, shop.jo, "o1", at="150bar")
    shop.clock.turn(60)
    halfway = shop.clock().us
    shop.clock.turn(60)
    supplies.change_supply(shop.station, shop.mara, name="o1", **bottle)
    shop.analysed("32.1")
    last_us = shop.clock().us + 1
    with shop.station.record.read() as conn:
        spans = [balances(conn, "QUAY-1", *us) for us in ((0, halfway), (halfway, last_us))]
        (whole,) = balances(conn, "QUAY-1", 0, last_us)
        left = [mol(row.content_umol) for row in read.supplies(conn) if row.name == "o1"]
    (first,), (second,) = spans
    assert second.first_mol == first.in_hand_mol
    assert [second.in_hand_mol, whole.in_hand_mol] == pytest.approx(left * 2, abs=1e-6)
    assert whole.drawn_mol == pytest.approx(first.drawn_mol + second.drawn_mol)
    assert min(first.drawn_mol, second.drawn_mol, second.removed_mol) > 10.0
    assert [one.booked_mol for one in (first, second, whole)] == pytest.approx([0.0] * 3, abs=1e-6)
