from __future__ import annotations

from dataclasses import replace

import pytest

from blender.errors import InputError, RefusedError
from blender.station.certificate import (
    CertificateView,
    MeasuredFacts,
    SignatureFacts,
)
from reports.certificate import certificate_pdf
from reports.diver_card import diver_card_pdf
from reports.label import label_pdf
from tests.reports import paper, samples

KEY = "2c9e177afeb79212" * 4


def view(label=None, text: str = "Jorunn Askelid") -> CertificateView:
    label = label or samples.trimix_label()
    at, set_at = samples.at(130), samples.at(20)
    staff = MeasuredFacts("staff", "KX204417", 12.1, 1.1, 64.8, "Twin Cell 2", set_at, text,
                          at, 1080)  # fmt: skip
    diver = replace(staff, party="customer", o2_points=None, analyser="", calibrated=None, by=text)
    signature = SignatureFacts(text, "blender", "analysed", samples.at(130), 1080, KEY)
    return CertificateView(label, "18/45", 230.0, "partial-pressure", (staff, diver),
                           (signature,), (f"held: {text}",))  # fmt: skip


def sound(pdf: bytes, size: tuple[float, float]) -> list[str]:
    assert paper.sizes_mm(pdf) == {size}
    assert paper.unembedded_fonts(pdf) == []
    assert paper.flaws(pdf, 2.5) == []
    return paper.texts(pdf)


def test_it_names_each_signature_with_time_and_meaning_and_each_analyser():
    (text,) = sound(pdf := certificate_pdf(view()), (210.0, 297.0))
    for said in (
        "CERTIFICATE OF ANALYSIS",
        "12.1 %",
        "He 64.8 %",
        "MOD at ppO₂ 1.30 bar: 97 m / 321 ft",
        "DO NOT BREATHE ABOVE 5 m / 17 ft",
        "231 bar at 20 °C",
        "O₂ 12.1 % ± 1.1 (k = 2), He 64.8 %",
        "with Twin Cell 2, calibrated 2026-11-25 13:20 +01:00",
        "Jorunn Askelid, blender, 2026-11-25 15:10 +01:00: analysed (entry 1080, key 2c9e177a…)",
        "accepted by Irena Carvalhosa, 2026-11-25 15:21 +01:00, by typing the name",
        "sealed by Marek Holubec for the station (entry 1088)",
        "held: Jorunn Askelid",
        "analyses it again before use",
        "local codes come first",
        samples.trimix_label().proof.anchor,
    ):
        assert said in text, said
    (image,) = paper.rasters(pdf)
    assert paper.qr_texts(image) == [samples.trimix_label().proof.anchor]


def test_a_drawn_signature_is_on_it():
    typed = replace(samples.nitrox_label(), strokes=())
    drawn, plain = (certificate_pdf(view(one)) for one in (samples.nitrox_label(), typed))
    assert "drawn by hand" in sound(drawn, (210.0, 297.0))[0]
    assert "signed by typing the name" in sound(plain, (210.0, 297.0))[0]
    box = [round(mm * 3.0 * paper.MM) for mm in (95.0, 249.0, 190.0, 255.0)]  # above typed words
    dark = [
        sum(paper.rasters(pdf)[0].convert("L").crop(box).histogram()[:128])
        for pdf in (drawn, plain)
    ]
    assert dark[0] > 100
    assert dark[1] == 0


def test_imperial_depths_come_first():
    (text,) = paper.texts(certificate_pdf(view(samples.imperial_label())))
    assert "MOD at ppO₂ 1.40 bar: 95 ft / 28 m" in text


@pytest.mark.parametrize("nasty", samples.NASTY)
def test_no_text_breaks_a_page(nasty):
    label = replace(samples.trimix_label(), station_name=nasty, accepted_by=nasty, filled_by=nasty)
    sound(certificate_pdf(view(label, nasty)), (210.0, 297.0))
    sound(diver_card_pdf(label), (105.0, 148.0))


def test_many_exceptions_go_on_to_further_pages():
    many = tuple(f"held: number {n}, " + "a long reason " * 12 for n in range(60))
    pages = sound(certificate_pdf(replace(view(), exceptions=many)), (210.0, 297.0))
    assert len(pages) > 1
    assert "number 59" in pages[-1]
    assert f"page {len(pages)} of {len(pages)}" in pages[-1]


def test_the_same_record_gives_the_same_bytes():
    assert certificate_pdf(view()) == certificate_pdf(view())
    assert diver_card_pdf(samples.trimix_label()) == diver_card_pdf(samples.trimix_label())


def test_a_number_that_is_none_is_refused():
    with pytest.raises(InputError):
        certificate_pdf(view(replace(samples.nitrox_label(), o2_percent=float("nan"))))


@pytest.mark.parametrize("undone", ["VOID", "ANALYSIS AMENDED"])
def test_figures_that_do_not_hold_are_on_no_paper(undone):
    label = replace(samples.nitrox_label(), undone=undone, strokes=())
    (text,) = paper.texts(label_pdf(label))
    assert f"{undone} what was signed for no longer holds: DO NOT BREATHE" in text
    assert "MOD at" not in text
    assert "O₂ as analysed" not in text
    for refused in (diver_card_pdf, lambda one: certificate_pdf(view(one))):
        with pytest.raises(RefusedError, match=undone):
            refused(label)


def test_the_card_explains_the_label_in_its_own_figures():
    (text,) = sound(diver_card_pdf(samples.trimix_label()), (105.0, 148.0))
    for said in (
        "WHAT YOUR LABEL SAYS",
        "12.1 %",
        "64.8 %",
        "97 m / 321 ft",
        "5 m / 17 ft Not above",
        "Reckoned for an oxygen pressure of 1.30 bar",
        "Analyse it yourself before every use",
        "own marking and local codes come first",
    ):
        assert said in text, said


def test_the_card_of_nitrox_speaks_of_no_floor_and_no_helium():
    (text,) = paper.texts(diver_card_pdf(samples.nitrox_label()))
    assert "Helium" not in text
    assert "Not above" not in text
