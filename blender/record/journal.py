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
from blender.record.engine import IMMEDIATE, open_engine
from blender.record.entry import Entry
from blender.record.keys import StationKeys
from blender.record.moment import Moment
from blender.record.place import check_may_grow, explain, sqlite_path
from blender.record.projector import Projector, station_projector
from blender.record.remake import Beside, remake
from blender.record.unit import FOUNDED, Unit, founding, founding_key, last_entry

__all__ = ["Entry", "Record", "Unit"]


class Record:
    """A station's record on its disk.

    Make one with `found` or `open`; close it, or use it as a context manager.
    """

    def __init__(
        self, engine: Engine, location: Path, projector: Projector, *, readonly: bool
    ) -> None:
        self._engine: Engine | None = engine
        self.location = location
        self.projector = projector
        self.readonly = readonly
        self.says_build = True  # each entry which program wrote it
        self.station = ""
        self.public_key = b""
        self._beside: Beside | None = None

    @classmethod
    def found(
        cls,
        location: str | Path,
        *,
        keys: StationKeys,
        station: str,
        data: dict[str, Any],
        at: Moment,
        writes: Callable[[Unit], None] | None = None,
        project: Projector | None = None,
    ) -> Self:
        """Create the file and its first entry, sealed with the station's key.

        Parameters
        ----------
        location : str or Path
            A file that does not exist yet.
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

        Raises
        ------
        InputError
            If the file exists or the id is not usable.
        StorageError
            If the disk did not take it; then no file is left.
        """
        if not STATION.fullmatch(station):
            raise InputError("station id", ascii(station), "1 to 32 of A-Z, 0-9 and hyphen")
        path = sqlite_path(location)
        engine = open_engine(path, create=True)
        record = cls(engine, path, project or station_projector(), readonly=False)
        record.station, record.public_key = station, keys.public
        record.says_build = project is None
        try:
            with record.write() as unit:
                schema.create_journal(unit.conn)
                schema.create_tables(unit.conn, record.projector.TABLES)
                unit.append(FOUNDED, {**data, "key": keys.public.hex()}, at=at, seal=keys)
                if writes is not None:
                    writes(unit)
        except BaseException:
            record.close()
            path.unlink(missing_ok=True)
            raise
        return record

    @classmethod
    def open(
        cls,
        location: str | Path,
        *,
        readonly: bool = False,
        project: Projector | None = None,
        check: bool = True,
    ) -> Self:
        """Open a station's record.

        Parameters
        ----------
        location : str or Path
            Its file.
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
        path = sqlite_path(location)
        if not readonly:
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
        except (IntegrityError, ProgrammingError):
            raise
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
        engine = self._open_engine().execution_options(**{IMMEDIATE: True})
        build = program_build() if self.says_build else ""  # before the lock: it reads files
        try:
            with engine.connect() as conn, conn.begin():
                yield Unit(conn, self.station, self.public_key, self.projector, build)
        except (IntegrityError, ProgrammingError):
            raise
        except DatabaseError as error:
            self._let_go()
            raise explain(error) from error

    def _let_go(self) -> None:
        """Use no connection again that failed: what it knows of the file may be wrong."""
        if self._engine is not None:
            self._engine.dispose()

    def close(self) -> None:
        """Let the file go; closing twice does no harm."""
        engine, self._engine = self._engine, None
        if engine is not None:
            engine.dispose()

    def _open_engine(self) -> Engine:
        if self._engine is None:
            raise StorageError("the record was closed; nothing was saved")
        return self._engine

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
