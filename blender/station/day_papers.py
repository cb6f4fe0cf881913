"""From the record to what the closing sheet of a day shows."""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError, RecordError, RefusedError
from blender.record import read, search, shop
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import DayRow, ExceptionRow
from blender.record.moment import Moment
from blender.record.unit import last_entry
from blender.station import views
from blender.station.accounts import account
from blender.station.day import CHECKS, span, where_fills_stand
from blender.station.numbers import mol
from blender.station.rules import in_force
from blender.station.states import STATES
from blender.station.wording import gas_typed

_WAITING = ("not_collected", "held", "open", "quarantined")


def day_view(record: Record, now: Moment, day: str | None = None) -> views.DayView:
    """Return what the closing sheet of a day states; of the last one if none is named.

    A closed day is stated as it was closed, whatever happened since, and proved by its own
    closing entry.  An open one is stated as it is now.

    Parameters
    ----------
    record : Record
        The open record.
    now : Moment
        When it is printed.
    day : str or None
        Such as ``2026-11-25``; opened twice, its last opening counts.

    Raises
    ------
    InputError
        If no such day was opened.
    RefusedError
        If none is named, and none was ever opened.
    """
    with record.read() as conn:
        last = search.last_day(conn, day=day)
        if last is None:
            if not day:
                raise RefusedError(
                    "no day was ever opened; open one with `day open`, then print it"
                )
            raise InputError("--day", repr(day[:40]), "no day was opened then; see `day show`")
        opened = _opening(conn, last)
        closed = last if last.kind == "closed" else None
        head = _entry(conn, record.station, closed.seq if closed else None)
        said = json.loads(closed.text) if closed else _so_far(conn, record.station, opened)
        return _view(conn, opened, closed, said, now, head)


def _opening(conn: Connection, last: DayRow) -> DayRow:
    if last.kind == "opened":
        return last
    opened = search.last_day(conn, kind="opened", before=last.seq)
    if opened is None:
        raise RecordError(f"the day of entry {last.seq} was closed and never opened; run `verify`")
    return opened


def _entry(conn: Connection, station: str, seq: int | None) -> Entry:
    """Return the closing entry, or the last of the record while the day is open."""
    found = last_entry(conn, station) if seq is None else read.entry(conn, station, seq)
    if found is None:
        raise RecordError(f"entry {seq} is missing; run `verify`")
    return found


def _so_far(conn: Connection, station: str, opened: DayRow) -> dict[str, Any]:
    """Return of an open day what its closing would state now."""
    fills = where_fills_stand(conn)
    numbers = {name: [row["fill"] for row in rows] for name, rows in fills["lists"].items()}
    return {**numbers, "counts": fills["counts"], **account(conn, station, *span(conn, opened))}


def _view(
    conn: Connection,
    opened: DayRow,
    closed: DayRow | None,
    said: dict[str, Any],
    now: Moment,
    head: Entry,
) -> views.DayView:
    first, _ = span(conn, opened)
    before = search.last_day(conn, kind="closed", before=opened.seq)
    at_opening = json.loads(opened.text)
    people = [opened.person, closed.person if closed else ""]
    exceptions = search.exceptions_after(conn, first, head.seq)
    names = search.names(conn, [*people, *(row.person for row in exceptions)])
    station = read.station(conn)
    return views.DayView(
        station_name=station.name if station else "",
        day=opened.day,
        opened_by=names.get(opened.person, ""),
        opened_at=_stamp(opened),
        closed_by=names.get(closed.person, "") if closed else "",
        closed_at=_stamp(closed) if closed else None,
        since=_stamp(before) if before else None,
        checks=tuple(
            (CHECKS.get(c["check"], c["check"]), c["typed"], c["ok"]) for c in at_opening["checks"]
        ),
        banks=tuple((bank["name"], _bank_text(bank)) for bank in at_opening["banks"]),
        analysers=tuple(meter["text"] for meter in at_opening["analysers"]),
        by_state=_in_order(said["by_state"]),
        waiting=tuple((name, said["counts"][name], _fills(conn, said[name])) for name in _WAITING),
        exceptions=tuple(
            f"{f'fill {row.fill}, ' if row.fill else ''}{row.kind}: {row.text} "
            f"({_signed(row, names, opened.offset_min)})"
            for row in exceptions
        ),
        oxygen_mol=mol(said["oxygen_umol"]),
        helium_mol=mol(said["helium_umol"]),
        top_mol=mol(said["top_umol"]),
        notes=tuple(note for note in (at_opening["note"], said.get("note", "")) if note),
        printed_at=views.Stamp.of(now),
        imperial=in_force(conn).units == "psi",
        proof=views.Proof.of(head),
        root=shop.root_text(conn, head.seq),
    )


def _signed(row: ExceptionRow, names: dict[str, str], offset_min: int) -> str:
    """Return who signed for an exception and when, in the day's zone."""
    when = Moment(row.at_us, offset_min).local.strftime("%Y-%m-%d %H:%M")
    who = names.get(row.person, row.person)
    return f"{who}, {when}" if who else when


def _bank_text(bank: dict[str, Any]) -> str:
    """Return a bank's gauge as typed at the opening, marked where that is far off."""
    return f"{bank['typed']} (FAR OFF, see exceptions)" if "far" in bank else str(bank["typed"])


def _stamp(row: DayRow) -> views.Stamp:
    return views.Stamp(row.at_us, row.offset_min)


def _in_order(counted: dict[str, int]) -> tuple[tuple[str, int], ...]:
    """Return states in the order of a fill's life."""
    order = [state for state in STATES if state in counted]
    return tuple((state, counted[state]) for state in [*order, *sorted(set(counted) - set(order))])


def _fills(conn: Connection, numbers: list[int]) -> tuple[views.DayFill, ...]:
    rows = search.fills_numbered(conn, numbers)
    names = search.names(conn, [row.customer for row in rows])
    return tuple(
        views.DayFill(row.fill, row.serial, names.get(row.customer, ""), gas_typed(row.want_typed))
        for row in rows
    )
