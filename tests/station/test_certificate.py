"""The certificate of a fill says what the record says of it."""

from __future__ import annotations

import io

import pypdf
import pytest

from blender.errors import RefusedError
from blender.record import read
from blender.station import slips
from blender.station.certificate import certificate_view
from blender.station.cylinder_history import cylinder_history
from reports.certificate import certificate_pdf
from tests.station.shop import Shop


def test_the_records_certificate_has_everybody_who_signed(shop: Shop):
    fill, anchor = shop.accepted()
    found = certificate_view(shop.station.record, fill)
    assert [one.meaning for one in found.signatures] == [
        "requested", "planned", "filled", "analysed", "handed over for signature",
    ]  # fmt: skip
    assert {one.name for one in found.signatures} == {"Jo Blend"}
    with shop.station.record.read() as conn:
        entry = read.entry(conn, "QUAY-1", found.signatures[3].seq)
    assert entry is not None and entry.sig is not None
    assert entry.sig["key"] == found.signatures[3].key
    staff, diver = found.measured
    assert (staff.o2_percent, staff.analyser, diver.by) == (32.1, "A1", "Kai Diver")
    assert staff.calibrated is not None and staff.calibrated.us <= staff.at.us
    text = pypdf.PdfReader(io.BytesIO(certificate_pdf(found))).pages[0].extract_text()
    assert anchor in text


def test_nothing_is_certified_before_it_is_accepted(shop: Shop):
    with pytest.raises(RefusedError, match="analysed"):
        certificate_view(shop.station.record, shop.analysed())


@pytest.mark.parametrize(("minutes", "told"), [(1.0, True), (30.0, False)])
def test_a_mix_analysed_before_it_rested_is_out_of_the_usual(
    shop: Shop, minutes: float, told: bool
) -> None:
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    shop.reading(fill, "230bar")
    shop.clock.turn(minutes)
    shop.analyse(fill, "32.1")
    assert shop.accept(fill, "32.0").done
    found = certificate_view(shop.station.record, fill).exceptions
    assert any("analysed 1 min after filling: may not be mixed" in one for one in found) is told


def test_it_lists_what_stands_and_not_what_was_tried(shop: Shop) -> None:
    fill = shop.request()
    for _ in range(2):
        assert shop.plan(fill).done  # the first is done nothing by
    assert not shop.start(fill, "C-1002").done  # a scan of another cylinder
    assert shop.start(fill).done
    shop.reading(fill, "84.425bar")
    shop.hold(fill)
    assert shop.resume(fill, "84.425bar").done
    shop.reading(fill, "230bar")
    shop.clock.turn(30.0)
    assert not shop.analyse(fill, "32.1", serial="C-1003").done
    shop.analyse(fill, "23.1")  # mistyped
    assert slips.correct_analysis(shop.station, shop.jo, fill, reading="32.1").done
    assert shop.accept(fill, "30.7").state == "recheck"
    shop.analyse(fill, "32.2", analyser="A2")
    assert shop.accept(fill, "31.9").done
    found = certificate_view(shop.station.record, fill)
    assert [one.meaning for one in found.signatures] == [
        "requested", "planned", "filled", "analysed", "analysed", "handed over for signature",
    ]  # fmt: skip
    assert [(round(one.o2_percent, 1), one.set_aside) for one in found.measured] == [
        (32.1, False), (30.7, True), (32.2, False), (31.9, False),
    ]  # fmt: skip
    assert [one.split(":")[0] for one in found.exceptions] == ["disputed"]
    history = cylinder_history(shop.station.record, "C-1001", shop.clock())
    kept = " ".join(history.fills[0].remarks)
    for told in ("refused: start", "refused: analyse", "held", "analysis-corrected", "disputed"):
        assert told in kept, told


def test_an_analysis_before_the_gas_was_put_right_is_not_on_it(shop: Shop) -> None:
    fill = shop.filling(want="228bar:EAN32")
    for at in ("84.3bar", "228bar"):
        shop.reading(fill, at)
    assert shop.analyse(fill, "33.6").facts["decision"] == "relabel"
    assert shop.plan(fill, supply=("o1=oxygen",)).done
    assert shop.start(fill).done
    while shop.row(fill).state == "filling":
        step = shop.steps(fill)[shop.row(fill).step]
        shop.reading(fill, f"{step.to_mbar / 1000 - 0.01:.2f}bar")
    shop.clock.turn(30.0)
    shop.analyse(fill, "32.0")
    assert shop.accept(fill, "31.9").done
    found = certificate_view(shop.station.record, fill)
    assert [round(one.o2_percent, 1) for one in found.measured] == [32.0, 31.9]
    assert [one.meaning for one in found.signatures].count("filled") == 2


def test_an_amended_reading_is_on_it_beside_what_it_was_and_who_read_that(shop: Shop) -> None:
    fill, _ = shop.accepted()
    shop.amend(fill, "reading", "32.0")
    shop.accept(fill, "32.0")
    found = certificate_view(shop.station.record, fill)
    staff = [(one.by, one.set_aside) for one in found.measured if one.party == "staff"]
    assert staff == [("Jo Blend", True), ("amended by Mara Linde", False)]
    assert any(one.startswith("amended: reading") for one in found.exceptions)
