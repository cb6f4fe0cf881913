"""C2: a print of what was voided, amended or taken over says so, and by which entry."""

from __future__ import annotations

from dataclasses import replace

import pytest

from blender.station.views import LogLine
from reports.fill_csv import fill_csv
from reports.fill_log import fill_log_pdf
from reports.label import label_pdf
from tests.reports import samples
from tests.reports.paper import texts

VOID = "VOID by entry 57, entered by mistake: entered twice"
AMENDED = "AMENDED by entry 58: reading: 32.1 -> 36.1: misread"
MIND = "MIND, entry 58: 36.1 % oxygen: the MOD on the label is TOO DEEP"


@pytest.mark.parametrize("marks", [(VOID,), (AMENDED,), (AMENDED, MIND), (VOID, AMENDED, MIND)])
def test_c2_a_label_bears_its_marks(marks: tuple[str, ...]) -> None:
    for sample in (samples.nitrox_label(), samples.trimix_label()):
        text = " ".join(" ".join(texts(label_pdf(replace(sample, marks=marks)))).split())
        for mark in marks:
            assert mark in text
        assert text.count(marks[0].partition(" ")[0]) >= 2  # on a black field at its head, too


def test_c2_a_long_reason_goes_on_to_a_further_label() -> None:
    reason = "because " * 30
    marks = tuple(f"AMENDED by entry {n}: reading: 1 -> 2: {reason}" for n in range(60, 66))
    view = replace(samples.nitrox_label(), marks=marks)
    text = " ".join(" ".join(texts(label_pdf(view))).split())
    assert all(f"AMENDED by entry {n}" in text for n in range(60, 66))


def test_c2_the_log_bears_them_as_paper_and_as_csv() -> None:
    view = samples.log(3)
    lines: list[LogLine] = [replace(view.lines[0], marks=(VOID,)), *view.lines[1:]]
    marked = replace(view, lines=tuple(lines))
    assert VOID in fill_csv(marked)
    assert "VOID by entry 57" in " ".join(" ".join(texts(fill_log_pdf(marked))).split())
    assert "VOID" not in fill_csv(view)
