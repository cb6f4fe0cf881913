"""The sheet a boat's divers sign: every cylinder on it, and none that was signed for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from blender.station.views import BatchLine, BatchView
from reports.batch_sheet import batch_sheet_pdf
from tests.reports import paper, samples

LINE = BatchLine(
    fill=1042,
    serial="VT0093158",
    customer="Pieter Vandalen",
    wanted="200bar:EAN32",
    state="resting",
    holds="O2 32.1 % (calculated), 203.4 bar at 24.0 degC",
    unsafe=True,
)


def view(*lines: BatchLine) -> BatchView:
    return BatchView(
        station_name="Harbour Shed Fill Station",
        batch=17,
        wanted="200bar:EAN32",
        cylinders=14,
        lines=lines or (LINE, replace(LINE, fill=1043, serial="KX204417+KX204422", unsafe=False)),
        printed_at=samples.at(60),
        proof=samples.proof(3120),
    )


def sound(pdf: bytes) -> list[str]:
    assert paper.sizes_mm(pdf) == {(210.0, 297.0)}
    assert paper.unembedded_fonts(pdf) == []
    assert paper.flaws(pdf, 5.0) == []
    return paper.texts(pdf)


def test_the_sheet_names_what_is_in_each_cylinder() -> None:
    (text,) = sound(pdf := batch_sheet_pdf(view()))
    for said in ("NOT YET ANALYSED BY DIVER", "Batch 17 · 200bar:EAN32", "2 of 14 cylinders",
                 "fill 1042, Pieter Vandalen", "O2 32.1 % (calculated)", "resting",
                 "203.4 bar", "page 1 of 1", "Signature", view().proof.anchor):  # fmt: skip
        assert said in text, said
    assert text.count("DO NOT BREATHE") == 1
    image = paper.rasters(pdf)[0]
    assert paper.qr_texts(image) == [view().proof.anchor]
    assert paper.dark_pixels_around_qr(image, 37) == 0


def test_a_whole_boat_runs_over_pages() -> None:
    many = tuple(replace(LINE, fill=2000 + n) for n in range(24))
    texts = sound(batch_sheet_pdf(view(*many)))
    assert len(texts) == 2
    whole = " ".join(texts)
    assert all(f"fill {2000 + n}," in whole for n in range(24))
    assert whole.count("DO NOT BREATHE") == 24
    assert all(view().proof.anchor in text for text in texts)


def test_a_batch_that_is_done_says_so() -> None:
    (text,) = sound(batch_sheet_pdf(replace(view(), lines=())))
    assert "every cylinder was analysed and signed for" in text


@pytest.mark.parametrize("nasty", samples.NASTY)
def test_no_text_breaks_the_sheet(nasty: str) -> None:
    line = replace(LINE, serial=nasty, customer=nasty, wanted=nasty, state=nasty, holds=nasty)
    sound(batch_sheet_pdf(replace(view(line, line), station_name=nasty, wanted=nasty)))


def test_same_batch_is_the_same_bytes() -> None:
    assert batch_sheet_pdf(view()) == batch_sheet_pdf(view())
