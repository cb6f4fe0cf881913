from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from blender.errors import InputError, RefusedError
from blender.station.views import PostFacts
from reports.label import label_pdf, labels_sheet_pdf, stock_check_pdf
from reports.page import About, scaled_strokes
from reports.stock import label_stocks
from tests.reports import paper, samples

ORDINARY = {
    "nitrox": samples.nitrox_label(),
    "trimix": samples.trimix_label(),
    "imperial": samples.imperial_label(),
    "copy": replace(
        samples.nitrox_label(),
        copy_number=12,
        copied_at=samples.at(60 * 24 * 30),
        extra_lines=("MOD from 32.8 % read by Konstantin von Oberschleissheim-Hohenstein",),
    ),
}
NASTY = samples.nasty_labels()


def sound(pdf: bytes, width: float, height: float) -> None:
    """What holds for every label, whatever is written on it."""
    assert paper.sizes_mm(pdf) == {(width, height)}
    assert paper.unembedded_fonts(pdf) == []
    for text in paper.texts(pdf):
        assert "■" not in text
        assert "\x00" not in text
    assert paper.flaws(pdf, 1.2) == []


@pytest.mark.parametrize("name", ORDINARY)
def test_ordinary_labels_are_sound_and_their_code_reads(name):
    view = ORDINARY[name]
    pdf = label_pdf(view)
    sound(pdf, 100.0, 62.0)
    (image,) = paper.rasters(pdf, 4.0)
    assert paper.qr_texts(image) == [view.proof.anchor]
    assert paper.dark_pixels_around_qr(image, 37) == 0


@pytest.mark.parametrize("number", range(len(NASTY)))
def test_no_text_breaks_a_label(number):
    view = NASTY[number]
    pdf = label_pdf(view)
    sound(pdf, 100.0, 62.0)
    for image in paper.rasters(pdf, 4.0):
        assert paper.qr_texts(image) == [view.proof.anchor]


def test_the_checks_can_fail():
    overlapping = [("a", 0.0, 0.0, 2.0, 2.0), ("b", 1.0, 0.0, 3.0, 2.0)]
    assert paper.collisions(overlapping)
    assert paper.outside(overlapping, 100.0, 62.0, 1.2)
    for ground in (0, 255):  # black on black and white on white
        page = Image.new("RGB", (300, 186), (ground,) * 3)
        assert paper.unseen(page, [("a", 10.0, 10.0, 12.0, 12.0)], 1.0)


def test_a_code_survives_a_coarse_black_and_white_printer():
    # 203 dots per inch, ink or no ink: the coarsest label printers in use.
    (image,) = paper.rasters(label_pdf(samples.trimix_label()), 203.0 / 72.0)
    printed = image.convert("L").point(lambda grey: 255 if grey > 127 else 0)
    assert paper.qr_texts(printed) == [samples.trimix_label().proof.anchor]


def test_nothing_on_it_is_coloured():
    (image,) = paper.rasters(label_pdf(samples.trimix_label()))
    red, green, blue = image.convert("RGB").split()
    assert red.tobytes() == green.tobytes() == blue.tobytes()


def test_nitrox_states_what_was_analysed_and_rounds_shallower():
    (text,) = paper.texts(label_pdf(samples.nitrox_label()))
    for said in (
        "32.4 %",
        "not measured",
        "MOD at ppO₂ 1.40 bar 33 m 109 ft",
        "at 1.60 bar: 39 m / 129 ft",
        "sea level, salt water",
        "230 bar at 20 °C",
        "ANALYSE BEFORE USE",
        "local codes come first",
        "tested 2024-09",
        "inspected 2026-04",
        "Diver's reading O₂ 32.3 % He not measured 2026-11-25 14:10 +01:00",
        "Accepted Pieter Vandalen 2026-11-25 14:12 +01:00",
        "FILL 1042",
        "HARBOUR-2 · incarnation 1 · entry 1042 · head 3f2a 91bc 77d0 4e1c 5a0b",
    ):
        assert said in text
    for unsaid in ("HYPOXIC", "FLOOR", "COPY", "signed by typing"):
        assert unsaid not in text


def test_hypoxic_gas_says_its_floor_deeper():
    (text,) = paper.texts(label_pdf(samples.trimix_label()))
    for said in (
        "HYPOXIC · DO NOT BREATHE ABOVE 5 m / 17 ft",
        "12.1 %",
        "64.8 %",
        "COPY 2",
        "signed by typing Irena Carvalhosa",
        "Mirror Tarn, 612 m, fresh water: MOD 99 m / 327 ft, floor 6 m / 20 ft",
    ):
        assert said in text


