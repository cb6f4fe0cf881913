"""The fill log: of a range of days, a cylinder, a customer, a blender, or what was searched for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from sqlalchemy import Connection

from blender.errors import InputError
from blender.record import read, search
from blender.record.journal import Record
from blender.record.models import AnalysisRow, ExceptionRow, FillRow, ReadingRow
from blender.record.moment import Moment
from blender.record.unit import last_entry
from blender.station import views
from blender.station.days import days_of
from blender.station.fill_log import log_line
from blender.station.rules import in_force

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
        imperial = in_force(conn).units == "psi"
    assert station is not None
    assert last is not None
    days = [line.requested_at for line in lines]
    first, final = (_day(min(days, key=_us)), _day(max(days, key=_us))) if days else ("-", "-")
    proof = views.Proof.of(last)
    stamp = views.Stamp.of(now)
    return views.LogView(
        station.name, first, final, tuple(lines), stamp, imperial, proof, selection
    )


def log_view(
    record: Record,
    first_day: str,
    last_day: str,
    now: Moment,
    *,
    cylinder: str = "",
    customer: str = "",
    blender: str = "",
) -> views.LogView:
    """Return the fill log over a range of days of the station's zone, both included.

    Parameters
    ----------
    record : Record
        The open record.
    first_day, last_day : str
        The days, as ``2026-11-25``; empty for as far back, or on, as the record goes.
    now : Moment
        When it is printed.
    cylinder, customer, blender : str
        Only the fills of one cylinder, for one customer, by one blender; empty for all.

    Raises
    ------
    InputError
        If a day cannot be read, the last is before the first, or nobody is meant.
    """
    span = days_of(first_day, last_day, now)
    with record.read() as conn:
        of = _chosen(conn, cylinder, customer, blender)
        numbers = read.fill_numbers(conn, span.since_us, span.until_us, **of)
        selection = _told(conn, of)
    view = selected(record, numbers, selection, now)
    return replace(
        view, first_day=span.first or view.first_day, last_day=span.last or view.last_day
    )


def _chosen(conn: Connection, cylinder: str, customer: str, blender: str) -> dict[str, str]:
    """Return the columns a choice is made by, and their values."""
    found = {}
    if cylinder:
        found["serial"] = read.cylinder(conn, cylinder).serial
    if customer:
        found["customer"] = read.customer(conn, customer).person
    if blender:
        who = read.staff_named(conn, blender)
        if who is None:
            raise InputError("--blender", repr(blender[:60]), "nobody on the staff is called that")
        found["blender"] = who.person
    return found


def _told(conn: Connection, of: dict[str, str]) -> str:
    people = search.names(conn, {of[one] for one in ("customer", "blender") if one in of})
    words = {"serial": "of cylinder", "customer": "for", "blender": "by"}
    return ", ".join(f"{words[key]} {people.get(value, value)}" for key, value in of.items())


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
