"""Printing a label: the first is the label, every later one is marked as a copy and dated."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sqlalchemy import Connection

from blender.errors import StorageError
from blender.record import read
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.moment import Moment
from blender.station.papers import label_view
from blender.station.views import LabelView, Stamp

PRINTED = "label.printed"


def print_label(
    record: Record,
    number: int,
    now: Moment,
    put: Callable[[LabelView], str],
    keys: StationKeys | None = None,
) -> tuple[LabelView, str]:
    """Print a label, and enter that it was printed.

    Nobody has to sign for that: the entry is sealed by the station where its keys are at hand.
    Where nothing can be entered, nobody can tell whether it is the first, so it is a copy.

    Parameters
    ----------
    record : Record
        The open record.
    number : int
        The fill.
    now : Moment
        When it is printed.
    put : callable
        Makes the paper and keeps it; returns where.  If it fails, nothing is entered.
    keys : StationKeys or None
        The station's.

    Raises
    ------
    InputError
        If there is no such fill, or the paper cannot be kept.
    RefusedError
        If it was not accepted.
    StorageError
        If another terminal kept the record busy.
    """
    view = label_view(record, number)
    try:
        with record.write() as unit:
            count = times_printed(unit.conn, record.station, number) + 1
            shown = _copy(view, count, now) if count > 1 else view
            place = put(shown)
            unit.append(PRINTED, {"fill": number, "copy": count}, at=now, seal=keys)
    except StorageError as error:
        if error.code == "busy":  # another terminal writes: it can be entered in a moment
            raise
        return _as_copy(record, view, now, put)
    return shown, place


def times_printed(conn: Connection, station: str, number: int) -> int:
    """Return how often the label of a fill was printed, since that is entered."""
    return sum(one.kind == PRINTED for one in read.entries_of_fill(conn, station, number))


def _as_copy(
    record: Record, view: LabelView, now: Moment, put: Callable[[LabelView], str]
) -> tuple[LabelView, str]:
    with record.read() as conn:
        before = max(times_printed(conn, record.station, view.fill), 1)
    shown = _copy(view, before + 1, now)
    return shown, put(shown)


def _copy(view: LabelView, count: int, now: Moment) -> LabelView:
    return replace(view, copy_number=count, copied_at=Stamp(now.us, now.offset_min))
