"""Where a station's entries come from: a parcel somebody brought, or its own record, read only."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DatabaseError

from blender.errors import FillwrightError, RecordError
from blender.record import schema
from blender.record.anchor import Anchor
from blender.record.canonical import parse
from blender.record.entry import Entry
from blender.record.parcel import Header, Parcel
from blender.record.place import explain
from blender.record.snapshot import look
from blender.record.unit import RESTORED, entry_at, founding, founding_key, last_entry
from blender.record.verify import stored
from blender.record.walk import Stored

_PART = 1000  # entries kept at once where a record is read
_MARK = f'"kind":"{RESTORED}"'.encode()


class Source(Protocol):
    """Gives a chain from some entry on; nothing of it is verified yet."""

    header: Header
    is_now: bool  # it is the record itself, not what was sent of it at some time

    def digest_at(self, seq: int) -> bytes:
        """Return the digest of an entry between the two that the header names."""

    def parts(self, after: int) -> Iterator[list[Stored]]:
        """Give the entries after one, some at once."""


class OfParcel:
    """The entries of a parcel, all at once: what is in one is kept whole or not at all."""

    is_now = False

    def __init__(self, parcel: Parcel) -> None:
        self.header, self._rows = parcel.header, parcel.rows

    def digest_at(self, seq: int) -> bytes:
        """Return the digest of one of them, or the one before the first."""
        at = seq - self.header.after
        digest: bytes = self._rows[0].prev if at == 0 else self._rows[at - 1].digest
        return digest

    def parts(self, after: int) -> Iterator[list[Stored]]:
        """Give those after an entry."""
        if rows := self._rows[max(after - self.header.after, 0) :]:
            yield rows


class OfRecord:
    """The entries of a record that lies where it can be read, up to where it ended at first."""

    is_now = True

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        try:
            self.header = self._look()
        except (AttributeError, LookupError, TypeError, ValueError):
            raise RecordError("its first or last entry is damaged; run `verify` there") from None
        self._station = self.header.station

    def _look(self) -> Header:
        with self._read() as conn:
            schema.check_ours(conn)
            schema.check_tables(conn, ())
            first = founding(conn)
            last = last_entry(conn, first.station) or first
        Anchor(first.station, last.incarnation, last.seq, last.digest)  # refuses what is none
        key = (founding_key(first.content) or b"").hex()
        head = last.digest.hex()
        return Header(first.station, key, 0, last.seq, last.incarnation, head, 0)

    def digest_at(self, seq: int) -> bytes:
        """Return the digest of one of its entries."""
        with self._read() as conn:
            found = entry_at(conn, self._station, seq)
        return found.digest if found else b""

    def parts(self, after: int) -> Iterator[list[Stored]]:
        """Give its entries, each part from a short reading of its own."""
        while after < self.header.entries:
            most = min(_PART, self.header.entries - after)
            before = Stored(self._station, after, b"", b"", b"", None)
            with self._read() as conn:
                rows = stored(conn, after=before, most=most)
            if not rows:
                raise RecordError(f"its entry {after + 1} is missing; run `verify` there")
            yield rows
            if rows[-1].seq != after + len(rows):
                return  # the walk has said what is wrong
            after = rows[-1].seq

    @contextmanager
    def _read(self) -> Iterator[Connection]:
        try:
            with self._engine.connect() as conn, conn.begin():
                yield conn
        except DatabaseError as error:
            raise explain(error, "nothing was taken in") from error


@contextmanager
def record_at(place: str) -> Iterator[OfRecord]:
    """Open a record in another place to be read; not a byte of it is changed.

    Raises
    ------
    InputError
        If there is none.
    RecordError
        If it is no station's record, or cannot be read.
    """
    try:
        with look(place) as engine:
            yield OfRecord(engine)
    except DatabaseError as error:
        raise explain(error, "nothing was taken in") from error


def restores(source: Source) -> list[tuple[int, int]]:
    """Return the incarnations that begin in a source, and with which entry; not yet verified."""
    rows = (row for part in source.parts(0) for row in part)
    return [_life(row) for row in rows if isinstance(row.body, bytes) and _MARK in row.body]


def _life(row: Stored) -> tuple[int, int]:
    try:
        entry = Entry(row.station, row.seq, row.prev, row.digest, row.body)
        return (entry.incarnation, row.seq) if parse(row.body)["kind"] == RESTORED else (0, row.seq)
    except (FillwrightError, KeyError, TypeError, ValueError):
        return 0, row.seq
