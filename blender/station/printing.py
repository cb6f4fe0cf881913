"""Printing labels: the first is the label, every later one is marked as a copy and dated."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from sqlalchemy import Connection

from blender.errors import InputError, StorageError
from blender.record import read
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.moment import Moment
from blender.station.papers import label_view
from blender.station.views import LabelView, Stamp

PRINTED = "label.printed"
Views = tuple[LabelView, ...]


def print_label(
    record: Record,
    number: int,
    now: Moment,
    put: Callable[[LabelView], str],
    keys: StationKeys | None = None,
) -> tuple[LabelView, str]:
    """Print the label of one fill; see `print_labels`."""
    (view,), place = print_labels(record, [number], now, lambda views: put(views[0]), keys)
    return view, place


def print_labels(
    record: Record,
    numbers: Sequence[int],
    now: Moment,
    put: Callable[[Views], str],
    keys: StationKeys | None = None,
) -> tuple[Views, str]:
    """Print the labels of fills on one paper, and enter of each that it was printed.

    Nobody has to sign for that: the entry is sealed by the station where its keys are at hand.
    Where nothing can be entered, nobody can tell whether it is the first, so it is a copy.

    Parameters
    ----------
    record : Record
        The open record.
    numbers : sequence of int
        The fills, each once.
    now : Moment
        When it is printed.
    put : callable
        Makes the paper and keeps it; returns where.  If it fails, nothing is entered.
    keys : StationKeys or None
        The station's.

    Raises
    ------
    InputError
        If there is no such fill, one is named twice, or the paper cannot be kept.
    RefusedError
        If one was not accepted.
    StorageError
        If another terminal kept the record busy.
    """
    if len(set(numbers)) < len(numbers):
        raise InputError("FILL", list(numbers), "name each fill once: a second label is a copy")
    views = [label_view(record, number) for number in numbers]
    try:
        with record.write() as unit:
            counts = [times_printed(unit.conn, record.station, one) + 1 for one in numbers]
            shown = tuple(map(_as_print, views, counts, [now] * len(views)))
            place = put(shown)
            for number, count in zip(numbers, counts, strict=True):
                unit.append(PRINTED, {"fill": number, "copy": count}, at=now, seal=keys)
    except StorageError as error:
        if error.code == "busy":  # another terminal writes: it can be entered in a moment
            raise
        return _as_copies(record, views, now, put)
    return shown, place


def times_printed(conn: Connection, station: str, number: int) -> int:
    """Return how often the label of a fill was printed, since that is entered."""
    return sum(one.kind == PRINTED for one in read.entries_of_fill(conn, station, number))


def _as_copies(
    record: Record, views: Sequence[LabelView], now: Moment, put: Callable[[Views], str]
) -> tuple[Views, str]:
    with record.read() as conn:
        before = [max(times_printed(conn, record.station, view.fill), 1) for view in views]
    shown = tuple(
        _as_print(view, count + 1, now) for view, count in zip(views, before, strict=True)
    )
    return shown, put(shown)


def _as_print(view: LabelView, count: int, now: Moment) -> LabelView:
    """Return what is printed the `count`-th time."""
    if count == 1:
        return view
    return replace(view, copy_number=count, copied_at=Stamp.of(now))
