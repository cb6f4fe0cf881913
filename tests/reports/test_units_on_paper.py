"""Papers in psi, degF and cubic feet: figures of the exact values, inside the page, on both sheets.

3000 psi are 206.8427 bar: 1 psi = 6894.757 Pa and 1 cu ft = 0.0283168 m3 by NIST SP 811, table
B.8 (from memory).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from blender.station.analyser_care import CarePage
from blender.station.audit import Alarm
from blender.station.views import PostFacts
from reports.audit import audit_pdf
from reports.calibration_page import calibration_pdf
from reports.cylinder_page import cylinder_page_pdf
from reports.fill_log import fill_log_pdf
from reports.in_units import exact
from reports.receipt import receipt_pdf
from tests.reports import paper, samples
from tests.reports.test_audit import CHART, NOTED, VIEW
from tests.reports.test_small_papers import FILL, HISTORY, RECEIPT

SHEETS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
CARE = CarePage(
    "Harbour Shed Fill Station",
    {"name": "A1", "retired": None, "fresh": True, "fresh_text": "A1 was calibrated 1 h ago",
     "set": {"at": "2026-11-25", "gas": "air", "reading": "20.7", "ambient": "1.01325bar",
             "air": "20C/50%", "by": "Mara Linde", "seq": 9},
     "checks": [], "drift_points_month": None, "linearity": None, "helium": None, "cells": []},
    samples.at(90), samples.proof(), imperial=True,
)  # fmt: skip


def sound(pdf: bytes, sheet: str) -> str:
    (size,) = paper.sizes_mm(pdf)
    assert size == pytest.approx(SHEETS[sheet], abs=0.1)
    assert paper.flaws(pdf, 4.0) == []
    return " ".join(" ".join(paper.texts(pdf)).split())


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_audit_and_its_charts_are_in_psi_where_that_is_wanted(sheet: str) -> None:
    noted = replace(NOTED, text="read 207 bar at 20 °C", known={"at_mbar": 206843, "at_mk": 293650})
    view = replace(
        VIEW, imperial=True, noted={**VIEW.noted, "overrides": (noted,)},
        corrections=({"gauge": "G1", "by_bar": 0.55, "since": "2026-03-12", "reason": "r",
                      "signed": {"at": "2026-03-12", "by": "J", "seq": 3}},),
        due=("cylinder C-1: working pressure 232 bar",),
        alarms=(Alarm("oxygen stops read 1.3 bar low", "+1.26 +- 0.80 bar (k = 2)", (1.26, 0.8)),),
    )  # fmt: skip
    text = sound(audit_pdf(view, sheet), sheet)
    assert "read 3000 psi at 69 °F" in text  # 207 bar would be 3002, 20 degC 68
    assert "oxygen stops read 18.3 psi low" in text  # 1.26 bar; of the rounded 1.3 it were 18.9
    assert "+18.3 ± 11.6 psi (k = 2)" in text  # its evidence, too: 1.26 and 0.80 bar
    assert "gauge G1 by +8 psi" in text  # 0.55 bar is 7.98; of 0.6 it were 8.7
    assert "cu ft" in text
    assert "0 psi" in text  # the middle of a chart's axis names its unit
    assert " bar" not in text


def test_a_chart_in_psi_has_the_same_shape_on_another_scale() -> None:
    metric, other = (sound(audit_pdf(replace(VIEW, imperial=one, charts=(CHART,))), "a4")
                     for one in (False, True))  # fmt: skip
    assert "2 of 10 means beyond" in metric
    assert "2 of 10 means beyond" in other
    assert "-2.5 0 bar +2.5 +5 " in metric  # values up to 1.9, and room above
    assert "-25 0 psi +25 +50 " in other  # up to 27.6


def test_an_analysers_points_stay_points() -> None:
    chart = {**CHART, "cause": "analyser A1", "unit": "points"}
    text = sound(audit_pdf(replace(VIEW, imperial=True, charts=(chart,))), "a4")
    assert "0 points" in text


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_cylinders_page_is_of_the_exact_pressures(sheet: str) -> None:
    fill = replace(
        FILL, gas="analysed O2 32.4 %, 207 bar", pressures_bar=(206.8427,), customer="K" * 120
    )
    view = replace(
        HISTORY, imperial=True, fills=(fill,), marking="15L, working pressure 206.843 bar",
        pressures_bar=(206.8427,),
    )  # fmt: skip
    text = sound(cylinder_page_pdf(view, sheet), sheet)
    assert "working pressure 3000 psi" in text
    assert "analysed O2 32.4 %, 3000 psi" in text


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_receipt_is_in_cubic_feet_and_comes_to_the_same(sheet: str) -> None:
    text = sound(receipt_pdf(replace(RECEIPT, imperial=True, customer="K" * 120), sheet), sheet)
    assert "o1: 17.66 cu ft of free gas at 18.41 for 100 cu ft: 3.25" in text
    assert "Total 5.25" in text
    assert "m³" not in text


@pytest.mark.parametrize("sheet", SHEETS)
def test_the_calibration_page_says_both_what_it_is_and_what_was_typed(sheet: str) -> None:
    text = sound(calibration_pdf(CARE, sheet), sheet)
    assert "at 14.70 psi (typed 1.01325bar), room air 68 °F, 50% damp (typed 20C/50%)" in text
    metric = sound(calibration_pdf(replace(CARE, imperial=False), sheet), sheet)
    assert "at 1.01325bar, room air 20C/50%" in metric


def test_an_entrys_whole_numbers_are_figures_too() -> None:
    found = exact({"at_mbar": 206843, "new": {"temp_mk": 293150}})
    assert found.pressures == (206.843,)
    assert found.temperatures == pytest.approx((20.0,))


def test_an_alarm_without_a_gauge_has_no_pressures() -> None:
    assert Alarm("a", "b").biases_bar == ()


def test_the_logs_sentences_are_of_the_exact_pressures_too() -> None:
    (line,) = samples.log(1).lines
    line = replace(
        line, residual="50 bar of EAN28", wanted="EAN32 to 207 bar", pressures_bar=(206.8427, 50.3),
        exceptions=("leak: 4.5 bar less than expected",),
    )  # fmt: skip
    pdf = fill_log_pdf(replace(samples.log(1), imperial=True, lines=(line,)))
    text = " ".join(" ".join(paper.texts(pdf)).split())
    assert "EAN32 to 3000 psi" in text
    assert "730 psi of EAN28" in text  # 50 bar would be 725
    assert "leak: 65.3 psi less than expected" in text


def test_the_log_has_each_post_of_a_set() -> None:
    (line,) = samples.log(1).lines
    posts = (PostFacts("T-1", 18.0, 45.3), PostFacts("T-2", 18.4, 44.8))
    text = " ".join(
        paper.texts(fill_log_pdf(replace(samples.log(1), lines=(replace(line, posts=posts),))))
    )
    words = text.replace("\xa0", " ")
    assert "18.0" in words
    assert "18.4" in words
