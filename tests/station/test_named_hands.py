"""Papers name who did what: who let gas in, amended, signed for whom; and what was set aside."""

from __future__ import annotations

import pytest

from blender.record.moment import Moment
from blender.record.verify import verify
from blender.station import book, papers
from blender.station.audit import audit
from blender.station.certificate import certificate_view
from blender.station.person_page import person_view
from reports.certificate import certificate_pdf
from tests.reports import paper
from tests.station.shop import Shop, gate


def test_everybody_who_let_gas_in_is_named(shop: Shop) -> None:
    fill = shop.filling()
    shop.reading(fill, "84.425bar", by=shop.mara)
    shop.reading(fill, "230bar")
    shop.analyse(fill, "32.1")
    shop.accept(fill, "31.8")
    assert papers.label_view(shop.station.record, fill).filled_by == "Mara Linde, Jo Blend"


def test_who_amended_a_reading_is_not_said_to_have_read_it(shop: Shop) -> None:
    fill, _ = shop.accepted()
    assert papers.label_view(shop.station.record, fill).staff.by == "Jo Blend"
    shop.amend(fill, "reading", "32.0")
    shop.accept(fill, "32.0")
    shop.amend(fill)  # the customer, later: the reading stays the amended one
    assert papers.label_view(shop.station.record, fill).staff.by == "amended by Mara Linde"


def test_a_certificate_lists_what_was_set_aside_and_not_what_was_left_in(shop: Shop) -> None:
    fill = shop.analysed("32.1")
    assert shop.accept(fill, "30.7").state == "recheck"
    assert shop.analyse(fill, "32.2", analyser="A2").state == "analysed"
    assert shop.accept(fill, "31.9").state == "accepted"
    view = certificate_view(shop.station.record, fill)
    aside = [round(one.o2_percent, 1) for one in view.measured if one.set_aside]
    stand = [one.party for one in view.measured if not one.set_aside]
    assert aside == [30.7]
    assert stand == ["staff", "staff", "customer"]
    assert "set aside, Diver" in " ".join(paper.texts(certificate_pdf(view)))


def test_a_signature_stays_with_whoever_gave_it(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    shop.collect(fill, anchor)
    assert shop.amend(fill, "customer", "Lena Tief").done
    page = person_view(shop.station.record, "Lena Tief", shop.clock())
    (line,) = page.fills
    assert line.signed == "signed for by another, before the customer was amended"


def test_an_audit_tells_the_time_in_the_fills_own_zone(shop: Shop) -> None:
    fill = shop.filling()
    shop.hold(fill)
    record, now = shop.station.record, shop.clock()
    winter = Moment(now.us, -300)
    view = audit(record, "2026-11-01", "2026-11-30", winter, verify(record.location))
    held = next(one for one in view.noted["exceptions"] if one.kind == "held")
    assert held.at.offset_min == 60
    assert book.story(record, fill)["exceptions"][0]["at"].endswith("+01:00")


@pytest.mark.parametrize(("wanted", "told"), [("200bar:EAN32", False), ("200bar:EAN50", True)])
def test_a_gas_richer_than_many_nitrox_cards_are_for_is_said(
    shop: Shop, wanted: str, told: bool
) -> None:
    """A first nitrox card is for up to 40 % (common practice, no source)."""
    answer = shop.plan(shop.request(want=wanted))
    assert gate(answer, "certification")[0] == "pass"
    assert ("certification" in {one.gate for one in answer.cautions}) is told
