"""A cylinder filled at one station and analysed at another: two entries that name each other."""

from __future__ import annotations

import pytest

from blender.errors import InputError, RefusedError
from blender.record import read, shop
from blender.record.unit import entry_at
from blender.record.verify import verify
from blender.station import (
    analysing,
    book,
    equipment,
    filling,
    handover,
    lookup,
    site_cylinders,
    sites,
)
from blender.station.certificate import certificate_view
from blender.station.papers import label_view
from reports.certificate import certificate_pdf
from reports.label import label_pdf
from tests.reports.paper import texts
from tests.sites.away import THEIRS, Two, analyse, bring, shared
from tests.sites.shops import Site
from tests.station.shop import SECRET, Shop, gate


def test_both_records_name_each_others_entry(two: Two) -> None:
    quay, reef, office = two
    made = bring(reef, THEIRS)
    assert (made.done, made.state) == (True, "resting")
    assert analyse(reef, made.fill).state == "analysed"
    with reef.record.read() as conn:
        away = shop.brought(conn, made.fill)
        analysis = read.analyses(conn, made.fill)[-1]
        entry = entry_at(conn, "REEF-3", analysis.seq)
    assert away is not None
    assert entry is not None
    with quay.station.record.read() as conn:
        named = entry_at(conn, "QUAY-1", away.site_seq)
    assert named is not None
    assert (away.site, away.site_fill, away.site_digest) == ("QUAY-1", THEIRS, named.digest.hex())
    assert quay.row(THEIRS).state == "resting"
    shared(quay, reef, office)
    with quay.station.record.read() as conn:
        (back,) = shop.analysed_away(conn, THEIRS)
    assert (back.site, back.site_fill, back.site_seq) == ("REEF-3", made.fill, entry.seq)
    assert back.site_digest == entry.digest.hex()
    story = book.story(quay.station.record, THEIRS)
    assert "analysed at REEF-3 as its fill 1: O2 32." in story["other_sites"][0]
    assert quay.row(THEIRS).state == "resting"  # nobody has signed yet
    assert "filled at QUAY-1" in book.story(reef.record, made.fill)["other_sites"][0]


def test_signed_for_there_it_is_done_here(two: Two) -> None:
    quay, reef, office = two
    ours = bring(reef, THEIRS).fill
    analyse(reef, ours)
    made = handover.accept(reef.station, reef.mara, ours, name="Kai Diver", reading="31.9")
    assert made.done
    shared(quay, reef, office)
    row = quay.row(THEIRS)
    assert row.state == "elsewhere"
    assert "accepted there" in quay.exceptions(THEIRS)[-1].text
    with pytest.raises(RefusedError):
        label_view(quay.station.record, THEIRS)
    assert not quay.start(THEIRS).done
    for one in (quay.path, reef.place, office.place):
        assert verify(one).ok
    with reef.record.read() as conn:
        assert shop.site_fills(conn, "C-1001") != []  # as of the answer before quay heard of it
    shared(quay, reef, office)
    with reef.record.read() as conn:
        assert shop.site_fills(conn, "C-1001") == []


def test_label_and_certificate_say_where_it_was_filled(two: Two) -> None:
    _quay, reef, _office = two
    ours = bring(reef, THEIRS).fill
    analyse(reef, ours)
    handover.accept(reef.station, reef.mara, ours, name="Kai Diver", reading="31.9")
    label = label_view(reef.record, ours)
    assert label.filled_by == f"Jo Blend AT QUAY-1, its fill {THEIRS}"
    assert label.station_name == "REEF-3 Gas"
    assert label.filled_at.us < label.accepted_at.us
    printed = " ".join(texts(label_pdf(label)))
    assert "AT QUAY-1" in " ".join(printed.split())
    certificate = certificate_pdf(certificate_view(reef.record, ours))
    assert "AT QUAY-1" in " ".join(" ".join(texts(certificate)).split())


def test_the_gates_of_signing_hold_there(two: Two) -> None:
    _quay, reef, _office = two
    ours = bring(reef, THEIRS).fill
    early = handover.accept(reef.station, reef.mara, ours, name="Kai Diver", reading="32")
    assert gate(early, "order")[0] == "stop"  # not before it is analysed
    wrong = analysing.analyse(reef.station, reef.mara, ours, serial="C-9", analyser="R1",
                              reading="32.1")  # fmt: skip
    assert gate(wrong, "identity")[0] == "stop"
    analyse(reef, ours, "40.0")
    ro = reef.station.sign_in("Ro Reef", SECRET)
    far = handover.accept(reef.station, ro, ours, name="Kai Diver", reading="40.0")
    assert not far.done
    assert gate(far, "calculated")[0] == "ask"  # against what QUAY-1's gauge says went in


