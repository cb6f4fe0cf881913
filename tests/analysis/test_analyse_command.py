"""The answer of `fillwright analyse` from what was typed."""

from __future__ import annotations

import contextlib
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.errors import InputError
from tui.commands.analyse import answer, lines

SET = {"calibrated": "air@20.9", "calibration_air": "20C/50%"}


def codes(figures):
    return [w["code"] for w in figures["warnings"]]


def test_disputed_analysis():  # D: 32.095 %, MOD 33.621 -> 33 m
    figures = answer("32.4", **SET, wanted="EAN32")
    assert figures["o2"] == pytest.approx(0.32095, abs=3e-5)
    assert figures["he"] is None
    assert figures["decision"] == "accept"
    assert figures["mod_m"] == pytest.approx(33.621, abs=0.005)
    assert (figures["mod_m_shown"], figures["mod_ft_shown"]) == (33, 110)
    assert 0.004 < figures["o2_uncertainty"] < 0.01
    assert figures["warnings"] == []
    json.dumps(figures, allow_nan=False)


def test_without_a_calibration_the_reading_stands_and_is_less_certain():
    bare, stated = answer("32.4"), answer("32.4", **SET)
    assert bare["o2"] == pytest.approx(0.324, rel=1e-12)
    assert bare["calibration"] is None
    assert bare["o2_uncertainty"] > 1.5 * stated["o2_uncertainty"]
    assert codes(bare) == ["calibration-unstated"]
    assert bare["decision"] is None


def test_uncertainty_depends_on_the_reading():
    assert answer("80", **SET)["o2_uncertainty"] > answer("32", **SET)["o2_uncertainty"]


def test_the_edge_as_typed_is_inside():
    assert answer("33.0", wanted="EAN32")["decision"] == "accept"
    assert answer("33,1", wanted="EAN32")["decision"] == "relabel"


def test_helium_reading_needed():
    with pytest.raises(InputError, match="helium reading needed") as caught:
        answer("18", wanted="18/45")
    assert (caught.value.exit_code, caught.value.code) == (2, "helium-needed")


def test_trimix_with_both_readings():
    figures = answer("18.2%", helium="44,1%", wanted="18/45")
    assert figures["decision"] == "accept"
    assert figures["he"] == pytest.approx(0.441)
    assert figures["he_uncertainty"] is None


def test_calibration_elsewhere_is_refused():
    with pytest.raises(InputError, match="calibrate here first"):
        answer("25.107", calibrated="air@20.9", ambient="795mbar")
    here = answer("32", calibrated="air@20.9", ambient="795mbar", calibration_ambient="0.795bar")
    assert here["o2"] == pytest.approx(0.32)


def test_cautions():
    assert codes(answer("32", calibrated="air@20.9")) == ["calibration-air-unstated"]
    assert codes(answer("99", calibrated="oxygen@100", calibration_air="20C/50%")) == ["air-unused"]
    assert "hypoxic" in codes(answer("10", helium="70", **SET))
    assert "not-breathable" in codes(answer("0", helium="99.9"))
    assert answer("0")["mod_m"] is None


def test_oxygen():
    figures = answer("100.4", calibrated="oxygen@100", wanted="oxygen")
    assert (figures["o2"], figures["decision"]) == (1.0, "accept")
    assert answer("98.5", wanted="oxygen")["decision"] == "relabel"


@pytest.mark.parametrize(
    ("options", "field"),
    [
        ({"reading": "wet"}, "--reading"),
        ({"reading": "-1"}, "--reading"),
        ({"reading": "101"}, "--reading"),
        ({"reading": "120"}, "--reading"),
        ({"reading": "32,400"}, "--reading"),
        ({"reading": "32", "helium": "x"}, "--helium"),
        ({"reading": "32", "helium": "-2"}, "--helium"),
        ({"reading": "60", "helium": "50"}, "--helium"),
        ({"reading": "32", "calibrated": "air"}, "--calibrated"),
        ({"reading": "32", "calibrated": "air@"}, "--calibrated"),
        ({"reading": "32", "calibrated": "air@0"}, "--calibrated"),
        ({"reading": "32", "calibrated": "oxygen@20.9"}, "--calibrated"),
        ({"reading": "32", "calibrated": "helium@20.9"}, "--calibrated"),
        ({"reading": "32", "calibration_air": "20C/50%"}, "--calibration-air"),
        (
            {"reading": "32", "calibrated": "air@20.9", "calibration_air": "20C"},
            "--calibration-air",
        ),
        ({"reading": "32", "ambient": "795mbar"}, "--ambient"),
        ({"reading": "32", "ambient": "3bar"}, "--ambient"),
        ({"reading": "32", "calibration_ambient": "1"}, "--calibration-ambient"),
        ({"reading": "32", "wanted": "argon"}, "--wanted"),
        ({"reading": "32", "wanted": "helium"}, "--wanted"),
        ({"reading": "32", "wanted": "EAN"}, "--wanted"),
    ],
)
def test_bad_input_names_its_option(options, field):
    with pytest.raises(InputError) as caught:
        answer(**options)
    assert caught.value.field == field
    assert caught.value.exit_code == 2


OPTIONS = [
    "reading",
    "helium",
    "calibrated",
    "calibration_air",
    "calibration_ambient",
    "ambient",
    "wanted",
]


@given(st.text(max_size=30), st.sampled_from(OPTIONS))
def test_hostile_text_is_only_ever_bad_input(text, option):
    options = {"reading": "32.4", "calibrated": "air@20.9", option: text}
    with contextlib.suppress(InputError):
        json.dumps(answer(**options), allow_nan=False)


@pytest.mark.parametrize(
    "options",
    [
        {"reading": "32.4", **SET, "wanted": "EAN32"},
        {"reading": "10", "helium": "60", "wanted": "10/70"},
        {"reading": "0", "wanted": "EAN32"},
        {"reading": "35", "calibrated": "air@20.9", "wanted": "EAN32"},
    ],
)
def test_lines_fit_one_screen(options):
    text = lines(answer(**options))
    assert len(text) < 24
    assert max(map(len, text)) <= 80


def test_lines_say_what_was_decided_and_why():
    text = "\n".join(lines(answer("35", **SET, wanted="EAN32")))
    for shown in ("RELABEL", "more than 1.0 points from 32.0 %", "not measured", "k = 2"):
        assert shown in text
