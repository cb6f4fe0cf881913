from __future__ import annotations

import re
from dataclasses import replace

import pytest

from reports.tag import tag_pdf
from tests.reports import paper, samples

NASTY = samples.nasty_tags()


def sound(pdf: bytes) -> list[str]:
    assert paper.sizes_mm(pdf) == {(100.0, 150.0)}
    assert paper.unembedded_fonts(pdf) == []
    assert paper.flaws(pdf, 1.5) == []
    texts = paper.texts(pdf)
    for text in texts:
        assert "DO NOT BREATHE" in text
        assert "FILL 1043" in text
        assert "■" not in text
    return texts


def test_tag_at_the_start_carries_the_plan():
    pdf = tag_pdf(samples.tag())
    (text,) = sound(pdf)
    for said in (
        "FILLING DO NOT BREATHE",
        "18/45 to 230 bar at 20 °C · partial-pressure",
        "62 bar at 18 °C of EAN28 (analysed)",
        "add helium from he-3 141.5 bar gas at 27 °C from 38.0 bar O₂ 7.4 % He 77.1 %",
        "reading taken",
        "Started 2026-11-25 13:20 +01:00 by Marek Holubec",
        "hot-stop",
        "local codes come first",
    ):
        assert said in text
    (image,) = paper.rasters(pdf)
    assert paper.qr_texts(image) == [samples.tag().proof.anchor]
    assert paper.dark_pixels_around_qr(image, 37) == 0


def test_held_cylinder_says_what_is_in_it():
    (text,) = sound(tag_pdf(samples.held_tag()))
    assert "IN PROGRESS DO NOT BREATHE O2 7.4 % He 77.1 % (calculated)" in text


@pytest.mark.parametrize("state", ["resting", "recheck", "correcting", "analysed"])
def test_every_state_before_acceptance_is_in_progress(state):
    (text,) = paper.texts(tag_pdf(replace(samples.tag(), state=state)))
    assert "IN PROGRESS DO NOT BREATHE" in text


def test_quarantine_is_said():
    (text,) = paper.texts(tag_pdf(replace(samples.tag(), state="quarantined")))
    assert "QUARANTINED DO NOT BREATHE" in text


def test_imperial_tag_has_psi_first_and_bar_too():
    (text,) = sound(tag_pdf(replace(samples.tag(), imperial=True)))
    assert "2052 psi 141.5 bar gas at 81 °F" in text


@pytest.mark.parametrize("number", range(len(NASTY)))
def test_no_text_breaks_a_tag(number):
    pdf = tag_pdf(NASTY[number])
    sound(pdf)
    for image in paper.rasters(pdf, 4.0):
        assert paper.qr_texts(image) == [NASTY[number].proof.anchor]


def test_many_stops_and_warnings_go_on_whole():
    many = NASTY[len(samples.NASTY)]
    texts = paper.texts(tag_pdf(many))
    assert sum(text.count("add helium") for text in texts) == len(many.stops) == 40
    assert [re.findall(r"tag (\d) of (\d)", text) for text in texts] == [
        [(str(number), str(len(texts)))] for number in range(1, len(texts) + 1)
    ]
    warned = " ".join(paper.texts(tag_pdf(NASTY[-1])))
    assert warned.count("mind") == 12 * 12


def test_same_tag_is_the_same_bytes():
    assert tag_pdf(samples.tag()) == tag_pdf(samples.tag())


def test_a_note_of_two_lines_stays_above_the_rule_below_it():
    view = samples.tag()
    told = "not faster than 5 bar/min, o1 falls to 174"
    noted = replace(view, stops=tuple(replace(stop, note=told) for stop in view.stops))
    (page,) = paper.ink(tag_pdf(noted))
    rules = [150.0 - down for down in _rows(view)]
    assert len(rules) >= len(view.stops)
    for char, left, bottom, right, top in page:
        assert not any(bottom < rule < top for rule in rules if left > 9.0 and right < 36.0), char


def _rows(view):
    """Where the rules below the stops lie, from the picture: dark over the whole width [mm]."""
    image = paper.rasters(tag_pdf(view), 8.0)[0].convert("L")
    per_mm = image.height / 150.0
    found = []
    for y in range(round(60 * per_mm), round(110 * per_mm)):
        row = [image.getpixel((round(x * per_mm), y)) < 140 for x in (6, 20, 40, 60, 90)]
        if all(row):
            found.append(y / per_mm)
    return found