def test_a_copy_says_so_with_the_day_it_was_made_and_is_dated_then(tmp_path):
    pdf = label_pdf(ORDINARY["copy"])
    (text,) = paper.texts(pdf)
    assert "COPY 12 · 2026-12-25" in text
    assert "Harbour Shed Fill Station" in text
    assert "MOD from 32.8 % read by Konstantin von" in text
    assert "Accepted Pieter Vandalen 2026-11-25 14:12 +01:00" in text
    (tmp_path / "copy.pdf").write_bytes(pdf)
    with pypdf.PdfReader(tmp_path / "copy.pdf") as reader:
        assert reader.metadata["/CreationDate"].startswith("D:20261225")


def test_the_second_partial_pressure_is_the_stations():
    (text,) = paper.texts(label_pdf(replace(samples.nitrox_label(), high_ppo2_bar=1.5)))
    assert "at 1.50 bar: 39 m / 129 ft" in text


def test_a_floor_without_hypoxia_still_stands_out():
    view = replace(samples.nitrox_label(), floor_m=2.0, floor_ft=6.6)
    (text,) = paper.texts(label_pdf(view))
    assert "FLOOR · DO NOT BREATHE ABOVE 2 m / 7 ft" in text


def test_imperial_station_has_its_units_first():
    (text,) = paper.texts(label_pdf(samples.imperial_label()))
    assert "95 ft 28 m" in text
    assert "3330 psi (230 bar) at 69 °F" in text
    assert "He 0.0 %" in text


def test_last_characters_of_each_serial_are_large():
    glyphs = paper.ink(label_pdf(samples.trimix_label()))[0]
    heights = {
        char: max(top - bottom for other, _, bottom, _, top in glyphs if other == char)
        for char in "KX"
    }
    tail = [top - bottom for char, left, bottom, _, top in glyphs if char == "7" and left < 60]
    assert max(tail) > 1.4 * heights["K"]


def test_lines_without_room_go_to_further_labels():
    lines = tuple(f"Lake number {number}: MOD {20 + number} m / 65 ft" for number in range(20))
    pdf = label_pdf(replace(samples.trimix_label(), extra_lines=lines))
    sound(pdf, 100.0, 62.0)
    first, *further = paper.texts(pdf)
    assert "FURTHER LABEL" not in first
    assert all("FURTHER LABEL: BELONGS WITH THE FIRST" in text for text in further)
    whole = " ".join([first, *further])
    assert all(line in whole for line in lines)


def test_a_line_longer_than_a_label_is_shortened_and_says_so():
    view = replace(samples.trimix_label(), extra_lines=("word " * 400, "the next line"))
    *_, long, last = paper.texts(label_pdf(view))
    assert "… = shortened; the record holds the text whole" in long
    assert "the next line" in last


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"analysed": samples.argon_label().analysed}, "not-breathable"),
        ({"floor_m": 40.0}, "not-breathable"),
    ],
)
def test_gas_nobody_may_breathe_gets_no_label(change, code):
    with pytest.raises(RefusedError) as refused:
        label_pdf(replace(samples.nitrox_label(), **change))
    assert refused.value.code == code


@pytest.mark.parametrize("field", ["mod_agreed_m", "floor_ft", "o2_percent", "pressure_bar"])
def test_numbers_that_are_none_are_refused(field):
    with pytest.raises(InputError):
        label_pdf(replace(samples.nitrox_label(), **{field: float("nan")}))


def test_unknown_stock_is_refused():
    with pytest.raises(InputError, match="roll-100x62"):
        label_pdf(samples.nitrox_label(), "parchment")


@pytest.mark.parametrize("stock", ["a4-8-100x62", "a4-8-99x68", "letter-8-100x62"])
def test_sheet_holds_eight_and_goes_on(stock):
    views = [replace(samples.nitrox_label(), fill=number) for number in range(2000, 2005)]
    pdf = labels_sheet_pdf(views, stock, first=5)
    sound(pdf, *((215.9, 279.4) if stock.startswith("letter") else (210.0, 297.0)))
    first, second = paper.texts(pdf)
    assert [f"FILL {number}" in first for number in range(2000, 2005)] == [True] * 3 + [False] * 2
    assert "FILL 2004" in second
    codes = [len(paper.qr_texts(image)) for image in paper.rasters(pdf)]
    assert codes == [3, 2]


def test_sheet_without_labels_or_beyond_its_end_is_refused():
    with pytest.raises(InputError):
        labels_sheet_pdf([])
    with pytest.raises(InputError):
        labels_sheet_pdf([samples.nitrox_label()], first=8)


