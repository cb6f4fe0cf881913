"""The wall table on paper, as CSV and as a command: the stops of the table, and nothing clipped."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.errors import InputError
from blender.gas import parse_gas
from blender.planning.wall_table import WallRequest, wall_table
from reports.wall_csv import COLUMNS, wall_csv
from reports.wall_table import WallPaper, cell, wall_table_pdf
from tests.reports import paper, samples
from tui.cli import root
from tui.commands import wall

MIXES = ("EAN28", "EAN32", "EAN50", "18/45", "10/70")


def made(*, imperial: bool = False, residual: str = "21/35", rows: int = 21) -> WallPaper:
    request = WallRequest(
        parse_gas(residual),
        tuple(200.0 * row / (rows - 1) for row in range(rows)),
        tuple(parse_gas(name) for name in MIXES),
        200.0,
    )
    return WallPaper(wall_table(request), "Harbour Shed Fill Station", samples.at(0), imperial)


@pytest.mark.parametrize("imperial", [False, True])
@pytest.mark.parametrize("residual", ["air", "21/35"])
def test_the_page_is_whole_and_states_what_it_holds_for(imperial: bool, residual: str) -> None:
    pdf = wall_table_pdf(made(imperial=imperial, residual=residual))
    assert paper.unembedded_fonts(pdf) == []
    assert paper.flaws(pdf, 5.0) == []
    (text,) = paper.texts(pdf)
    for said in ("2900.8 psi" if imperial else "200 bar", f"onto {residual}", "GERG-2008",
                 "68 °F" if imperial else "20 °C", "Analyse every cylinder"):  # fmt: skip
        assert said in text.replace("\u00a0", " "), (said, text[:300])


def test_long_tables_go_on_over_pages() -> None:
    pdf = wall_table_pdf(made(rows=60))
    assert [f"page {number} of 3" in text for number, text in enumerate(paper.texts(pdf), 1)] == [
        True, True, True,
    ]  # fmt: skip


def test_a_drain_is_rounded_down_and_a_stop_to_the_nearest() -> None:
    request = WallRequest(parse_gas("EAN40"), (180.0,), (parse_gas("EAN32"),), 200.0)
    drained = WallPaper(wall_table(request), "", samples.at(0))
    # Drain to 111.462, worked out beforehand in pyaga8 (GERG-2008).
    assert cell(drained, 0, 0) == ("drain to 111.4", "top only")
    request = WallRequest(parse_gas("EAN28"), (60.0,), (parse_gas("EAN32"),), 230.0)
    assert cell(WallPaper(wall_table(request), "", samples.at(0)), 0, 0) == ("", "84.4")
    impossible = WallRequest(parse_gas("18/45"), (60.0,), (parse_gas("EAN32"),), 230.0)
    assert cell(WallPaper(wall_table(impossible), "", samples.at(0)), 0, 0) == ("", "—")


def test_the_csv_has_a_line_for_every_cell() -> None:
    table = made().table
    rows = list(csv.reader(io.StringIO(wall_csv(table))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 1 + table.final_bar.size
    for number, row in enumerate(rows[1:]):
        at = divmod(number, len(MIXES))
        assert row[2] == MIXES[at[1]]
        assert (row[6] == "") == bool(table.oxygen_bar[at] != table.oxygen_bar[at])
        if row[6]:
            assert float(row[6]) == pytest.approx(table.oxygen_bar[at], abs=5e-4)


def test_the_command_writes_what_it_says(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, sheet = tmp_path / "wall.pdf", tmp_path / "wall.csv"
    arguments = ["wall", "--want", "230bar", "--residual", "EAN28", "--mix", "EAN32,EAN36",
                 "--from", "60bar", "--to", "60bar", "--json", "--out", str(out), "--csv",
                 str(sheet)]  # fmt: skip
    root.main(arguments, standalone_mode=False)
    answer = json.loads(capsys.readouterr().out)
    assert round(answer["cells"][0]["oxygen_bar"], 3) == 84.425
    assert "drain_to_bar" not in answer["cells"][0]
    assert out.read_bytes().startswith(b"%PDF")
    assert sheet.read_text().startswith("residual,")


_TEXTS = st.one_of(
    st.text(max_size=12), st.sampled_from(["200bar", "EAN32", "20C", "0bar", "-1bar"])
)


_NAMED = (
    "residual", "from_", "to", "step", "oxygen", "helium", "top", "temperature", "settle_at",
    "ambient",
)  # fmt: skip


@settings(max_examples=150)
@given(
    st.fixed_dictionaries(
        {"want": _TEXTS},
        optional=dict.fromkeys(_NAMED, _TEXTS),
    ),
    st.lists(_TEXTS, max_size=2).map(tuple),
)  # fmt: skip
def test_hostile_text_is_only_ever_bad_input(facts: dict[str, str], mixes: tuple[str, ...]) -> None:
    try:
        table = wall.wall_table(wall.request(mixes=mixes, **facts))
    except InputError as error:
        assert error.text
    else:
        assert wall.lines(table)
