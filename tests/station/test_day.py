"""A day at the station: opened, closed, shown, and what its sheet states."""

from __future__ import annotations

import json
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from blender.errors import InputError, RefusedError
from blender.record import read
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import day, equipment, mending, register, ruling, supplies, watch
from blender.station.accounts import gas_let_in
from blender.station.day_papers import day_view
from reports.day_sheet import day_sheet_pdf
from tests.station.shop import Shop

FINE: dict[str, Any] = {"gauges_zero": True, "room": "yes, alarm shows 20.9", "intake": "Yes"}


def opened(shop: Shop, **facts: Any) -> dict[str, Any]:
    return day.open_day(shop.station, shop.jo, **(FINE | facts))


def status(shop: Shop) -> dict[str, Any]:
    return day.day_status(shop.station.record, shop.clock())


def bank(shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen", size="50L", at="180bar")
    shop.clock.turn(24 * 60)


def test_a_day_opened_well(shop: Shop) -> None:
    bank(shop)
    assert status(shop)["banks_not_read"] == ["o1"]
    assert (status(shop)["opened"], status(shop)["is_open"]) == (None, False)
    said = opened(shop, supplies={"o1": "150bar@15C"}, note="calm")
    assert (said["day"], said["exceptions"]) == ("2026-11-26", [])
    assert [text.split()[1] for text in said["analysers_due"]] == ["A1", "A2"]
    assert [e.kind for e in shop.entries()[-2:]] == ["supply.read", "day.opened"]
    assert shop.last().sig["name"] == "Jo Blend"
    stands = status(shop)
    assert (stands["is_open"], stands["opened"]["by"]) == (True, "Jo Blend")
    assert (stands["banks_not_read"], stands["closed"]) == ([], None)
    assert register.supplies(shop.station.record)["supplies"][0]["pressure_bar"] > 150.0


def test_a_bank_far_from_what_was_expected_is_on_the_sheet_and_an_exception(shop: Shop) -> None:
    bank(shop)
    said = opened(shop, supplies={"o1": "150bar@20C"})
    (told,) = said["banks_far_off"]
    assert told == "o1: shows 150.0 bar at 20 degC, expected 180.0 bar: 30.0 bar less"
    (kept,) = watch.exceptions(shop.station.record)
    assert (kept["fill"], kept["kind"], kept["text"]) == (None, "bank-far-off", told)
    for _ in range(2):  # open, then as it was closed
        view = day_view(shop.station.record, shop.clock())
        assert view.banks == (("o1", "150bar@20C (FAR OFF, see exceptions)"),)
        assert view.exceptions == (f"bank-far-off: {told} (Jo Blend, 2026-11-26 12:00)",)
        if view.closed_at is None:
            day.close_day(shop.station, shop.jo)
    text = PdfReader(BytesIO(day_sheet_pdf(view))).pages[0].extract_text()
    assert "bank-far-off: o1: shows 150.0 bar" in " ".join(text.replace("\xa0", " ").split())


def test_a_bank_read_during_the_day_is_on_its_sheet_too(shop: Shop) -> None:
    bank(shop)
    opened(shop)
    assert supplies.read_supply(shop.station, shop.jo, "o1", at="190bar")["far"]
    assert not supplies.read_supply(shop.station, shop.jo, "o1", at="185.1bar")["far"]
    (told,) = day_view(shop.station.record, shop.clock()).exceptions
    assert "expected 180.0 bar: 10.0 bar more" in told


@pytest.mark.parametrize(("rule", "far"), [("4bar", True), ("6bar", False)])
def test_how_far_is_far_is_a_rule(shop: Shop, rule: str, far: bool) -> None:
    bank(shop)
    ruling.set_rule(shop.station, shop.mara, "bank-tolerance", rule, reason="our gauges")
    facts = supplies.read_supply(shop.station, shop.jo, "o1", at="175bar")
    assert bool(facts["far"]) is far
    assert ("FAR OFF" in supplies.reading_text(facts)) is far


def test_a_check_answered_no_is_an_exception(shop: Shop) -> None:
    said = opened(shop, gauges_zero=False, room="NO: alarm dead", intake="no")
    assert said["exceptions"] == [
        "gauges at zero: no", "oxygen alarm and ventilation: NO: alarm dead",
        "compressor intake: no"]  # fmt: skip
    (kept,) = watch.exceptions(shop.station.record)
    assert (kept["fill"], kept["kind"]) == (None, "day-check")
    assert "alarm dead" in kept["text"]


@pytest.mark.parametrize(
    "wrong",
    [{"room": ""}, {"room": "alarm fine"}, {"intake": "nothing"}, {"gauges_zero": "maybe"},
     {"room": "yes\x1b[31m"}, {"supplies": {"o9": "1bar"}}, {"supplies": {"o1": "150"}},
     {"supplies": {"o1": "150bar@hot"}}, {"note": "x" * 500}],
)  # fmt: skip
def test_nothing_is_entered_of_a_day_that_cannot_be_read(shop: Shop, wrong: dict) -> None:
    bank(shop)
    before = shop.seq()
    with pytest.raises(InputError):
        opened(shop, **wrong)
    assert shop.seq() == before


def test_days_follow_each_other(shop: Shop) -> None:
    with pytest.raises(InputError, match="none is open"):
        day.close_day(shop.station, shop.jo)
    opened(shop)
    with pytest.raises(InputError, match="was opened at"):
        opened(shop)
    shop.clock.turn(24 * 60)
    assert status(shop)["left_open"] == "2026-11-25"
    assert opened(shop)["exceptions"] == ["the day 2026-11-25 was never closed"]
    assert day.close_day(shop.station, shop.jo)["day"] == "2026-11-26"
    assert not status(shop)["is_open"]
    assert status(shop)["closed"]["by"] == "Jo Blend"
    opened(shop)  # for an evening's fills
    shop.clock.turn(15 * 60)
    assert day.close_day(shop.station, shop.mara)["day"] == "2026-11-26"  # after midnight


def test_who_may(shop: Shop) -> None:
    for act in (day.open_day, day.close_day):
        facts = FINE if act is day.open_day else {}
        with pytest.raises(RefusedError):
            act(shop.station, shop.ada, **facts)


def worked(shop: Shop) -> dict[str, Any]:
    """A day with a fill handed over, one waiting, one held, one just asked for."""
    opened(shop)
    fill, label = shop.accepted()
    shop.collect(fill, label)
    shop.accepted(cylinder="C-1003")
    shop.hold(shop.filling(cylinder="D-7"))
    shop.request()
    return day.close_day(shop.station, shop.jo, note="quiet")


def test_closing_says_what_waits_and_where_the_record_ends(shop: Shop) -> None:
    said = worked(shop)
    assert said["anchor"] == shop.station.record.head().text
    assert [row["fill"] for row in said["not_collected"]] == [2]
    assert [row["cylinder"] for row in said["held"]] == ["D-7"]
    assert [(row["fill"], row["state"]) for row in said["open"]] == [(4, "requested")]
    assert said["counts"] == {"not_collected": 1, "held": 1, "open": 1, "quarantined": 0}
    assert said["by_state"] == {"collected": 1, "accepted": 1, "held": 1, "requested": 1}
    assert verify(shop.path, said["anchor"]).ok
    assert day.fill_lines(said)[0].strip() == "not collected: 1"


def test_the_sheet_states_the_day_as_it_was_closed(shop: Shop) -> None:
    said = worked(shop)
    view = day_view(shop.station.record, shop.clock())
    assert view.proof.anchor == said["anchor"]
    assert (view.opened_by, view.closed_by, view.since) == ("Jo Blend", "Jo Blend", None)
    assert view.by_state == (("requested", 1), ("held", 1), ("accepted", 1), ("collected", 1))
    assert [(name, count) for name, count, _ in view.waiting] == list(said["counts"].items())
    assert view.waiting[0][2][0].customer == "Kai Diver"
    assert view.notes == ("quiet",)
    assert any("held: power cut" in text for text in view.exceptions)
    with shop.station.record.read() as conn:
        gas = gas_let_in(row for n in (1, 2, 3) for row in read.readings(conn, n))
    assert (view.oxygen_mol, view.helium_mol, view.top_mol) == pytest.approx(gas, abs=2e-6)
    assert view.oxygen_mol > 10.0
    shop.reject(4)
    again = day_view(shop.station.record, shop.clock(), "2026-11-25")
    assert (again.by_state, again.waiting) == (view.by_state, view.waiting)


def test_nothing_falls_between_two_days(shop: Shop) -> None:
    worked(shop)
    first = day_view(shop.station.record, shop.clock())
    late = shop.filling(cylinder="C-1003")  # after the closing
    shop.reading(late, "84.425bar")
    shop.clock.turn(14 * 60)
    opened(shop)
    open_view = day_view(shop.station.record, shop.clock())
    assert open_view.closed_at is None
    assert open_view.since == first.closed_at
    assert open_view.oxygen_mol == pytest.approx(first.oxygen_mol / 2.0, rel=1e-6)
    assert open_view.by_state == (("filling", 1),)
    assert open_view.proof.anchor == shop.station.record.head().text
    with pytest.raises(InputError, match="no day was opened"):
        day_view(shop.station.record, shop.clock(), "2026-12-24")


def test_a_reading_corrected_the_next_day_counts_for_the_difference(shop: Shop) -> None:
    opened(shop)
    fill = shop.filling()
    shop.reading(fill, "83bar")
    day.close_day(shop.station, shop.jo)
    before = day_view(shop.station.record, shop.clock())
    shop.clock.turn(24 * 60)
    opened(shop)
    mending.correct_reading(shop.station, shop.jo, fill, at="73bar", temperature="20C")
    after = day_view(shop.station.record, shop.clock())
    with shop.station.record.read() as conn:
        whole = gas_let_in(read.readings(conn, fill, standing_only=True))[0]
    assert before.oxygen_mol > whole > 0
    assert after.oxygen_mol == pytest.approx(whole - before.oxygen_mol, abs=2e-6)


def test_it_can_all_be_made_again_from_the_journal(shop: Shop) -> None:
    bank(shop)
    opened(shop, room="no", supplies={"o1": "150bar"})
    day.close_day(shop.station, shop.jo)
    before = shop.tables()
    assert [json.loads(row[-1])["day"] for row in before["day"]] == ["2026-11-26"] * 2
    rebuild(shop.station.record)
    assert shop.tables() == before
    assert verify(shop.path).problems == []


def test_a_voided_fill_counts_in_no_day_and_is_taken_off_a_day_closed_before(shop: Shop) -> None:
    opened(shop)
    old, label = shop.accepted()
    shop.collect(old, label)
    day.close_day(shop.station, shop.jo)
    before = day_view(shop.station.record, shop.clock())
    shop.clock.turn(24 * 60)
    opened(shop)
    equipment.calibrate(shop.station, shop.jo, name="A1", gas="air", reading="20.9")
    fill, label = shop.accepted(cylinder="C-1003")
    shop.collect(fill, label, serial="C-1003")
    one = day_view(shop.station.record, shop.clock())
    assert one.oxygen_mol == pytest.approx(before.oxygen_mol, rel=1e-6)
    assert shop.void(fill).done
    assert day_view(shop.station.record, shop.clock()).oxygen_mol == pytest.approx(0.0, abs=1e-6)
    assert shop.void(old).done  # of the day before: its sheet stands, this day is the less for it
    after = day_view(shop.station.record, shop.clock())
    assert after.oxygen_mol == pytest.approx(-before.oxygen_mol, rel=1e-6)
    assert after.top_mol == pytest.approx(-before.top_mol, rel=1e-6)


def test_a_sheet_of_no_day_says_to_open_one(shop: Shop) -> None:
    with pytest.raises(RefusedError, match="`day open`"):
        day_view(shop.station.record, shop.clock())
