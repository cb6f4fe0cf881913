"""Printing a fill's label, certificate or receipt: each later one is marked as a copy and dated."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from sqlalchemy import Connection

from blender.errors import InputError, StorageError
from blender.record import read
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.moment import Moment
from blender.station.certificate import CertificateView, certificate_view
from blender.station.papers import label_view
from blender.station.receipt import Receipt, receipt
from blender.station.views import LabelView, Stamp

LABEL, PAPER = "label.printed", "paper.printed"
PRINTED = (LABEL, PAPER)
Views = tuple[LabelView, ...]
View = TypeVar("View", LabelView, CertificateView, Receipt)


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
    which = [_Which(LABEL, number) for number in numbers]
    return _print(record, which, views, now, put, keys)


def print_certificate(
    record: Record,
    number: int,
    now: Moment,
    put: Callable[[CertificateView], str],
    keys: StationKeys | None = None,
) -> tuple[CertificateView, str]:
    """Print the certificate of analysis of a fill, as `print_labels` does a label."""
    view = certificate_view(record, number)
    which = [_Which(PAPER, number, "certificate")]
    (shown,), place = _print(record, which, [view], now, lambda views: put(views[0]), keys)
    return shown, place


def print_receipt(
    record: Record,
    number: int,
    now: Moment,
    put: Callable[[Receipt], str],
    keys: StationKeys | None = None,
) -> tuple[Receipt, str]:
    """Print the receipt of a fill, as `print_labels` does a label."""
    view = receipt(record, number, now)
    which = [_Which(PAPER, number, "receipt")]
    (shown,), place = _print(record, which, [view], now, lambda views: put(views[0]), keys)
    return shown, place


@dataclass(frozen=True, slots=True)
class _Which:
    """A paper of a fill as its prints are entered: the entry's kind, and its name beyond that."""

    kind: str
    fill: int
    paper: str = ""

    def times(self, conn: Connection, station: str) -> int:
        """Return how often it was printed, since that is entered."""
        entries = read.entries_of_fill(conn, station, self.fill)
        mine = [one for one in entries if one.kind == self.kind]
        return sum(one.data.get("paper", "") == self.paper for one in mine)

    def facts(self, count: int) -> dict[str, str | int]:
        """Return what its entry holds."""
        named: dict[str, str | int] = {"paper": self.paper} if self.paper else {}
        return named | {"fill": self.fill, "copy": count}


def _print(
    record: Record,
    which: Sequence[_Which],
    views: Sequence[View],
    now: Moment,
    put: Callable[[tuple[View, ...]], str],
    keys: StationKeys | None,
) -> tuple[tuple[View, ...], str]:
    """Make and keep a paper, and enter it of each of its fills; else as copies."""
    try:
        with record.write() as unit:
            counts = [one.times(unit.conn, record.station) + 1 for one in which]
            shown = _shown(views, counts, now)
            place = put(shown)
            for one, count in zip(which, counts, strict=True):
                unit.append(one.kind, one.facts(count), at=now, seal=keys)
    except StorageError as error:
        if error.code == "busy":  # another terminal writes: it can be entered in a moment
            raise
        with record.read() as conn:
            counts = [max(one.times(conn, record.station), 1) + 1 for one in which]
        shown = _shown(views, counts, now)
        return shown, put(shown)
    return shown, place


def _shown(views: Sequence[View], counts: Sequence[int], now: Moment) -> tuple[View, ...]:
    return tuple(_as_print(view, count, now) for view, count in zip(views, counts, strict=True))


def _as_print(view: View, count: int, now: Moment) -> View:
    """Return what is printed the `count`-th time."""
    if count == 1:
        return view
    if isinstance(view, CertificateView):
        return replace(view, label=_as_print(view.label, count, now))
    return replace(view, copy_number=count, copied_at=Stamp.of(now))
