from __future__ import annotations

import csv
import io
import unicodedata
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.fill_csv import COLUMNS, fill_csv, guarded
from tests.reports import samples


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_lines_come_back_as_they_are():
    view = samples.log(30)
    rows = read(fill_csv(view))
    assert len(rows) == 30
    for row, line in zip(rows, view.lines, strict=True):
        assert int(row["fill"]) == line.fill
        assert row["customer"] == line.customer
        assert float(row["oxygen_mol"]) == line.oxygen_mol
        assert row["station_he_percent"] == (
            "" if line.staff_he_percent is None else str(line.staff_he_percent)
        )
        assert row["record_anchor"] == view.proof.anchor
    assert rows[0]["requested_at"] == "2026-11-25 13:00 +01:00"


def test_empty_range_is_a_heading_line():
    text = fill_csv(samples.log(0))
    assert text.endswith("\r\n")
    assert text.count("\r\n") == 1
    assert text.split(",")[0] == "fill"
    assert len(text.split(",")) == len(COLUMNS) + 1


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        "+1",
        "-1",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\n=1",
        "  =1",
        "\u00a0@x",
        "\ufeff=1",
        "\u200b+1",
        "＝1",
        "＋1",
        "－1",
        "＠x",
        "\tplain",
    ],
)
def test_no_text_becomes_a_formula(text):
    assert guarded(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "plain", "12L", "KX-1", "a=b", "山田", "'quoted"])
def test_plain_text_is_left_alone(text):
    assert guarded(text) == text


def test_numbers_stay_plain():
    line = replace(samples.log_line(0), temperature_c=-4.5)
    (row,) = read(fill_csv(replace(samples.log(0), lines=(line,))))
    assert row["temperature_c"] == "-4.5"


cells = st.one_of(
    st.text(max_size=20),
    st.builds("".join, st.lists(st.sampled_from(list(" \t\r\n=+-@＝－\u200b\"',;ab")), max_size=8)),
)


@given(cells)
def test_any_text_in_any_cell_comes_back_and_is_no_formula(text):
    line = replace(samples.log_line(0), customer=text, cylinder=text, exceptions=(text,))
    document = fill_csv(replace(samples.log(0), lines=(line,)))
    document.encode("utf-8")
    (row,) = read(document)
    for cell in (row["customer"], row["cylinder"], row["exceptions"]):
        assert cell in (text, f"'{text}")
        shown = cell.lstrip(" \u00a0\u200b\ufeff\u3000\t\r\n")
        assert unicodedata.normalize("NFKC", shown[:1])[:1] not in tuple("=+-@")
        assert cell[:1] not in ("\t", "\r", "\n")


def test_a_lone_surrogate_does_not_stop_the_export():
    line = replace(samples.log_line(0), customer="\ud800")
    assert "\\ud800" in fill_csv(replace(samples.log(0), lines=(line,)))
