"""Fills by what was asked of the book: each condition an index serves, none a walk through all.

Numbers leave the database as one text, which is several times faster than row by row: a
condition that half a million fills meet is answered while the next key is typed.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, Connection, and_, false, func, select
from sqlalchemy.exc import DatabaseError

from blender.record.dialect import Joined, is_one_of
from blender.record.models import AnalyserRow, AnalysisRow, CylinderRow, FillRow, PersonRow
from blender.record.projection import table
from blender.record.search import like_part

MINUTE_US = 60_000_000
_DAY_US = 1440 * MINUTE_US
_STEPS = 50_000  # of SQLite's machine between two looks whether somebody still waits
_SLICE = 50_000  # characters of numbers read at once
_fill = table(FillRow).c
_analysis = table(AnalysisRow).c
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Hits:
    """The fills a condition is true of; or, inverted, those it is not true of.

    Parameters
    ----------
    where : ColumnElement
        The condition, on the columns of one table.
    of : ColumnElement
        That table's column with the fill's number.
    inverted : bool
        Whether the others are meant: few of them are found sooner than many.
    """

    where: ColumnElement[bool]
    of: ColumnElement[int] = _fill.fill
    inverted: bool = False


EVERY = Hits(false(), inverted=True)


def numbers(
    conn: Connection, words: Sequence[Sequence[Hits]], cancelled: Callable[[], bool]
) -> array[int]:
    """Return the numbers of the fills that meet any condition of every word, newest first.

    Empty if it was cancelled meanwhile.
    """
    try:
        with _watched(conn, cancelled):
            known = _all(conn)
            found = np.ones(known.size, np.bool_)
            for word in (one for one in words if not any(hits is EVERY for hits in one)):
                met = np.zeros(known.size, np.bool_)
                for hits in word:
                    met |= _met(conn, hits, known)
                found &= met
                if cancelled() or not found.any():
                    break
    except DatabaseError as error:
        if "interrupt" not in str(error):
            raise
        return array("q")
    return array("q") if cancelled() else known.newest_first(found)


@dataclass(frozen=True, slots=True)
class _Known:
    """The number of every fill: from a first one without a gap, or else all of them, sorted."""

    first: int
    size: int
    listed: Numbers | None = None

    def places(self, found: Numbers) -> Numbers:
        """Return where some numbers stand; those that are not known are left out."""
        if self.listed is None:
            places: Numbers = found - self.first
            return places[(places >= 0) & (places < self.size)]
        places = np.searchsorted(self.listed, found)
        places[places == self.size] = 0
        there: Numbers = places[self.listed[places] == found]
        return there

    def newest_first(self, found: NDArray[np.bool_]) -> array[int]:
        """Return the numbers marked as found."""
        chosen = np.flatnonzero(found[::-1])
        np.subtract(self.first + self.size - 1, chosen, out=chosen)
        chosen = chosen if self.listed is None else self.listed[chosen]
        numbers = array("q")
        numbers.frombytes(chosen.astype(np.int64, copy=False).view(np.uint8).data)
        return numbers


@contextmanager
def _watched(conn: Connection, cancelled: Callable[[], bool]) -> Iterator[None]:
    """Let SQLite itself give up in the middle of a search, where the driver can."""
    raw = conn.connection.driver_connection
    handler = getattr(raw, "set_progress_handler", None)
    if handler is None:
        yield
        return
    handler(cancelled, _STEPS)
    try:
        yield
    finally:
        handler(None, 0)


def _all(conn: Connection) -> _Known:
    """Return the number of every fill; they are given without a gap, and then not even read."""
    ends = select(
        select(func.min(_fill.fill)).scalar_subquery(),
        select(func.max(_fill.fill)).scalar_subquery(),
        select(func.count()).select_from(table(FillRow)).scalar_subquery(),
    )
    first, last, count = conn.execute(ends).one()
    if count and last - first + 1 == count:
        return _Known(first, count)
    parts = [np.empty(0, np.int64), *_read(conn, Hits(_fill.fill > 0))]
    listed = np.sort(np.concatenate(parts))
    return _Known(0, listed.size, listed)


def _read(conn: Connection, hits: Hits) -> Iterator[Numbers]:
    """Yield the numbers of a condition, in any order and perhaps more than once.

    The text is read a slice at a time: a terminal that draws meanwhile never waits for all,
    and half a million numbers never stand in memory at once.
    """
    text = conn.execute(select(Joined(hits.of)).where(hits.where)).scalar() or ""
    at = 0
    while at < len(text):
        end = text.find(",", at + _SLICE)
        end = len(text) if end < 0 else end
        yield np.fromstring(text[at:end], np.int64, sep=",")
        at = end + 1


def _met(conn: Connection, hits: Hits, known: _Known) -> NDArray[np.bool_]:
    """Tell of each known fill whether the condition is met."""
    met = np.full(known.size, hits.inverted)
    if known.size:
        for found in _read(conn, hits):
            met[known.places(found)] = not hits.inverted
    return met


def is_fill(number: int) -> list[Hits]:
    """Return whether it is that fill."""
    return [Hits(_fill.fill == number)]


def stands(states: Collection[str], others: Collection[str]) -> list[Hits]:
    """Return whether it stands in one of some states; most fills have come to an end."""
    if "collected" in states:
        return [Hits(_fill.state.in_(others), inverted=True)]
    return [Hits(_fill.state.in_(states))]


def between(first: datetime, last: datetime) -> list[Hits]:
    """Return whether it was asked for in a span of the station's own local time."""
    low, high = (round((d - datetime(1970, 1, 1)).total_seconds() * 1e6) for d in (first, last))  # noqa: DTZ001 - local
    local = _fill.requested_us + _fill.offset_min * MINUTE_US
    near = and_(_fill.requested_us >= low - _DAY_US, _fill.requested_us < high + _DAY_US)
    return [Hits(and_(near, local >= low, local < high))]


