"""The files of what is taken away from the record, for the command line and the Book alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # the command line names its options before it opens a record
    from blender.record.journal import Record
    from blender.record.moment import Moment

VERIFIER = "verify_journal.py"
JOURNAL = "journal.jsonl"
ABOUT = "README.txt"

Files = Iterator[tuple[str, Iterable[bytes]]]


def journal_files(record: Record) -> Files:
    """Give every entry, and the script that verifies them without this program."""
    from blender.station import takeaway

    yield JOURNAL, takeaway.journal_lines(record)
    yield VERIFIER, [takeaway.verifier()]


def table_files(record: Record, now: Moment, counts: dict[str, int]) -> Files:
    """Give everything as tables, CSV and JSON lines; the text about them comes last.

    Each table is written before the next is asked for, so `counts` has its rows by then.
    """
    from blender.station import takeaway
    from reports.tables import csv_lines, json_lines

    for table in takeaway.TABLES:
        for ending, lines in ((".csv", csv_lines), (".jsonl", json_lines)):
            rows = _Counted(table.rows(record, now))
            yield f"{table.name}{ending}", lines(table.columns, rows)
            counts[table.name] = rows.count
    yield ABOUT, [takeaway.about(record, counts).encode()]


class _Counted:
    """Rows, counted as they go by."""

    def __init__(self, rows: Iterable[Sequence[Any]]) -> None:
        self._rows = rows
        self.count = 0

    def __iter__(self) -> Iterator[Sequence[Any]]:
        for row in self._rows:
            self.count += 1
            yield row
