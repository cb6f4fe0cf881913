"""The suit bottle's tag, the receipt and the cylinder's page: what they say, and that it fits."""

from __future__ import annotations

from dataclasses import replace

import pytest

from blender.station.cylinder_history import Change, CylinderHistory, PastFill
from blender.station.receipt import Item, Receipt
from blender.station.suit_bottle import SuitTag
from reports.cylinder_page import cylinder_page_pdf
from reports.receipt import receipt_pdf
from reports.suit_tag import suit_tag_pdf
from tests.reports import paper, samples

TAG = SuitTag("SUIT-4", "Harbour Shed Fill Station", 50.0, samples.at(0))
RECEIPT = Receipt(
    "Harbour Shed Fill Station", 1042, "2026-11-25", "VT0093158", "Pieter Vandalen",
    "EAN32 to 230 bar",
    (Item("o1", 0.5, 6.5), Item("o2", 0.25, 8.0), Item("he-3", 0.1, None), Item("top", 2.0, None)),
    samples.at(90), samples.proof(),
)  # fmt: skip
FILL = PastFill(1042, "2026-11-25", "analysed O2 32.4 %, 230 bar", "held", "Kai", True, ("a", "b"))
HISTORY = CylinderHistory(
    "Harbour Shed Fill Station", "VT0093158", "15L, tested 2024-09",
    (Change(samples.at(0), "changed: oxygen clean NO", "Jorunn Askelid", 17),),
    (FILL,), samples.at(90), samples.proof(),
)  # fmt: skip


def sound(pdf: bytes, size: tuple[float, float]) -> str:
    assert paper.sizes_mm(pdf) == {size}
    assert paper.unembedded_fonts(pdf) == []
    assert paper.flaws(pdf, 2.0) == []
    return " ".join(paper.texts(pdf))


def test_the_suit_tag_says_what_it_is_and_no_depth() -> None:
    text = sound(suit_tag_pdf(TAG), (100.0, 150.0))
    for said in ("NOT", "BREATHABLE", "ARGON", "50 bar", "consciousness", "come first"):
        assert said in text
    assert "SUIT-4" in text.replace(" ", "")  # a serial's end is drawn larger
    for never in ("MOD", " m /", "O₂"):
        assert never not in text
    assert "725 psi" in sound(suit_tag_pdf(replace(TAG, imperial=True)), (100.0, 150.0))
    assert "bar" not in sound(suit_tag_pdf(replace(TAG, filled_bar=None)), (100.0, 150.0))


def test_the_receipt_adds_up_and_says_what_has_no_price() -> None:
    text = sound(receipt_pdf(RECEIPT), (210.0, 297.0))
    assert "Total 5.25" in text  # 0.5 x 6.50 + 0.25 x 8.00
    assert "no price is set here for he-3" in text  # air is counted as nothing, as at the Panel
    assert "o2: 0.250 m³ of free gas at 8.00 a m³: 2.00" in text


def test_the_cylinders_page_has_its_fills_with_what_was_out_of_the_usual() -> None:
    text = sound(cylinder_page_pdf(HISTORY), (210.0, 297.0))
    assert "1042 2026-11-25, analysed O2 32.4 %, 230 bar, for Kai, held - DO NOT BREATHE" in text
    assert "oxygen clean NO, by Jorunn Askelid (entry 17)" in text


@pytest.mark.parametrize("nasty", samples.NASTY)
def test_no_text_breaks_them(nasty: str) -> None:
    sound(suit_tag_pdf(replace(TAG, serial=nasty, station_name=nasty)), (100.0, 150.0))
    sound(receipt_pdf(replace(RECEIPT, customer=nasty, cylinder=nasty)), (210.0, 297.0))
    fill = replace(FILL, customer=nasty, remarks=(nasty, nasty))
    sound(cylinder_page_pdf(replace(HISTORY, fills=(fill,) * 40, serial=nasty)), (210.0, 297.0))