@pytest.mark.parametrize("stock", label_stocks().values(), ids=lambda stock: stock.name)
def test_a_label_is_whole_on_every_stock(stock):
    view = samples.nitrox_label()
    pdf = label_pdf(view, stock.name)
    sound(pdf, stock.page_width, stock.page_height)
    assert paper.qr_texts(paper.rasters(pdf, 4.0)[0]) == [view.proof.anchor]


@pytest.mark.parametrize("stock", label_stocks())
def test_stock_check_page_shows_every_position(stock):
    about = About("Stock", "Check", "Harbour Shed", "", samples.at(0))
    (text,) = paper.texts(stock_check_pdf(stock, about))
    assert text.count("this line is 50 mm long") == label_stocks()[stock].per_page


@pytest.mark.parametrize("stock", label_stocks().values(), ids=lambda stock: stock.name)
def test_stock_lies_within_its_page(stock):
    x, y = stock.corner(stock.per_page - 1)
    assert x + stock.label_width <= stock.page_width + 1e-9
    assert y + stock.label_height <= stock.page_height + 1e-9


def test_file_says_what_it_is_and_is_dated_from_the_record(tmp_path):
    file = tmp_path / "label.pdf"
    file.write_bytes(label_pdf(samples.nitrox_label()))
    with pypdf.PdfReader(file) as reader:
        assert reader.metadata["/CreationDate"] == "D:20261125141200+01'00'"
        assert reader.metadata.title == "Label of fill 1042"
        assert reader.metadata.author == "Harbour Shed Fill Station"
        assert samples.nitrox_label().proof.anchor in reader.metadata["/Keywords"]
        root = reader.trailer["/Root"]
        assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"
        assert root["/Lang"] == "en"


_FRESH = """
import hashlib
from reports.label import label_pdf
from tests.reports import samples
data = label_pdf(samples.nitrox_label()) + label_pdf(samples.nasty_labels()[8])
print(hashlib.sha256(data).hexdigest())
"""


def test_same_label_is_the_same_bytes_in_any_process():
    ours = label_pdf(samples.nitrox_label()) + label_pdf(samples.nasty_labels()[8])
    env = {**os.environ, "PYTHONHASHSEED": "77", "SOURCE_DATE_EPOCH": "1", "TZ": "Asia/Tokyo"}
    env["PYTHONPATH"] = str(Path(__file__).parents[2])
    done = subprocess.run(
        [sys.executable, "-c", _FRESH], env=env, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == hashlib.sha256(ours).hexdigest()


pen = st.floats(-1e4, 1e4) | st.sampled_from([float("nan"), float("inf")])
points = st.tuples(pen, pen)


@given(st.lists(st.lists(points, max_size=6), max_size=4))
def test_strokes_stay_in_their_box(strokes):
    for stroke in scaled_strokes(strokes, 20.0, 8.0):
        for x, y in stroke:
            assert -1e-6 <= x <= 20.0 + 1e-6
            assert -1e-6 <= y <= 8.0 + 1e-6


POSTS = (PostFacts("KX204417", 18.0, 45.3), PostFacts("KX204422", 18.4, 44.8))


@pytest.mark.parametrize("helium", [True, False])
def test_a_sets_posts_are_both_large_where_they_differ(helium):
    posts = POSTS if helium else tuple(replace(one, he_percent=None) for one in POSTS)
    he = 44.8 if helium else None
    view = replace(samples.trimix_label(), o2_percent=18.4, he_percent=he, posts=posts)
    pdf = label_pdf(view)
    sound(pdf, 100.0, 62.0)
    text = " ".join(paper.texts(pdf)[0].replace("\xa0", " ").split())
    large = "18.0 % 18.4 % He as analysed 45.3 % 44.8 %" if helium else "18.0 / 18.4 %"
    assert set(large.split()) <= set(text.split())
    assert ("44.8" in text) is helium
    assert "…" not in text.partition("MOD")[0]
    assert "each post: KX204417 O₂ 18.0 %" in text


def test_posts_that_read_alike_are_one_figure():
    posts = tuple(replace(one, o2_percent=18.0, he_percent=45.0) for one in POSTS)
    view = replace(samples.trimix_label(), o2_percent=18.0, he_percent=45.0, posts=posts)
    text = " ".join(paper.texts(label_pdf(view))[0].replace("\xa0", " ").split())
    assert "18.0 /" not in text


def test_the_longest_serials_of_a_set_keep_the_label_whole():
    posts = tuple(replace(one, serial=name * 20) for one, name in zip(POSTS, "AB", strict=True))
    sound(label_pdf(replace(samples.trimix_label(), posts=posts)), 100.0, 62.0)
