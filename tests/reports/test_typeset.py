from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase import pdfmetrics

from reports.fonts import MISSING_SIGN, Mark, runs, shown, width_mm
from reports.typeset import fit_area, fit_line, fit_lines, wrap

any_text = st.text(max_size=60)


@given(any_text, st.booleans())
def test_no_glyph_is_ever_missing_in_silence(text, bold):
    said = shown(text)
    for font, piece in runs(said.text, bold):
        glyphs = pdfmetrics.getFont(font).face.charToGlyph
        assert all(ord(char) in glyphs for char in piece)
    assert "".join(piece for _, piece in runs(said.text, bold)) == said.text
    if said.text != text:
        assert said.marks


@pytest.mark.parametrize(
    "name",
    ["Ελένη Παπαδάκη", "Łucja Źdźbło", "山田 太郎", "ひらがな", "김민수", "Жанна", "O₂ ≤ ☐ → °C"],
)
def test_names_print_as_they_are(name):
    assert shown(name).text == name
    assert not shown(name).marks


@pytest.mark.parametrize(
    ("text", "printed", "mark"),
    [
        ("a\u202eb", "a\\u{202E}b", Mark.HIDDEN),
        ("a\nb", "a\\u{000A}b", Mark.HIDDEN),
        ("a\u200bb", "a\\u{200B}b", Mark.HIDDEN),
        ("a\u3164b", "a\\u{3164}b", Mark.HIDDEN),
        ("\ud800", "\\u{D800}", Mark.HIDDEN),
        ("🤿", MISSING_SIGN, Mark.MISSING),
        ("ह", MISSING_SIGN, Mark.MISSING),
        ("דנה", "דנה", Mark.RTL),
    ],
)
def test_what_is_not_printed_as_stored_is_declared(text, printed, mark):
    assert shown(text).text == printed
    assert mark in shown(text).marks


@given(any_text, st.floats(8.0, 60.0), st.floats(4.0, 12.0))
def test_wrapped_lines_fit_and_lose_nothing(text, width, size):
    said = shown(text).text
    lines = wrap(said, width, size)
    assert "".join(lines).replace(" ", "") == said.replace(" ", "")
    for line in lines:
        assert width_mm(line, size) <= width + 1e-6 or len(line) == 1


@given(any_text, st.floats(12.0, 60.0))
def test_fitted_text_fits_and_says_when_shortened(text, width):
    one = fit_line(text, width, 9.0, 5.0)
    assert width_mm(one.lines[0], one.size_pt) <= width + 1e-6
    assert one.lines[0] == shown(text).text or Mark.CUT in one.marks
    some = fit_lines(text, width, 2, 9.0, 5.0)
    assert len(some.lines) <= 2
    assert all(width_mm(line, some.size_pt) <= width + 1e-6 for line in some.lines)
    kept = "".join(some.lines).replace(" ", "")
    assert kept == shown(text).text.replace(" ", "") or Mark.CUT in some.marks


def test_area_shrinks_before_it_shortens():
    text = "word " * 20
    roomy = fit_area(text, 50.0, 20.0, 9.0, 5.0)
    tight = fit_area(text, 50.0, 6.5, 9.0, 5.0)
    hopeless = fit_area(text, 50.0, 2.5, 9.0, 5.0)
    assert roomy.size_pt == 9.0
    assert tight.size_pt < 9.0
    assert Mark.CUT not in tight.marks
    assert Mark.CUT in hopeless.marks


def test_the_wide_font_is_read_only_when_needed():
    code = (
        "from reports.fonts import runs; from reportlab.pdfbase import pdfmetrics as p;"
        "runs('Jorunn', True); assert 'FillWide' not in p.getRegisteredFontNames();"
        "runs('山', True); assert 'FillWide' in p.getRegisteredFontNames()"
    )
    root = Path(__file__).parents[2]
    subprocess.run([sys.executable, "-c", code], cwd=root, check=True)
