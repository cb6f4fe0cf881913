"""A verified copy of another station's record, kept at its shop's office.

It has the very entries, behind the same guards, and read models made from them; no private row
ever comes.  It grows only by entries that follow its own last one: each is verified before it is
kept, with its signatures, and a part is kept whole or not at all.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sqlalchemy import Connection, insert, text
from sqlalchemy.exc import SQLAlchemyError

from blender.errors import FillwrightError, RecordError, StorageError
from blender.record.chain import genesis
from blender.record.dialect import definitions
from blender.record.engine import open_engine
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.keybook import KeyBook
from blender.record.place import locate
from blender.record.projector import station_projector
from blender.record.schema import ENTRY
from blender.record.server import Location, Server
from blender.record.unit import Unit, entry_at, last_entry
from blender.record.walk import Problem, Stored, Walk

FOLDER_TAIL = ".sites"
# What reading of a copy may come to whose entries say what no program of ours would have entered.
ODD = (ArithmeticError, AssertionError, AttributeError, LookupError, RuntimeError, TypeError,
       ValueError, SQLAlchemyError)  # fmt: skip
_LONGEST_NAME = 63
# As `roll` looks for them: only these can give a key.
_MARK = b'"kind":"person.'
_BODIES = text("SELECT prev, body FROM entry WHERE station = :whose ORDER BY seq")


def place_of(office: Location, station: str, life: int) -> Location:
    """Name where the replica of a station's record lies, begun in an incarnation of it.

    Beside the office's file, or in a schema of its own of the office's database.
    """
    if isinstance(office, Path):
        return office.with_name(office.name + FOLDER_TAIL) / f"{station}-{life}.db"
    own = f"{station.lower().replace('-', '_')}_{life}"
    schema = f"{office.schema}_site_{own}"
    if len(schema) > _LONGEST_NAME:
        named = hashlib.sha256(schema.encode()).hexdigest()[:24]
        schema = f"{office.schema[:24]}_site_{named}"
    shown = f"{office.shown.partition('?schema=')[0]}?schema={schema}"
    return replace(office, schema=schema, shown=shown)


class Replica:
    """The copy of one station's record; make one with `open_replica`, and close it.

    `seq` and `head` are of its last entry, 0 and the chain's beginning where it has none.
    """

    def __init__(self, place: Location, station: str, key: bytes) -> None:
        self.place, self.station, self._key = place, station, key
        self.seq, self.incarnation, self.head = 0, 0, genesis(station, 1, key)
        self._record: Record | None = None
        self._walk = Walk()
        if _is_there(place):
            self._open()

    def _open(self) -> None:
        record = Record.open(self.place)
        try:
            with record.read() as conn:
                last = self._last(conn, record.public_key)
                keys = _keys(conn, self.station, self._key)
        except BaseException:
            record.close()
            raise
        self._record = record
        self._stand(last)
        self._walk.station, self._walk.keys, self._walk.head = self.station, keys, last.digest
        self._walk.seq, self._walk.incarnation = last.seq, last.incarnation

    def _last(self, conn: Connection, key: bytes) -> Entry:
        last = last_entry(conn, self.station)
        if last is None or key != self._key:
            raise RecordError(f"{self.place} is not the copy of {self.station}; move it away")
        return last

    def digest_at(self, seq: int) -> bytes | None:
        """Return the digest of one of its entries, None if it has none of that place."""
        found = self._at(seq)
        return found.digest if found else None

    def at_us(self, seq: int) -> int | None:
        """Return when one of its entries was made, by its station's clock [us UTC]."""
        found = self._at(seq)
        return found.at.us if found else None

    def _at(self, seq: int) -> Entry | None:
        if self._record is None:
            return None
        with self._record.read() as conn:
            return entry_at(conn, self.station, seq)

    def check(self, rows: Sequence[Stored]) -> Problem | None:
        """Verify entries that are to follow its last one; nothing is kept yet."""
        for row in rows:
            self._walk.take(row)
            if self._walk.problems:
                return self._walk.problems[0]
        if rows and rows[0].seq == 1 and self._walk.keys is not None:
            said = self._walk.keys.station_key
            if said != self._key.hex():
                return Problem(1, "genesis", f"it founds a station with another key, {said!a}")
        return None

    def keep(self, rows: Sequence[Stored]) -> None:
        """Keep verified entries, all of them or none, and bring the read models along.

        Raises
        ------
        RecordError
            If one of them cannot be applied: a program of ours would not have entered it.
        StorageError
            If the disk did not take them.
        """
        if not rows:
            return
        try:
            self._write(rows)
        except FillwrightError:
            raise
        except ODD as error:
            told = f"its entries {rows[0].seq} to {rows[-1].seq} cannot be made into tables"
            raise RecordError(f"{told}: one of them is not what its kind has") from error
        last = rows[-1]
        self._stand(Entry(self.station, last.seq, last.prev, last.digest, last.body))

    def _write(self, rows: Sequence[Stored]) -> None:
        if self._record is not None:
            with self._record.write() as unit:
                last = last_entry(unit.conn, self.station)
                if last is None or last.digest != rows[0].prev:
                    told = "another terminal took it in meanwhile; nothing was saved, try again"
                    raise StorageError(told, code="busy")
                _enter(unit, rows)
            return
        _make_folder(self.place)
        projector = station_projector()
        self._record = Record.make(
            self.place, self.station, self._key, lambda unit: _enter(unit, rows), projector,
            says_build=False,
        )  # fmt: skip

    def _stand(self, last: Entry) -> None:
        self.seq, self.incarnation, self.head = last.seq, last.incarnation, last.digest

    @property
    def restores(self) -> list[tuple[int, int]]:
        """Incarnations that began among the entries checked, and with which."""
        return list(self._walk.restores)

    def close(self) -> None:
        """Let it go."""
        if self._record is not None:
            self._record.close()


