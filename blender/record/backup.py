"""A copy of a record while it is being worked with: one state of it, whole, and proved so.

The copy is made by SQLite itself, under a name nobody takes for a finished one; it is brought
to the disk, verified from its own bytes, and only then given its name, with the digest of the
file beside it.  What had been erased is not in it, for it is written anew page by page.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import NamedTuple

from sqlalchemy.exc import DatabaseError

from blender.errors import InputError, RecordError, StorageError
from blender.record.anchor import Anchor, parse_anchor
from blender.record.disk import check_room
from blender.record.engine import open_engine
from blender.record.files import create_private, mark, sync_folder
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.record.place import explain, locate
from blender.record.pour import pour
from blender.record.projector import Projector
from blender.record.server import Location, Server
from blender.record.verify import Report, verify

DIGEST_TAIL = ".sha256"
COPY_TAIL = ".copy.db"
_PART = 1 << 20


@dataclass(frozen=True, slots=True)
class Copy:
    """A finished copy.

    Parameters
    ----------
    path : Path
        The file; its digest lies beside it.
    anchor : Anchor
        The last entry in it.
    sha256 : str
        The file's digest, 64 hex digits.
    size : int
        Its length [bytes].
    """

    path: Path
    anchor: Anchor
    sha256: str
    size: int


def copy_record(
    location: str | Location,
    folder: Path,
    at: Moment,
    *,
    project: Projector | None = None,
    progress: Callable[[int], None] | None = None,
) -> Copy:
    """Copy a record into a folder, verify the copy, and put its digest beside it.

    Parameters
    ----------
    location : str, Path or Server
        The record; others may go on writing to it.
    folder : Path
        Where the copy goes; made, for its owner alone, if it is not there.
    at : Moment
        Now; the name says it.
    project : Projector
        Other read models than the station's.
    progress : callable
        Told how many entries of the copy were verified.

    Raises
    ------
    InputError
        If the folder cannot be used, or has no room.
    RecordError
        If the copy does not verify; then none is left.
    StorageError
        If the record was kept busy, or a disk failed.
    """
    source = locate(location)
    source = source.absolute() if isinstance(source, Path) else source
    _make_folder(folder, source)
    stem = source.stem if isinstance(source, Path) else source.label
    part = folder / f".{stem}.{os.getpid()}.part"
    try:
        part.unlink(missing_ok=True)  # what a power cut left of an earlier one
        if isinstance(source, Path):
            os.close(create_private(part))
            _write(source, part)
        else:
            _pour(source, part, project)
        report = verify(part, project=project, progress=progress)
        check_whole(report, "the copy")
        return _named(part, folder, report, at)
    except OSError as error:
        raise StorageError(f"no copy was made in {folder}: {error.strerror}") from None
    finally:
        part.unlink(missing_ok=True)


def _pour(source: Server, part: Path, project: Projector | None) -> None:
    """Write one state of a record on a server into a file, as any record in a file."""
    with Record.open(source, readonly=True, project=project) as record:
        pour(record, part).close()
    _sync(part)


def _make_folder(folder: Path, source: Location) -> None:
    try:
        if not folder.is_dir():
            folder.mkdir(parents=True, mode=0o700)
            folder.chmod(0o700)
        size = source.stat().st_size if isinstance(source, Path) else 0
    except FileNotFoundError:
        raise InputError("station", str(source), "it is not there") from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "that is no name of a folder"
        raise InputError(
            "folder", ascii(str(folder)), f"no copy can be kept there: {why}"
        ) from None
    check_room(folder, size + _PART)


def _write(source: Path, part: Path) -> None:
    """Let SQLite write one state of the record, and bring it to the disk."""
    engine = open_engine(source)
    try:
        with closing(engine.raw_connection()) as pooled:
            raw = pooled.driver_connection
            if raw is None:  # pragma: no cover - only a connection that was given back has none
                raise StorageError("the record could not be opened; no copy was made")
            raw.execute("VACUUM INTO ?", [str(part)])
    except (DatabaseError, sqlite3.Error) as error:
        raise explain(error, "no copy was made") from error
    finally:
        engine.dispose()
    _sync(part)


def _sync(part: Path) -> None:
    handle = os.open(part, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def check_whole(report: Report, what: str) -> None:
    """Refuse a copy that does not verify.

    Raises
    ------
    RecordError
        Naming its first problem.
    """
    if report.problems:
        first = report.problems[0]
        raise RecordError(
            f"{what} is damaged or altered: {first};"
            " it is not used, and the record is as it was: verify it"
        )


def anchor_of(report: Report) -> Anchor:
    """Return the last entry of what was verified."""
    line = f"FILLWRIGHT1 {report.station} {report.incarnation} {report.entries} {report.head}"
    return parse_anchor(line)


def _named(part: Path, folder: Path, report: Report, at: Moment) -> Copy:
    """Give a verified copy its name: the digest first, so that no copy stands without one."""
    stamp = at.local.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    name = f"{report.station}-{report.entries:08d}-{stamp}{COPY_TAIL}"
    path, digest = folder / name, file_digest(part)
    beside = path.with_name(name + DIGEST_TAIL)
    if path.exists():
        raise InputError("folder", str(folder), f"{name} is there already; try again in a second")
    mark(beside, f"{digest}  {name}\n")
    size = part.stat().st_size
    part.rename(path)
    sync_folder(folder)
    return Copy(path, anchor_of(report), digest, size)


def file_digest(path: Path) -> str:
    """Hash a closed file, 64 hex digits; never the live record, whose locks this would drop."""
    own = hashlib.sha256()
    with path.open("rb") as file:
        while part := file.read(_PART):
            own.update(part)
    return own.hexdigest()


def copies_in(folder: Path, station: str = "") -> list[Path]:
    """List the finished copies in a folder, oldest first; of one station if it is named."""
    found = folder.glob(f"{station}-*{COPY_TAIL}" if station else f"*{COPY_TAIL}")
    return sorted(found, key=lambda one: (one.stat().st_mtime_ns, one.name))


class Dropped(NamedTuple):
    """A copy that was deleted, and the digest that lay beside it, empty if none did."""

    path: Path
    sha256: str


def drop_oldest(folder: Path, station: str, keep: int) -> list[Dropped]:
    """Delete all but the newest copies of a station, each with what lies beside it; return them."""
    gone = [Dropped(path, _said(path)) for path in copies_in(folder, station)[: -max(keep, 1)]]
    for path, _ in gone:
        path.unlink()
        for tail in (DIGEST_TAIL, ".keys.locked"):
            path.with_name(path.name + tail).unlink(missing_ok=True)
    return gone


def _said(path: Path) -> str:
    """Read the digest beside a copy, as far as it is one."""
    try:
        word = path.with_name(path.name + DIGEST_TAIL).read_bytes()[:64].decode("ascii", "replace")
    except OSError:
        return ""
    return word if len(word) == 64 and all(char in "0123456789abcdef" for char in word) else ""