def gas(o2_ppm: tuple[int, int], he_ppm: tuple[int, int]) -> list[Hits]:
    """Return whether a gas from the least to the most of both was wanted or analysed.

    Helium not measured (-1) counts as none.
    """

    def near(o2: ColumnElement[int], he: ColumnElement[int]) -> Hits:
        return Hits(and_(o2.between(*o2_ppm), he.between(*he_ppm)))

    return [near(_fill.want_o2_ppm, _fill.want_he_ppm), near(_fill.o2_ppm, _fill.he_ppm)]


def serial_has(conn: Connection, part: str) -> tuple[list[Hits], int]:
    """Return whether its cylinder's serial holds a part, and how many cylinders do."""
    serial = table(CylinderRow).c.serial
    query = select(serial).where(like_part(serial, part))
    found = list(conn.execute(query).scalars()) if part.isascii() else []
    if found and len(found) == conn.execute(select(func.count(serial))).scalar():
        return [EVERY], len(found)
    return ([Hits(is_one_of(_fill.serial, found))] if found else []), len(found)


def person_has(conn: Connection, part: str) -> tuple[list[Hits], int]:
    """Return whether its customer's or blender's name holds a part, and how many people's do.

    An erased person is called by the id, which then is looked through.
    """
    person, wanted = table(PersonRow).c, part.casefold()
    rows = conn.execute(select(person.person, person.name, person.role))
    found = [(who, role) for who, name, role in rows if wanted in (name or who).casefold()]
    divers = [who for who, role in found if role == "customer"]
    staff = [who for who, role in found if role != "customer"]
    hits = [Hits(is_one_of(_fill.customer, divers))] if divers else []
    hits += [Hits(is_one_of(_fill.blender, staff))] if staff else []
    return hits, len(found)


def analyser_has(conn: Connection, part: str) -> tuple[list[Hits], list[str]]:
    """Return whether it was analysed with an analyser so called, and which are."""
    column, wanted = table(AnalyserRow).c.name, part.casefold()
    names = [name for name in conn.execute(select(column)).scalars() if wanted in name.casefold()]
    if not names:
        return [], names
    return [Hits(is_one_of(_analysis.analyser, names), _analysis.fill)], names


def when_asked(conn: Connection, number: int) -> int:
    """Return when a fill was asked for, in its own local time [us]."""
    query = select(_fill.requested_us, _fill.offset_min).where(_fill.fill == number)
    row = conn.execute(query).first()
    return row.requested_us + row.offset_min * MINUTE_US if row else 0
