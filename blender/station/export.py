"""The fill log of chosen fills: what was searched for, as the same papers print a range of days."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from sqlalchemy import Connection

from blender.errors import InputError
from blender.record import read, search
from blender.record.journal import Record
from blender.record.models import AnalysisRow, ExceptionRow, FillRow, ReadingRow
from blender.record.moment import Moment
from blender.record.unit import last_entry
from blender.station import views
from blender.station.papers import log_line

PART = 500  # fills read and told of at once
Told = Callable[[int], None]


def selected(
    record: Record,
    numbers: Sequence[int],
    selection: str,
    now: Moment,
    told: Told = lambda _: None,
) -> views.LogView:
    """Return some fills as a fill log, all from one state of the record, in the order given.

    Parameters
    ----------
    record : Record
        The open record.
    numbers : sequence of int
        Which fills.
    selection : str
        What they were chosen by, in words; empty if they are all there are.
    now : Moment
        When it is printed.
    told : callable
        Told how many fills were read; what it raises stops the reading.

    Raises
    ------
    InputError
        If a fill of these numbers is not in the record.
    """
    lines: list[views.LogLine] = []
    with record.read() as conn:
        station, last = read.station(conn), last_entry(conn, record.station)
        for at in range(0, len(numbers), PART):
            lines += _lines(conn, numbers[at : at + PART])
            told(len(lines))
    assert station is not None
    assert last is not None
    days = [line.requested_at for line in lines]
    first, final = (_day(min(days, key=_us)), _day(max(days, key=_us))) if days else ("-", "-")
    proof = views.Proof(
        last.station, last.incarnation, last.seq, last.digest.hex(), last.anchor.text
    )
    stamp = views.Stamp(now.us, now.offset_min)
    return views.LogView(station.name, first, final, tuple(lines), stamp, False, proof, selection)


def parts(
    record: Record, numbers: Sequence[int], selection: str, now: Moment
) -> Iterator[views.LogView]:
    """Give the fill log of any number of fills in parts, each from one state of the record.

    No part keeps the record for longer than a moment, so nobody at the panel waits for it.
    """
    for at in range(0, len(numbers), PART):
        yield selected(record, numbers[at : at + PART], selection, now)


def _lines(conn: Connection, numbers: Sequence[int]) -> Iterator[views.LogLine]:
    fills = read.of_fills(conn, FillRow, numbers)
    analyses = read.of_fills(conn, AnalysisRow, numbers)
    readings = read.of_fills(conn, ReadingRow, numbers)
    exceptions = read.of_fills(conn, ExceptionRow, numbers)
    found = [fill for rows in fills.values() for fill in rows]
    names = search.names(conn, {who for fill in found for who in (fill.customer, fill.blender)})
    for number in numbers:
        if not fills[number]:
            raise InputError("fill", number, "no fill of that number; search again")
        yield log_line(
            fills[number][0],
            names,
            [row for row in analyses[number] if row.valid],
            [row for row in readings[number] if not row.corrected_by],
            exceptions[number],
        )


def _us(stamp: views.Stamp) -> int:
    return stamp.us


def _day(stamp: views.Stamp) -> str:
    return Moment(stamp.us, stamp.offset_min).iso[:10]
