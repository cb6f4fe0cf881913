"""A cylinder set apart, here or at another station, is not walked round."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.record import shop
from blender.station import handover
from blender.station.answer import Answer
from blender.station.gates_asked import unchecked
from tests.sites.away import THEIRS, Two, analyse, bring, shared
from tests.sites.shops import Site
from tests.station.shop import Shop, gate


def collect(reef: Site, signed: Answer, *, at_hand: bool = False) -> Answer:
    return handover.collect(reef.station, reef.mara, signed.fill, serial="C-1001",
                            label=signed.facts["anchor"], at_hand=at_hand)  # fmt: skip


def sign(reef: Site, fill: int, reading: str = "31.9", *, at_hand: bool = False) -> Answer:
    return handover.accept(reef.station, reef.mara, fill, name="Kai Diver", reading=reading,
                           at_hand=at_hand)  # fmt: skip


def held_at(reef: Site, serial: str = "C-1001") -> list[str]:
    with reef.record.read() as conn:
        return [row.hold for row in shop.known_cylinders(conn, serial) if row.hold]


def test_a_hold_of_another_station_is_asked_for_at_signing(two: Two) -> None:
    quay, reef, office = two
    fill = bring(reef, THEIRS).fill
    analyse(reef, fill)
    quay.quarantine(THEIRS, "smells of oil")
    shared(quay, reef, office)
    stopped = sign(reef, fill, at_hand=True)
    assert gate(stopped, "other-site") == (
        "stop",
        "C-1001 is held at another station, QUAY-1: quarantined, fill 1: smells of oil; "
        "ask there before it is handed over",
    )
    told = sign(reef, fill)  # a script is told
    assert told.done
    assert "smells of oil" in unchecked(told.gates)


def test_and_at_handing_over_however_often_it_was_told(two: Two) -> None:
    quay, reef, office = two
    fill = bring(reef, THEIRS).fill
    analyse(reef, fill)
    signed = sign(reef, fill)
    quay.hold(THEIRS, "found warm")
    shared(quay, reef, office)
    assert not collect(reef, signed, at_hand=True).done
    told = collect(reef, signed)
    assert told.done
    assert "found warm" in unchecked(told.gates, {"other-site"})


def test_a_hold_ends_by_its_release_alone_whatever_fill_comes_after(two: Two) -> None:
    quay, reef, office = two
    quay.quarantine(THEIRS, "smells of oil")
    quay.request()
    shared(quay, reef, office)
    assert held_at(reef) == ["quarantined, fill 1: smells of oil"]
    assert quay.release(THEIRS).state == "held"
    shared(quay, reef, office)
    assert held_at(reef) == ["held, fill 1: looked inside"]
    quay.resume(THEIRS, "230bar")
    shared(quay, reef, office)
    assert held_at(reef) == []


def test_what_this_record_has_in_quarantine_is_not_taken_in(two: Two) -> None:
    _quay, reef, _office = two
    here = Shop(reef.station, reef.clock, reef.mara, reef.mara, reef.mara, reef.place)
    fill = bring(reef, THEIRS).fill
    here.quarantine(fill)
    with pytest.raises(InputError, match="taken in before"):
        bring(reef, THEIRS)
    again = _quay.rested()
    shared(_quay, reef, _office)
    refused = bring(reef, again)
    assert not refused.done
    assert gate(refused, "quarantine")[0] == "stop"
    assert "fill release 1" in refused.text
    here.reject(fill)
    assert bring(reef, again).done
