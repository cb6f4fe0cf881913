from __future__ import annotations

import math
import re
import time
from dataclasses import replace

import pytest

from blender.errors import InputError
from reports.fill_log import fill_log_pdf
from reports.totals import litres, totals
from tests.reports import paper, samples


def sound(pdf: bytes) -> list[str]:
    assert paper.sizes_mm(pdf) == {(297.0, 210.0)}
    assert paper.unembedded_fonts(pdf) == []
    assert paper.flaws(pdf, 5.0) == []
    return paper.texts(pdf)


def test_log_has_every_fill_page_numbers_and_the_record_on_each_page():
    view = samples.log(45)
    pdf = fill_log_pdf(view)
    texts = sound(pdf)
    for number, text in enumerate(texts, start=1):
        assert f"page {number} of {len(texts)}" in text
        assert view.proof.anchor in text
        assert "Fill, state, entry" in text
        assert "Exceptions" in text
    whole = " ".join(texts)
    for line in view.lines:
        assert re.search(rf"\b{line.fill} {line.state} entry {line.seq}\b", whole)
    assert "readings differ by 0.9 points, released by a manager" in whole
    image = paper.rasters(pdf)[-1]
    assert paper.qr_texts(image) == [view.proof.anchor]
    assert paper.dark_pixels_around_qr(image, 37) == 0


def test_a_fill_that_got_nowhere_shows_dashes_not_zeros():
    line = replace(samples.log_line(3), staff_o2_percent=None, pressure_bar=None, gauge="")
    (text,) = paper.texts(fill_log_pdf(replace(samples.log(0), lines=(line,))))
    assert "He 0.0 Panel" not in text
    assert "— — Twin Cell 2 — at 20 °C" in text or "— — Twin Cell 2 —" in text


def test_sums_are_those_of_the_lines():
    view = samples.log(60)
    sums = totals(view.lines)
    assert sums.oxygen_mol == pytest.approx(math.fsum(28.125 + n for n in range(60)), abs=1e-9)
    assert sums.helium_mol == pytest.approx(20 * 412.75, abs=1e-9)
    assert sum(count for _, count in sums.by_state) == sums.fills == 60
    assert sums.exceptions == sum(1 for line in view.lines if line.exceptions) == 9
    whole = " ".join(paper.texts(fill_log_pdf(view)))
    assert "60: 12 filling, 12 accepted, 12 collected, 12 rejected, 12 quarantined" in whole
    for name, amount in (("Oxygen", sums.oxygen_mol), ("Helium", sums.helium_mol)):
        found = re.search(rf"{name} let in ([\d.]+) mol = (\d+) L = ([\d.]+) kg", whole)
        assert found is not None
        assert float(found[1]) == pytest.approx(amount, abs=0.05)
        # CODATA 2018: the molar volume of an ideal gas at 273.15 K and 101325 Pa is
        # 22.41396954 L/mol; standard atomic weights (IUPAC): O 15.999, He 4.0026.
        assert float(found[2]) == pytest.approx(amount * 22.41396954, abs=0.6, rel=1e-5)
        molar = {"Oxygen": 2 * 15.999e-3, "Helium": 4.0026e-3}[name]
        assert float(found[3]) == pytest.approx(amount * molar, abs=0.006, rel=1e-4)
    assert "ideal gas at 0 °C and 1.01325 bar" in whole


def test_litre_is_the_molar_volume_of_codata():
    assert litres(1.0) == pytest.approx(22.41396954, rel=2e-6)


def test_unknown_states_are_counted_too():
    lines = (replace(samples.log_line(0), state="wandering"), samples.log_line(1))
    assert totals(lines).by_state == (("accepted", 1), ("wandering", 1))


def test_an_amount_that_is_no_number_is_refused():
    line = replace(samples.log_line(0), helium_mol=float("inf"))
    with pytest.raises(InputError, match="amount"):
        fill_log_pdf(replace(samples.log(0), lines=(line,)))


def test_empty_range_says_so():
    (text,) = sound(fill_log_pdf(samples.log(0)))
    assert "No fill was requested from 2026-11-25 to 2026-11-30." in text
    assert "page 1 of 1" in text
    assert "Fills 0" in text


def test_no_text_breaks_the_log_and_none_is_lost():
    view = samples.nasty_log()
    texts = sound(fill_log_pdf(view))
    whole = " ".join(texts)
    assert whole.count("goes") == 400
    assert "continued" in whole
    assert "=1+1" in whole


def test_imperial_log_has_both_units():
    (text,) = sound(fill_log_pdf(replace(samples.log(3), imperial=True)))
    assert "3330 psi (230 bar) at 69 °F" in text
    assert "cu ft" in text
    assert "lb" in text


def test_a_thousand_fills_take_a_reasonable_time():
    start = time.process_time()
    pdf = fill_log_pdf(samples.log(1000))
    assert time.process_time() - start < 10.0
    assert len(pdf) < 2_000_000


def test_same_log_is_the_same_bytes():
    assert fill_log_pdf(samples.log(5)) == fill_log_pdf(samples.log(5))
