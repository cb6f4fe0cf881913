"""A record on a PostgreSQL server, held against the driver alone doing the same.

`make bench`, or with a number of fills (a million if none is given).  Appends are timed in turns
with the same statements by psycopg; searches with the same question asked in SQL by hand.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from blender.record.chain import digest
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.moment import Moment
from blender.record.pour import pour
from blender.record.project import TABLES
from blender.record.server import Server
from blender.record.verify import verify
from blender.station import search
from tests import server
from tests.bench.million import million
from tests.record.child import Nothing
from tests.record.test_durability import answer, start

AT = Moment(1_764_000_000_000_000, 60)
_COLUMNS = "station, seq, body, prev, digest, step"


def main() -> None:
    url, why = server.found()
    if not url:
        print(f"left out: {why}")
        return
    with tempfile.TemporaryDirectory() as folder:
        appends(Path(folder))
        many_processes(Path(folder))
    searches(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)


def said(what: str, figure: str, limit: str = "") -> None:
    print(f"{what:62} {figure:>18}  {limit}", flush=True)


# -- appends -----------------------------------------------------------------------------


def appends(folder: Path, rounds: int = 15, each: int = 40) -> None:
    keys = StationKeys.create(folder / "a.keys")
    with server.a_schema() as ours, server.a_schema() as theirs:
        for place in (ours, theirs):
            Record.found(
                place, keys=keys, station="QUAY-2", data={}, at=AT, project=Nothing
            ).close()  # fmt: skip
        with Record.open(ours, project=Nothing) as record, server.plain(theirs) as raw:
            turns = (lambda: _append(record), lambda: _raw_append(raw, theirs))
            for turn in turns:  # so that both have their statements prepared
                _time(turn, 10)
            times = [tuple(_time(turn, each) for turn in turns) for _ in range(rounds)]
            assert record.head().seq == 1 + 10 + rounds * each
        assert verify(ours, project=Nothing).ok
    own, held = (each / statistics.median(one) for one in zip(*times, strict=True))
    said("append on a server, acknowledged", f"{own:.0f} /s")
    said("  psycopg alone, same statements and connection", f"{held:.0f} /s",
         f"{own / held:.2f} of it (0.6)")  # fmt: skip


def _time(turn: Callable[[], Any], each: int) -> float:
    begun = time.perf_counter()
    for _ in range(each):
        turn()
    return time.perf_counter() - begun


def _append(record: Record) -> None:
    with record.write() as unit:
        unit.append("note", {"number": 1, "text": "x" * 750}, at=AT)


def _raw_append(raw: Any, place: Server) -> None:
    raw.execute(
        "BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE;"
        f" SELECT pg_advisory_xact_lock({place.lock})"
    )
    query = f"SELECT {_COLUMNS} FROM entry WHERE station = %s ORDER BY seq DESC LIMIT %s"
    last = raw.execute(query, ("QUAY-2", 1)).fetchone()
    content = json.loads(last[2])
    content |= {"seq": last[1] + 1, "kind": "note", "data": {"number": 1, "text": "x" * 750}}
    content.pop("seal", None)
    body = json.dumps(content, sort_keys=True, separators=(",", ":")).encode()
    row = ("QUAY-2", last[1] + 1, body, last[4], digest(last[4], body), None)
    raw.execute(f"INSERT INTO entry ({_COLUMNS}) VALUES (%s, %s, %s, %s, %s, %s)", row)
    raw.execute("COMMIT")


def many_processes(folder: Path, processes: int = 8, each: int = 300) -> None:
    keys = StationKeys.create(folder / "b.keys")
    with server.a_schema() as place:
        Record.found(
            place, keys=keys, station="QUAY-2", data={}, at=AT, project=Nothing
        ).close()  # fmt: skip
        begun = time.perf_counter()
        children = [start("append", str(place), f"p{n}", str(each)) for n in range(processes)]
        told = [seq for child in children for seq in answer(child)]
        took = time.perf_counter() - begun
        report = verify(place, project=Nothing)
    broken = len(report.problems)
    lost = len(set(range(2, 2 + processes * each)) - set(told)) + 1 + len(told) - report.entries
    said(f"{processes} processes x {each} appends on one chain, with their starts",
         f"{len(told) / took:.0f} /s", f"{broken} broken links (0), {lost} lost (0)")  # fmt: skip


# -- searches ----------------------------------------------------------------------------

_CALLED = (
    "SELECT fill FROM fill WHERE serial IN (SELECT serial FROM cylinder"
    " WHERE upper(serial) LIKE upper(%(part)s))"
    " UNION SELECT fill FROM fill WHERE customer IN (SELECT person FROM person"
    " WHERE role = 'customer' AND lower(name) LIKE lower(%(part)s))"
    " UNION SELECT fill FROM fill WHERE blender IN (SELECT person FROM person"
    " WHERE role <> 'customer' AND lower(name) LIKE lower(%(part)s))"
    " UNION SELECT fill FROM analysis WHERE analyser IN (SELECT name FROM analyser"
    " WHERE lower(name) LIKE lower(%(part)s))"
)
_MIX = (
    "SELECT fill FROM fill WHERE want_o2_ppm BETWEEN %(low)s AND %(high)s"
    " AND want_he_ppm BETWEEN %(he_low)s AND %(he_high)s"
    " UNION SELECT fill FROM fill WHERE o2_ppm BETWEEN %(low)s AND %(high)s"
    " AND he_ppm BETWEEN %(he_low)s AND %(he_high)s"
)
_WHEN = (
    "SELECT fill FROM fill WHERE requested_us >= %(low)s - 86400000000"
    " AND requested_us < %(high)s + 86400000000"
    " AND requested_us + offset_min * 60000000 >= %(low)s"
    " AND requested_us + offset_min * 60000000 < %(high)s"
)
_STATE = "SELECT fill FROM fill WHERE state = ANY(%(states)s)"


def _part(text: str) -> dict[str, Any]:
    return {"part": f"%{text}%"}


def _near(o2: int, he: int) -> dict[str, Any]:
    return {"low": o2 - 500, "high": o2 + 500, "he_low": he - 500, "he_high": he + 500}


def _questions() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Each search, and what it asks, as somebody who knows the tables would in SQL."""
    for word in ("M-00123", "M-0012", "M-01", "Kelp", "kelp alba", "Falk", "A3", "-0077"):
        parts = word.split()
        query = " INTERSECT ".join(
            "(" + _CALLED.replace("%(part)s", f"%(part{n})s") + ")" for n in range(len(parts))
        )
        yield word, query, {f"part{n}": f"%{one}%" for n, one in enumerate(parts)}
    for word, o2, he in (("EAN32", 320_000, 0), ("EAN36", 360_000, 0), ("18/45", 180_000, 450_000)):
        yield word, f"({_MIX}) UNION ({_CALLED})", {**_near(o2, he), **_part(word)}
    month = {"low": 1_793_491_200_000_000, "high": 1_796_083_200_000_000}  # November 2026, UTC
    yield "2026-11", f"({_WHEN}) UNION ({_CALLED})", {**month, **_part("2026-11")}
    yield "filling", f"({_STATE}) UNION ({_CALLED})", {"states": ["filling"], **_part("filling")}