def _enter(unit: Unit, rows: Sequence[Stored]) -> None:
    projector = station_projector()
    for row in rows:
        entry = Entry(row.station, row.seq, row.prev, row.digest, row.body)
        unit.conn.execute(insert(ENTRY), row._asdict())
        projector.apply(unit.conn, entry, lambda _: None)


def _keys(conn: Connection, station: str, key: bytes) -> KeyBook:
    """Read who may sign from entries that were verified as they were kept."""
    book = KeyBook(key.hex())
    for prev, body in conn.execute(_BODIES, {"whose": station}):
        if _MARK in body:
            book.check(prev, Entry(station, 0, prev, b"", body).content)
    return book


def _make_folder(place: Location) -> None:
    if isinstance(place, Path):
        try:
            place.parent.mkdir(mode=0o700, exist_ok=True)
        except OSError as error:
            raise StorageError(f"{place.parent} cannot be made: {error.strerror}") from None


def _is_there(place: Location) -> bool:
    """Tell whether there is a copy; an empty file is what a crash left of one."""
    if isinstance(place, Server):
        return _on_server(place)
    if place.exists() and place.stat().st_size == 0:
        place.unlink()
    return place.exists()


def _on_server(place: Server) -> bool:
    engine = open_engine(place, readonly=True)
    try:
        with engine.connect() as conn, conn.begin():
            return bool(definitions(conn))
    finally:
        engine.dispose()


def open_replica(office: Record, station: str, key: str, life: int) -> Replica:
    """Open the replica of a station's record, or begin one.

    Raises
    ------
    RecordError
        If what is there is another's, or damaged.
    """
    return Replica(place_of(locate(office.location), station, life), station, bytes.fromhex(key))


def read_replica(office: Record, station: str, life: int) -> Record:
    """Open a replica to be read only.

    Raises
    ------
    InputError
        If there is none.
    RecordError
        If it is damaged.
    """
    return Record.open(place_of(locate(office.location), station, life), readonly=True)
