"""The certificate of a fill says what the record says of it."""

from __future__ import annotations

import io

import pypdf
import pytest

from blender.errors import RefusedError
from blender.record import read
from blender.station.certificate import certificate_view
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
