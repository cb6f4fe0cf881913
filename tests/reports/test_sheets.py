"""Papers laid out for A4 lose nothing on Letter; a picture has the size and code of its paper."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from blender.errors import InputError
from blender.station import sheets
from reports import stock
from reports.batch_sheet import batch_sheet_pdf
from reports.certificate import certificate_pdf
from reports.fill_log import fill_log_pdf
from reports.label import label_pdf
from reports.picture import pngs
from tests.reports import paper, samples, test_batch_sheet, test_certificate

PAPERS = {
    "certificate": lambda on: certificate_pdf(test_certificate.view(), on),
    "log": lambda on: fill_log_pdf(samples.log(), on),
    "batch": lambda on: batch_sheet_pdf(test_batch_sheet.view(test_batch_sheet.LINE), on),
}


@pytest.mark.parametrize("name", PAPERS)
def test_the_same_words_stand_on_letter_inside_its_margins(name: str) -> None:
    on_a4, on_letter = PAPERS[name]("a4"), PAPERS[name]("letter")
    assert paper.texts(on_letter) == paper.texts(on_a4)
    (size,) = paper.sizes_mm(on_letter)
    assert sorted(size) == [215.9, 279.4]  # 8.5 x 11 inch, ANSI/ASME Y14.1 size A
    assert paper.flaws(on_letter, 4.0) == []


def test_an_unknown_paper_is_refused_and_the_known_are_named() -> None:
    with pytest.raises(InputError, match="a4, letter"):
        fill_log_pdf(samples.log(), "vellum")


def test_a_picture_has_the_papers_size_and_its_code_reads() -> None:
    view = samples.nitrox_label()
    (picture,) = pngs(label_pdf(view), 203.0)
    image = Image.open(BytesIO(picture))
    for dots, millimetres in zip(image.size, (100.0, 62.0), strict=True):
        assert dots == pytest.approx(millimetres / 25.4 * 203.0, abs=1.0)
    assert image.info["dpi"] == pytest.approx((203.0, 203.0), abs=0.1)
    assert paper.qr_texts(image) == [view.proof.anchor]


def test_there_is_a_picture_for_each_page() -> None:
    assert len(pngs(fill_log_pdf(samples.log()), 30.0)) == len(
        paper.texts(fill_log_pdf(samples.log()))
    )


def test_what_a_station_may_choose_is_what_can_be_printed_on() -> None:
    """The rule's names stand apart from the stocks themselves."""
    assert list(sheets.PAPERS) == list(stock.PAPERS)
    assert sorted(sheets.LABEL_STOCKS) == sorted(stock.label_stocks())
    for on in sheets.PAPERS:
        for label in sheets.LABEL_STOCKS:
            assert stock.label_stock(sheets.Sheets(on, label).labels).per_page > 1
