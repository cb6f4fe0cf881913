"""The record of one station: opened, read, and added to; never changed.

    with record.write() as unit:
        unit.append("cylinder.added", {...}, at=clock(), by=signer)

What the unit entered is on the disk when the block is left, or an error says that
nothing is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DatabaseError, IntegrityError, ProgrammingError

from blender.errors import InputError, RecordError, StorageError
from blender.record import schema
from blender.record.anchor import STATION, Anchor
from blender.record.build import program_build
from blender.record.engine import IMMEDIATE, open_engine, settle
from blender.record.entry import Entry
from blender.record.keys import StationKeys
from blender.record.moment import Moment
from blender.record.place import check_may_grow, explain, locate
from blender.record.projector import Projector, station_projector
from blender.record.remake import Beside, remake
from blender.record.server import Location, is_lost, lacks_right, said_by_server
from blender.record.unit import FOUNDED, Unit, entry_at, founding, founding_key, last_entry

__all__ = ["Entry", "Record", "Unit"]


class Record:
    """A station's record on its disk, or on a server.

    `location` is where it lies; `beside` the file its checkpoint is kept beside: its own, or for
    a record on a server one of this machine, None where nobody named one.

    Make one with `found` or `open`; close it, or use it as a context manager.
    """

    def __init__(
        self, engine: Engine, location: Location, projector: Projector, *, readonly: bool
    ) -> None:
        self._engine: Engine | None = engine
        self._writing: tuple[Engine, Engine] | None = None
        self.location = location
        self.beside = location if isinstance(location, Path) else None
        self.projector = projector
        self.readonly = readonly
        self.says_build = True  # each entry which program wrote it
        self.station = ""
        self.public_key = b""
        self._beside: Beside | None = None
        self._draft: Path | None = None

    @classmethod
    def found(
        cls,
        location: str | Location,
        *,
        keys: StationKeys,
        station: str,
        data: dict[str, Any],
        at: Moment,
        writes: Callable[[Unit], None] | None = None,
        project: Projector | None = None,
        draft: bool = False,
    ) -> Self:
        """Create the file and its first entry, sealed with the station's key.

        Parameters
        ----------
        location : str, Path or Server
            A file that does not exist yet, or a place on a server where nothing is.
        keys : StationKeys
            The station's keys; the public one goes into the entry.
        station : str
            Its id: capitals, digits and hyphens.
        data : dict
            What else the founding entry says, such as the station's name.
        at : Moment
            Now.
        writes : callable
            Enters more in the same transaction, such as the first manager.
        project : Projector
            Other read models than the station's.
        draft : bool
            Whether a file is only brought to the disk as a whole when it is closed: what is
            entered until then is not acknowledged, and a power cut may leave nothing of it.
            For a record that is made up; once opened again it is like any other.

        Raises
        ------
        InputError
            If something is there or the id is not usable.
        StorageError
            If the disk did not take it; then nothing is left.
        """
        if not STATION.fullmatch(station):
            raise InputError("station id", ascii(station), "1 to 32 of A-Z, 0-9 and hyphen")

        def fill(unit: Unit) -> None:
            unit.append(FOUNDED, {**data, "key": keys.public.hex()}, at=at, seal=keys)
            if writes is not None:
                writes(unit)

        projector, says_build = project or station_projector(), project is None
        return cls.make(
            location, station, keys.public, fill, projector, says_build=says_build, draft=draft
        )

    @classmethod
    def make(
        cls,
        location: str | Location,
        station: str,
        public_key: bytes,
        fill: Callable[[Unit], None],
        projector: Projector,
        *,
        says_build: bool,
        draft: bool = False,
    ) -> Self:
        """Make tables and guards where nothing is, and fill them in the same transaction.

        Raises
        ------
        InputError
            If something is there.
        StorageError
            If the disk did not take it; then nothing is left.
        """
        path = locate(location)
        engine = open_engine(path, create=True, draft=draft)
        record = cls(engine, path, projector, readonly=False)
        record._draft = path if draft and isinstance(path, Path) else None
        record.station, record.public_key = station, public_key
        record.says_build = says_build
        try:
            with record.write() as unit:
                schema.create_journal(unit.conn)
                schema.create_tables(unit.conn, projector.TABLES)
                fill(unit)
        except BaseException:
            record.close()
            if isinstance(path, Path):  # a server undid it all
                path.unlink(missing_ok=True)
            raise
        return record

    @classmethod
    def open(
        cls,
        location: str | Location,
        *,
        readonly: bool = False,
        project: Projector | None = None,
        check: bool = True,
    ) -> Self:
        """Open a station's record.

        Parameters
        ----------
        location : str, Path or Server
            Its file, or its place on a server.
        readonly : bool
            Whether nothing may be written.
        project : Projector
            Other read models than the station's.
        check : bool
            Whether tables and guards must be as this version makes them; without it
            `rebuild` can mend the read models.

        Raises
        ------
        InputError
            If there is no such file.
        RecordError
            If it is not a station's record, damaged, or its guards were tampered with.
        StorageError
            If it shall be written to but was restored to be read only.
        """
        path = locate(location)
        if not readonly and isinstance(path, Path):
            check_may_grow(path)
        reader = open_engine(path, readonly=True)  # until the file is known to be ours
        record = cls(reader, path, project or station_projector(), readonly=readonly)
        record.says_build = project is None
        try:
            with record.read() as conn:
                schema.check_ours(conn)
                earlier = check and schema.is_earlier(conn)
                if check and not earlier:
                    schema.check_definitions(conn, record.projector.TABLES)
                first = founding(conn)
            record.station = first.station
            record.public_key = founding_key(first.content) or b""
        except BaseException:
            record.close()
            raise
        if not readonly:
            record.close()
            record._engine = open_engine(path)
        if earlier:
            record._renew()
        return record

    def _renew(self) -> None:
        """Make the read models of this release, where an earlier one made the file's."""
        try:
            if self.readonly:
                self.close()
                self._beside = Beside(self.location, self.station, self.projector)
                self._engine = self._beside.engine
                return
            with self.write() as unit:
                if schema.is_earlier(unit.conn):  # no other terminal was quicker
                    remake(unit.conn, self.station, self.projector)
        except BaseException:
            self.close()
            raise

    @property
    def incarnation(self) -> int:
        """Which life of the record this is: 1, and one more after each restore."""
        return self.head().incarnation

    def head(self) -> Anchor:
        """Return where the record ends now."""
        with self.read() as conn:
            last = last_entry(conn, self.station)
        if last is None:
            raise RecordError("the record is empty; run `verify`")
        return last.anchor

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Read from one consistent state of the record.

        Raises
        ------
        RecordError
            If it cannot be read.
        """
        try:
            with self._open_engine().connect() as conn, conn.begin():
                if self._beside is not None:
                    self._beside.catch_up(conn)
                yield conn
        except (IntegrityError, ProgrammingError) as error:
            raise _told(error, "it was not read") from error
        except DatabaseError as error:
            self._let_go()
            raise explain(error, "it was not read") from error

    @contextmanager
    def write(self) -> Iterator[Unit]:
        """Enter something, all of it or nothing.

        Raises
        ------
        StorageError
            If it did not reach the disk: then nothing was saved.
        """
        if self.readonly:
            raise StorageError("the record was opened to be read only; nothing was saved")
        engine = self._writing_engine()
        build = program_build() if self.says_build else ""  # before the lock: it reads files
        unit, is_entered = None, False
        try:
            with engine.connect() as conn, conn.begin():
                unit = Unit(conn, self.station, self.public_key, self.projector, build)
                yield unit
                is_entered = True
        except (IntegrityError, ProgrammingError) as error:
            raise _told(error, "nothing was saved") from error
        except DatabaseError as error:
            self._let_go()
            if not (unit and is_entered and said_by_server(error.orig) and is_lost(error.orig)):
                raise explain(error) from error
            self._look_for(unit, error)

    def _look_for(self, unit: Unit, error: DatabaseError) -> None:
        """Look whether a unit was saved whose commit nobody answered; return if it was.

        Under the lock of the chain, which the server keeps until it is done with the unit.

        Raises
        ------
        StorageError
            That it was not, or that nobody can tell.
        """
        outcome = "whether it was saved cannot be told: look into the record before you repeat it"
        if unit.last is not None:
            try:
                with self._writing_engine().connect() as conn, conn.begin():
                    last = entry_at(conn, unit.last.station, unit.last.seq)
                if last is not None and last.digest == unit.last.digest:
                    return
                outcome = "nothing was saved"
            except (DatabaseError, StorageError):
                self._let_go()
        raise explain(error, outcome) from error

    def _let_go(self) -> None:
        """Use no connection again that failed: what it knows of the file may be wrong."""
        if self._engine is not None:
            self._engine.dispose()

    def close(self) -> None:
        """Let the file go; closing twice does no harm.

        Raises
        ------
        StorageError
            If a draft did not reach the disk.
        """
        engine, self._engine = self._engine, None
        if engine is not None:
            engine.dispose()
            if self._draft is not None:
                settle(self._draft)

    def _open_engine(self) -> Engine:
        if self._engine is None:
            raise StorageError("the record was closed; nothing was saved")
        return self._engine

    def _writing_engine(self) -> Engine:
        """Return the same engine, whose connections take the lock as they begin."""
        engine = self._open_engine()
        if self._writing is None or self._writing[0] is not engine:
            self._writing = engine, engine.execution_options(**{IMMEDIATE: True})
        return self._writing[1]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _told(error: DatabaseError, outcome: str) -> Exception:
    """Say that a server refuses a right; anything else of that kind is a bug of ours."""
    orig = error.orig
    return explain(error, outcome) if said_by_server(orig) and lacks_right(orig) else error
