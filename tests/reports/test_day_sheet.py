from __future__ import annotations

from dataclasses import replace

import pytest

from blender.errors import InputError
from blender.station.views import DayFill, DayView
from reports.day_sheet import day_sheet_pdf
from tests.reports import paper, samples

FILL = DayFill(1042, "VT0093158", "Pieter Vandalen", "EAN32")


def view() -> DayView:
    return DayView(
        station_name="Harbour Shed Fill Station",
        day="2026-11-25",
        opened_by="Jorunn Askelid",
        opened_at=samples.at(0),
        closed_by="Marek Holubec",
        closed_at=samples.at(600),
        since=samples.at(-900),
        checks=(("gauges at zero", "yes", True), ("compressor intake", "no, diesel", False)),
        banks=(("o1", "150bar@15C"), ("he-3", "180bar")),
        analysers=("analyser Oxy One was calibrated 1.0 h ago",),
        by_state=(("held", 1), ("collected", 14)),
        waiting=(("not_collected", 3, (FILL,)), ("held", 1, (FILL,)), ("open", 0, ()),
                 ("quarantined", 0, ())),
        exceptions=("fill 1040, held: power cut (Marek Holubec)",),
        oxygen_mol=28.125,
        helium_mol=0.0,
        top_mol=301.5,
        notes=("windy\nquiet",),
        printed_at=samples.at(601),
        imperial=False,
        proof=samples.proof(3120),
    )  # fmt: skip


def sound(pdf: bytes) -> list[str]:
    assert paper.sizes_mm(pdf) == {(210.0, 297.0)}
    assert paper.unembedded_fonts(pdf) == []
    assert paper.flaws(pdf, 5.0) == []
    return paper.texts(pdf)


def test_the_sheet_states_the_day_and_the_head():
    (text,) = sound(pdf := day_sheet_pdf(view()))
    for said in ("2026-11-25", "Harbour Shed Fill Station", "by Jorunn Askelid", "by Marek Holubec",
                 "NOT IN ORDER: compressor intake: no, diesel", "o1 150bar@15C, he-3 180bar",
                 "15: 1 held, 14 collected", "28.1 mol", "0.90 kg", "and 2 older ones",
                 "fill 1040, held: power cut", "windy", "page 1 of 1",
                 view().proof.anchor):  # fmt: skip
        assert said in text, said
    assert "NOT CLOSED" not in text
    assert text.count("DO NOT BREATHE") == 1  # the held one; what is not collected was signed for
    image = paper.rasters(pdf)[0]
    assert paper.qr_texts(image) == [view().proof.anchor]
    assert paper.dark_pixels_around_qr(image, 37) == 0


def test_an_open_day_says_so():
    (text,) = sound(day_sheet_pdf(replace(view(), closed_at=None, closed_by="", since=None)))
    assert "NOT CLOSED" in text
    assert "no day was closed before" in text


def test_much_of_everything_runs_over_pages_and_nothing_is_lost():
    many = tuple(replace(FILL, fill=5000 + n) for n in range(200))
    long = replace(view(), waiting=(("not_collected", 200, many),),
                   exceptions=("goes on " * 300,))  # fmt: skip
    texts = sound(day_sheet_pdf(long))
    assert len(texts) > 3
    whole = " ".join(texts)
    assert all(f"fill {5000 + n}," in whole for n in range(200))
    assert whole.count("goes on") == 300
    for number, text in enumerate(texts, start=1):
        assert f"page {number} of {len(texts)}" in text
        assert view().proof.anchor in text


@pytest.mark.parametrize("nasty", samples.NASTY)
def test_no_text_breaks_the_sheet(nasty: str):
    fill = DayFill(1, nasty, nasty, nasty)
    sound(day_sheet_pdf(replace(
        view(), station_name=nasty, opened_by=nasty, closed_by=nasty,
        checks=((nasty, nasty, False),),
        banks=((nasty, nasty),), analysers=(nasty,), waiting=((nasty, 1, (fill,)),),
        exceptions=(nasty,), notes=(nasty,),
    )))  # fmt: skip


def test_an_amount_that_is_no_number_is_refused():
    with pytest.raises(InputError, match="amount"):
        day_sheet_pdf(replace(view(), oxygen_mol=float("nan")))


def test_same_day_is_the_same_bytes():
    assert day_sheet_pdf(view()) == day_sheet_pdf(view())


def test_long_lines_keep_clear_of_the_code():
    meters = tuple(f"analyser Oxy Number {n} was calibrated {n}.5 h ago" for n in range(4))
    pdf = day_sheet_pdf(replace(view(), analysers=meters))
    sound(pdf)
    code = paper.rasters(pdf)[0]
    assert paper.qr_texts(code) == [view().proof.anchor]
    beside = [
        glyph
        for glyph in paper.ink(pdf)[0]
        if glyph[3] > 173.0 and 297.0 - 60.0 < glyph[4] < 297.0 - 33.0
    ]
    assert beside == []