def test_its_cylinder_comes_with_the_stamps_read_there(two: Two) -> None:
    _quay, reef, _office = two
    (hit,) = lookup.find(reef.record, "c-1001")
    assert (hit["kind"], hit["site"]) == ("elsewhere", "QUAY-1")
    assert "known at QUAY-1" in hit["text"]
    ours = bring(reef, THEIRS).fill
    with reef.record.read() as conn:
        row = read.cylinder(conn, "C-1001")
    assert (row.wp_mbar, row.tested, row.clean) == (232_000, "2025-03", True)
    (hit,) = lookup.find(reef.record, "c-1001")
    assert hit["kind"] == "cylinder"
    assert ours == 1


def test_what_is_held_is_known_and_what_was_let_go_stops_nothing(
    two: Two,
) -> None:
    quay, reef, office = two
    quay.hold(THEIRS, "found warm")
    shared(quay, reef, office)
    (hit,) = lookup.find(reef.record, "C-1001")
    assert "HELD: held, fill 1: found warm" in hit["text"]
    assert quay.resume(THEIRS, "230bar").state == "resting"
    shared(quay, reef, office)
    (hit,) = lookup.find(reef.record, "C-1001")
    assert "HELD" not in hit["text"]
    assert bring(reef, THEIRS, at_hand=True).done


def test_a_held_cylinder_is_a_caution_for_scripts_and_a_stop_at_hand(
    two: Two,
) -> None:
    quay, reef, office = two
    again = quay.rested(cylinder="C-1003")
    quay.reject(again, "found rusty")
    shared(quay, reef, office)
    with reef.record.read() as conn:
        (row,) = shop.known_cylinders(conn, "C-1003")
    assert row.hold == f"rejected, fill {again}: found rusty"
    equipment.add_cylinder(reef.station, reef.mara, serial="C-1003", size="12L",
                           wp="232bar", tp="348bar", tested="2025-03", inspected="2026-02",
                           clean="yes")  # fmt: skip
    here = Shop(reef.station, reef.clock, reef.mara, reef.mara, reef.mara, reef.place)
    fill = here.request(cylinder="C-1003")
    here.plan(fill)
    stopped = filling.start(reef.station, reef.mara, fill, serial="C-1003", at_hand=True)
    assert gate(stopped, "other-site") == (
        "stop",
        f"C-1003 is held at another station, QUAY-1: rejected, fill {again}: found rusty; "
        "ask there before gas goes in",
    )
    due = lookup.known(reef.record, "C-1003", reef.clock())["due"]
    assert due[0]["what"] == "other-site"
    let = here.start(fill, "C-1003")
    assert let.done
    assert "other-site" in {one.gate for one in let.cautions}


def test_a_cylinder_another_station_has_as_unclean_asks_a_manager(two: Two) -> None:
    quay, reef, office = two
    site_cylinders.add_known(reef.station, reef.mara, "C-1003")
    equipment.change_cylinder(quay.station, quay.mara, serial="C-1003", clean="no")
    shared(quay, reef, office)
    ro = reef.station.sign_in("Ro Reef", SECRET)
    here = Shop(reef.station, reef.clock, reef.mara, ro, reef.mara, reef.place)
    fill = here.request(cylinder="C-1003")
    here.plan(fill)
    stopped = filling.start(reef.station, ro, fill, serial="C-1003", at_hand=True)
    assert gate(stopped, "other-site-clean") == (
        "ask", "at QUAY-1 it is not clean for oxygen: find out which is so now",
    )  # fmt: skip
    assert not stopped.done
    assert here.start(fill, "C-1003").done  # a script is told


def test_what_is_not_known_or_was_taken_in_before_is_refused(before: Two) -> None:
    quay, reef, office = before
    with pytest.raises(InputError, match="no unsigned fill of that station"):
        bring(reef, THEIRS)
    shared(quay, reef, office)
    with pytest.raises(InputError, match="no customer of that name"):
        bring(reef, THEIRS, "Nobody")
    assert bring(reef, THEIRS).fill == 1
    with pytest.raises(InputError, match="taken in before, as fill 1"):
        bring(reef, THEIRS)


def test_no_name_of_a_customer_leaves_a_station(before: Two) -> None:
    quay, reef, office = before
    fill, _ = quay.accepted()
    shared(quay, reef, office)
    sent = Site(quay.station, quay.mara, quay.clock, quay.path).send(after=0)
    for name in (b"Kai Diver", b"Lena Tief", b"Otto Luft"):
        assert name not in sent
    assert b"Jo Blend" in sent  # a signature has a printed name
    copies = list(office.place.with_name("station.db.sites").iterdir())
    assert copies
    assert all(b"Kai Diver" not in one.read_bytes() for one in copies)
    assert sites.identity(reef.record)["root"]["number"] == 1
    assert fill
