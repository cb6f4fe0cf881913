"""A book of a million fills, loaded in bulk straight into the read tables, for the bench.

Only what a list, a search and a glance read is there: the journal behind it holds the
founding alone.
"""

from __future__ import annotations

import hashlib
import random
import shutil
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from blender.record.models import (
    AnalyserRow,
    AnalysisRow,
    CylinderRow,
    FillRow,
    PersonRow,
    StepRow,
)
from blender.record.project import TABLES
from blender.record.projection import table
from blender.record.schema import expected
from tests.station.shop import START_US, found

CYLINDERS, PEOPLE, BLENDERS, OPEN = 20_000, 10_000, 6, 30
_PART = 50_000
_MIXES = ((0.32, 0), (0.36, 0), (0.2095, 0), (0.18, 0.45), (0.28, 0))
_FIRST = ("Alba", "Bruno", "Carla", "Dario", "Edda", "Falk", "Gitta", "Henk", "Imke", "Jorn")
_LAST = ("Reed", "Stone", "Marsh", "Kelp", "Dune", "Shoal", "Brine", "Ebb", "Skerry", "Fathom")


def million(folder: Path, fills: int = 1_000_000) -> Path:
    """Make the station under a folder, or find it there, and return its file.

    It is made again where this file or the tables have changed since.
    """
    made = Path(__file__).read_bytes() + "".join(expected(TABLES).values()).encode()
    place = folder / f"{fills}-{hashlib.sha256(made).hexdigest()[:16]}"
    if not place.exists():
        half = folder / f"{place.name}.half"  # a run that was broken off is not taken for whole
        shutil.rmtree(half, ignore_errors=True)
        half.mkdir(parents=True)
        found(half)
        _load(half / "station.db", fills)
        half.rename(place)
    return place / "station.db"


def _load(path: Path, fills: int) -> None:
    """Fill the tables without their indexes, and make those at the end: a third of the time."""
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        for setting in ("journal_mode=OFF", "synchronous=OFF", "cache_size=-200000"):
            raw.execute(f"PRAGMA {setting}")
        indexes = raw.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL"
            " AND tbl_name IN ('fill', 'analysis')"
        ).fetchall()
        for name, _ in indexes:
            raw.execute(f"DROP INDEX {name}")
        raw.execute("BEGIN")
        _rows(raw, fills)
        for _, text in indexes:
            raw.execute(text)
        raw.execute("COMMIT")


def _rows(raw: sqlite3.Connection, fills: int) -> None:
    dice = random.Random(7)
    _put(raw, PersonRow, _people(dice))
    _put(raw, CylinderRow, _cylinders())
    _put(raw, AnalyserRow, ({"name": f"A{n}", "seq": 1} for n in range(3, 8)))
    for first in range(1, fills + 1, _PART):
        last = min(first + _PART, fills + 1)
        rows = [_fill(number, fills, dice) for number in range(first, last)]
        _put(raw, FillRow, rows)
        _put(raw, AnalysisRow, (_analysis(row) for row in rows if row["o2_ppm"] >= 0))
    numbers = range(fills - OPEN + 1, fills + 1)
    _put(raw, StepRow, (step for number in numbers for step in _steps(number)))


def _put(raw: sqlite3.Connection, model: type, rows: Iterable[dict[str, Any]]) -> None:
    """Insert rows; a column they do not have is 0 or empty."""
    of = table(model)
    blank = {c.name: "" if c.type.python_type is str else 0 for c in of.columns}
    names = ", ".join(f'"{name}"' for name in blank)
    marks = ", ".join(f":{name}" for name in blank)
    query = f"INSERT INTO {of.name} ({names}) VALUES ({marks})"
    raw.executemany(query, (blank | row for row in rows))


def _people(dice: random.Random) -> Iterator[dict[str, Any]]:
    for n in range(PEOPLE):
        name = f"{dice.choice(_FIRST)} {dice.choice(_LAST)} {n}"
        yield {"person": f"P-{n:06}", "name": name, "role": "customer", "qualified": "[]", "seq": 1}
    for n in range(BLENDERS):
        yield {"person": f"S-{n}", "name": f"Staff {_FIRST[n]}", "role": "blender", "seq": 1}


def _cylinders() -> Iterator[dict[str, Any]]:
    stamps = {"tested": "2025-03", "inspected": "2026-02", "clean": 1}
    size = {"size_ml": 12_000, "posts": 1, "size_typed": "12L", "wp_mbar": 232_000}
    for n in range(CYLINDERS):
        yield {"serial": f"M-{n:05}", **size, "tp_mbar": 348_000, **stamps, "seq": 1}


def _fill(number: int, of: int, dice: random.Random) -> dict[str, Any]:
    o2, he = dice.choice(_MIXES)
    is_open = number > of - OPEN
    at_us = START_US - (of - number) * 300_000_000
    missed = round(dice.gauss(0, 2000))
    return {
        "fill": number,
        "state": "filling" if is_open else "collected",
        "serial": f"M-{dice.randrange(CYLINDERS):05}",
        "customer": f"P-{dice.randrange(PEOPLE):06}",
        "blender": f"S-{dice.randrange(BLENDERS)}",
        "have_typed": "50bar:air",
        "residual": "stated",
        "want_typed": f"230bar:{o2 * 100:g}/{he * 100:g}",
        "want_mbar": 230_000,
        "want_o2_ppm": round(o2 * 1e6),
        "want_he_ppm": round(he * 1e6),
        "settle_mk": 293_150,
        "method": "partial-pressure",
        "warnings": "[]",
        "contents_umol": f"[{round(9e7 * o2)},{round(9e7 * he)},{round(9e7 * (1 - o2 - he))},0]",
        "gauge_mbar": 229_000,
        "temp_mk": 293_150,
        "temp_kind": "gas",
        "has_gas": 1,
        "requested_us": at_us,
        "started_us": at_us,
        "accepted_us": 0 if is_open else at_us + 5_400_000_000,
        "collected_us": 0 if is_open else at_us + 7_200_000_000,
        "offset_min": 60,
        "o2_ppm": -1 if is_open else round(o2 * 1e6) + missed,
        "he_ppm": -1 if is_open or not he else round(he * 1e6),
        "seq": 2,
    }


def _steps(fill: int) -> Iterator[dict[str, Any]]:
    stops = {
        "temp_mk": 293_150,
        "intake_ppm": -1,
        "reading_ppm": -1,
        "action": "add",
        "seq": 2,
        "more": "{}",
    }
    oxygen = {"supply": "o1", "gas": "[995000,0,0,5000]", "holds_o2_ppm": 490_000}
    air = {"supply": "top", "gas": "[209460,0,781200,9340]", "holds_o2_ppm": 320_000}
    yield {"fill": fill, "number": 0, "from_mbar": 50_000, "to_mbar": 84_000, **oxygen, **stops}
    yield {"fill": fill, "number": 1, "from_mbar": 84_000, "to_mbar": 230_000, **air, **stops}


def _analysis(fill: dict[str, Any]) -> dict[str, Any]:
    return {
        "seq": fill["fill"] + 1000,
        "fill": fill["fill"],
        "party": "staff",
        "serial": fill["serial"],
        "analyser": f"A{fill['fill'] % 7 + 1}",
        "o2_ppm": fill["o2_ppm"],
        "he_ppm": fill["he_ppm"],
        "valid": 1,
        "decision": "accept",
        "person": fill["blender"],
        "at_us": fill["requested_us"],
        "offset_min": 60,
    }
