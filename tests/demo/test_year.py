"""The year: the same seed tells the same year, and the program finds what was sown in it."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from blender.record.journal import Record
from blender.record.verify import verify
from blender.station import book
from demo.station import COUNTER
from demo.year import run
from demo.year.customers import divers
from demo.year.run import FILLS, spread, year
from demo.year.tour import tour
from demo.year.troubles import DAYS, METERS, Troubles


def test_the_season_spreads_the_fills_and_loses_none() -> None:
    counts = spread(FILLS)
    assert sum(counts) == FILLS
    assert len(counts) == DAYS
    summer, winter = counts[120:180], counts[290:350]
    assert sum(summer) > 2 * sum(winter)


def test_divers_are_told_apart() -> None:
    known = divers(random.Random(1), 90)
    assert len({one.name for one in known}) == len({one.serial for one in known}) == 90
    assert sum(one.certified == "air" for one in known) == 3


def test_instruments_err_only_while_their_trouble_lasts() -> None:
    sown = Troubles()
    assert sown.oxygen_gauge(sown.gauge_from - 1).shows(80.0) == pytest.approx(80.0, abs=0.5)
    assert sown.oxygen_gauge(sown.gauge_from).shows(80.0) == pytest.approx(78.7, abs=0.5)
    south = METERS[1]
    assert sown.ageing(south, sown.cell_from - 1) is south
    low = sown.ageing(south, sown.cell_from + 30).slope * (32.0 - 20.9)
    assert low == pytest.approx(-0.6)
    assert sown.leaks(0) == sown.leaks(sown.leak_until) == 0.0
    assert COUNTER.name not in {one.name for one in METERS}


def test_a_short_year_is_whole_and_the_same_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(run, "DAYS", 8)
    told: list[int] = []
    made = [year(tmp_path / name, fills=9, told=told.append) for name in ("a", "b")]
    assert told[7] == made[0].fills == 9
    assert verify(made[0].database).ok
    lines = []
    for one in made:
        with Record.open(one.database, readonly=True) as record:
            rows = book.fills(record)["fills"]
        lines.append([(row["state"], row["analysed"], row["requested_at"]) for row in rows])
    assert lines[0] == lines[1]
    seen = tour(made[0], "fillwright")
    assert len(seen.found) == 3
    assert any("book audit" in line for line in seen.lines)
    first, second, third = seen.lines[seen.lines.index("To look at:") + 1 :][:3]
    assert "drift chart 'analyser A-SOUTH' --until 2025-07-30" in first  # the 149th day's evening
    assert "drift chart 'gauge G-OX'" in second
    assert "book audit --from 2025-09-04 --to 2025-10-01" in third  # the days it leaks
    assert "B-RIGHT DOES NOT CLOSE" in third


@pytest.mark.soak
def test_the_program_finds_all_three_troubles(tmp_path: Path) -> None:
    seen = tour(year(tmp_path, FILLS), "fillwright")
    assert seen.report.ok
    for trouble, sentence in seen.found.items():
        assert sentence, trouble
    knock = seen.found["an oxygen gauge that took a knock"]
    assert knock is not None
    assert "oxygen stops read 1." in knock  # 1.3 bar were sown
    assert "low since 2025-1" in knock  # from the 240th day, 2025-10-29
