"""The report of an audit, and what its charts draw where."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from blender.record.verify import Report
from blender.station.audit import Alarm, AuditView, Noted
from blender.station.gas_balance import Balance
from reports.audit import audit_pdf
from reports.chart import Chart, Plotted, draw_chart
from reports.page import About, Page
from tests.reports import paper, samples

POINTS = tuple(
    Plotted(900 + place, f"2026-11-{1 + place % 28:02}", value, value / 2, 0.8, abs(value) > 1.6)
    for place, value in enumerate([0.1, -0.3, 0.4, 1.9, -0.2, 0.5, -1.8, 0.0, 0.3, 0.2])
)
CHART = {
    "cause": "gauge G1",
    "unit": "bar",
    "points": [
        {"fill": one.fill, "day": one.day, "value": one.value, "mean": one.mean,
         "upper": one.half, "lower": -one.half, "beyond": one.beyond}
        for one in POINTS
    ],
}  # fmt: skip
NOTED = Noted(samples.at(3), 1042, "held", "the power failed", "Marek Holubec", 77)
VIEW = AuditView(
    station_name="Harbour Shed Fill Station",
    first_day="2026-11-01",
    last_day="2026-11-30",
    fills=12,
    by_state=(("collected", 11), ("held", 1)),
    let_in_mol=(131.0, 72.8, 531.5),
    noted={"overrides": (NOTED,), "undone": (), "access": (), "exceptions": (NOTED, NOTED)},
    unsigned=("fill 9, VT0093158: held - DO NOT BREATHE",),
    copies=3,
    due_on="2026-11-30",
    due=("gauge G1: calibrated: due 2026-12-01",),
    accounts=("gone through last on 2026-02-01",),
    alarms=(Alarm("oxygen stops read 1.3 bar low", "31 fills", (1.26,)),),
    corrections=(),
    charts=(CHART,) * 5,
    balances=(Balance("o1", 400.0, 10.0, 98.5, 3, -30.0, 25.0, first_mol=50.0, in_hand_mol=311.5),),
    verified=Report("HARBOUR-2", 1, 1042, "H", []),
    printed_at=samples.at(90),
    proof=samples.proof(),
)


def sound(pdf: bytes) -> list[str]:
    assert paper.sizes_mm(pdf) == {(210.0, 297.0)}
    assert paper.flaws(pdf, 4.0) == []
    return paper.texts(pdf)


def test_it_says_all_it_found_and_draws_four_charts_a_page() -> None:
    texts = sound(audit_pdf(VIEW))
    assert len(texts) == 3
    for said in (
        "the chain is whole and every signature holds: 1042 entries",
        "12: 11 collected, 1 held",
        "2: 2 held",
        "o1: at first 50.0 mol + connected 400.0 mol = drawn 98.5 mol + left with bottles 10.0 mol "
        "+ in hand 311.5 mol + missing 30.0 mol; 3 readings",
        "3 readings find -30.0 mol ± 10.0 mol: DOES NOT CLOSE",  # 2 x the root of 25
        "fill 9, VT0093158: held - DO NOT BREATHE",
        "oxygen stops read 1.3 bar low (31 fills)",
    ):
        assert said in texts[0]
    assert [text.count("gauge G1 ") for text in texts[1:]] == [4, 1]
    assert "2 of 10 means beyond" in texts[1]
    assert "903" in texts[1]  # a fill beyond is named


@pytest.mark.parametrize("nasty", samples.NASTY)
def test_no_text_breaks_it(nasty: str) -> None:
    noted = {name: (replace(NOTED, text=nasty, by=nasty),) * 3 for name in VIEW.noted}
    chart = {**CHART, "cause": nasty}
    sound(audit_pdf(replace(VIEW, station_name=nasty, noted=noted, charts=(chart,), due=(nasty,))))


def _dark(points: tuple[Plotted, ...]) -> np.ndarray:
    """Return which rows of a chart's inside hold a mark larger than a line."""
    page = Page(100.0, 50.0, About("t", "t", "t", "", samples.at(0)))
    draw_chart(page, Chart("c", "bar", points), 0.0, 0.0, 100.0, 50.0)
    (image,) = paper.rasters(page.finish(), 8.0)
    grey = np.asarray(image.convert("L")) < 100
    per_mm = grey.shape[0] / 50.0
    left, right, top, bottom = (round(one * per_mm) for one in (15.0, 99.0, 8.0, 44.0))
    inside = grey[top:bottom, left:right]
    side = round(1.2 * per_mm)
    tall = np.lib.stride_tricks.sliding_window_view(inside, (side, side)).all(axis=(2, 3))
    return (tall.any(axis=1).nonzero()[0] + side / 2) / per_mm + 8.0


def test_a_mean_beyond_stands_where_its_value_is() -> None:
    # The half-height is the round number above 1.1 x 1.8: 2.0; +1.0 lies a quarter from the top.
    beyond = Plotted(7, "2026-11-01", 1.8, 1.0, 0.8, True)
    quiet = Plotted(8, "2026-11-02", -1.8, 0.0, 0.8, False)
    rows = _dark((quiet, beyond))
    assert rows.mean() == pytest.approx(7.0 + 38.0 * 0.25, abs=0.3)
    assert _dark((quiet, quiet)).size == 0
