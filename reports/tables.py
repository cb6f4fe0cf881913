"""Tables as files: CSV that no spreadsheet takes for a formula, and JSON lines for programs."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence

from reports.fill_csv import guarded

Cell = str | int | float | bool | None


def csv_lines(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[bytes]:
    r"""Give CSV (RFC 4180, UTF-8) line by line: text guarded, numbers as numbers.

    Examples
    --------
    >>> b"".join(csv_lines(["name", "o2"], [["=1+1", -0.5]]))
    b"name,o2\r\n'=1+1,-0.5\r\n"
    """
    yield _csv_line(columns)
    for row in rows:
        yield _csv_line([_cell(value) for value in row])


def _csv_line(cells: Sequence[str]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerow(cells)
    return out.getvalue().encode()


def _cell(value: Cell) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return guarded(value)
    return "" if value is None else str(value)


def json_lines(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[bytes]:
    r"""Give the same as JSON, an object a line.

    Examples
    --------
    >>> b"".join(json_lines(["name", "o2"], [["=1+1", -0.5]]))
    b'{"name": "=1+1", "o2": -0.5}\n'
    """
    for row in rows:
        named = dict(zip(columns, row, strict=True))
        yield json.dumps(named, ensure_ascii=False, allow_nan=False).encode() + b"\n"