def searches(fills: int, rounds: int = 5) -> None:
    file = million(Path(tempfile.gettempdir()) / "fillwright-bench-million", fills)
    with server.a_schema() as place:
        with Record.open(file, readonly=True) as source:
            pour(source, place).close()
        _load(file, place)
        with Record.open(place, readonly=True) as record, server.plain(place) as raw:
            own, held = _both(record, raw, rounds)
    a, b = (sorted(times)[int(0.95 * len(times))] * 1e3 for times in (own, held))
    m, n = (statistics.median(times) * 1e3 for times in (own, held))
    said(f"search over {fills} fills on a server, p50", f"{m:.1f} ms", f"by hand {n:.1f} ms")
    said("  p95", f"{a:.1f} ms", f"{a / b:.2f} of {b:.1f} ms by hand (1.5)")


def _both(record: Record, raw: Any, rounds: int) -> tuple[list[float], list[float]]:
    """Ask every question both ways, in turns; the answers must be the same."""
    own, held = list[float](), list[float]()
    for _ in range(rounds):
        for text, query, values in _questions():
            begun = time.perf_counter()
            mine = search.find(record, text)
            between = time.perf_counter()
            ordered = f"{query} ORDER BY fill DESC"
            theirs = [number for (number,) in raw.execute(ordered, values).fetchall()]
            own.append(between - begun)
            held.append(time.perf_counter() - between)
            assert list(mine) == theirs, (text, len(mine), len(theirs))
    return own, held


def _load(file: Path, place: Server) -> None:
    """Put the rows of the read tables of a file into those on a server, as they lie."""
    import sqlite3

    with closing(sqlite3.connect(file)) as source, server.plain(place) as raw:
        for table in TABLES:
            names = ", ".join(f'"{column.name}"' for column in table.columns)
            kinds = [column.type.python_type for column in table.columns]
            raw.execute(f'TRUNCATE "{table.name}"')
            rows = source.execute(f'SELECT {names} FROM "{table.name}"')
            with raw.cursor().copy(f'COPY "{table.name}" ({names}) FROM STDIN') as copy:
                for row in rows:
                    copy.write_row(
                        [bool(c) if k is bool else c for k, c in zip(kinds, row, strict=True)]
                    )
        raw.execute("ANALYZE")


if __name__ == "__main__":
    main()
