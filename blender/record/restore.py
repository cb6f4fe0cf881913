"""Putting a copy of a record in its place: looked at as what a stranger handed over.

Whatever the file is, it is copied first, for its owner alone, and only that copy is opened:
without trusting its schema, after its digest, its size and its structure were checked, and
whole by the same verification as any record.
"""

from __future__ import annotations

import hashlib
import os
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path

from blender.errors import InputError, RecordError, StorageError
from blender.record.anchor import Anchor
from blender.record.backup import DIGEST_TAIL, anchor_of, check_whole, copies_in
from blender.record.checkpoint import CHECKPOINT_TAIL
from blender.record.disk import check_room
from blender.record.files import create_private, sync_folder
from blender.record.place import APPLICATION_ID, READING_TAIL, explain, is_busy
from blender.record.projector import Projector
from blender.record.verify import verify

MAX_BYTES = 64 << 30
ASIDE_TAILS = ("", "-journal", "-wal", "-shm")
_PART = 1 << 20
_DIGEST = re.compile(r"[0-9a-f]{64}")
_MAGIC = b"SQLite format 3\x00"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A copy that was admitted: whole, and not yet in its place.

    Parameters
    ----------
    path : Path
        Our own copy of it, beside where it shall go.
    anchor : Anchor
        The last entry in it.
    sha256 : str
        The digest of the file that was handed over.
    """

    path: Path
    anchor: Anchor
    sha256: str


def newest_in(place: Path) -> Path:
    """Return a file, or the newest copy in a folder.

    Raises
    ------
    InputError
        If there is none.
    """
    if not place.is_dir():
        return place
    found = copies_in(place)
    if not found:
        raise InputError("FILE", str(place), "no copy made by `backup` is in that folder")
    return found[-1]


def digest_beside(source: Path) -> str | None:
    """Read the digest that lies beside a copy, None where there is none.

    Raises
    ------
    InputError
        If what lies there is no digest.
    """
    try:
        beside = source.with_name(source.name + DIGEST_TAIL)
        with beside.open("rb") as file:
            word = file.read(64).decode("ascii", "replace")
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "that is no name of a file"
        raise InputError("FILE", ascii(str(source)), f"it cannot be read: {why}") from None
    if not _DIGEST.fullmatch(word):
        raise InputError("FILE", str(beside), "it does not begin with 64 hex digits")
    return word


@contextmanager
def admitted(
    source: Path,
    place: Path,
    digest: str | None,
    *,
    project: Projector | None = None,
    progress: Callable[[int], None] | None = None,
) -> Iterator[Candidate]:
    """Admit a file as a copy to be restored; what is not put in its place is deleted again.

    Parameters
    ----------
    source : Path
        The file handed over; it is only read.
    place : Path
        Where the record shall be.
    digest : str or None
        What the file's SHA-256 must be; None where nobody knows it.
    project : Projector
        Other read models than the station's.
    progress : callable
        Told how many entries were verified.

    Raises
    ------
    InputError
        If there is no such file, or it is not what the digest says.
    RecordError
        If it is no whole record of a station.
    """
    own = place.with_name(f".{place.name}.{os.getpid()}.restoring")
    try:
        own.unlink(missing_ok=True)
        found = _take(source, own)
        if digest is not None and found != digest:
            told = "it is not the file its digest was made of: damaged, cut short or another"
            raise InputError("FILE", str(source), f"{told}; take another copy")
        _check_structure(own)
        report = verify(own, project=project, progress=progress)
        check_whole(report, "the copy")
        yield Candidate(own, anchor_of(report), found)
    except OSError as error:
        raise StorageError(f"nothing was restored: {error.strerror}") from None
    finally:
        for tail in ASIDE_TAILS:
            own.with_name(own.name + tail).unlink(missing_ok=True)


def _take(source: Path, own: Path) -> str:
    """Copy a file of plausible size and return the digest of what was copied."""
    try:
        file = source.open("rb")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "that is no name of a file"
        raise InputError("FILE", ascii(str(source)), f"it cannot be read: {why}") from None
    with file:
        size = os.fstat(file.fileno()).st_size
        if not source.is_file() or not 512 <= size <= MAX_BYTES:
            raise InputError("FILE", str(source), f"a copy has 512 to {MAX_BYTES} bytes")
        check_room(own.parent, 2 * size)
        return _pour(file, own)


def _pour(file: object, own: Path) -> str:
    digest = hashlib.sha256()
    with os.fdopen(create_private(own), "wb") as target:
        while part := file.read(_PART):  # type: ignore[attr-defined]  # a file opened to be read
            digest.update(part)
            target.write(part)
        target.flush()
        os.fsync(target.fileno())
    return digest.hexdigest()


def _check_structure(own: Path) -> None:
    """Look at a hostile file as little as can be before it is known to be sound.

    Raises
    ------
    RecordError
        If it is not a station's record, or its pages are damaged.
    """
    with own.open("rb") as file:
        head = file.read(100)
    if head[:16] != _MAGIC:
        raise RecordError("the file is not a station's record: it is no SQLite database")
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise RecordError("the file is some other program's database, not a station's record")
    try:
        with closing(sqlite3.connect(f"{own.as_uri()}?mode=ro", uri=True)) as raw:
            if hasattr(raw, "setconfig"):  # Python 3.12, unknown to the types of 3.11
                raw.setconfig(sqlite3.SQLITE_DBCONFIG_DEFENSIVE, True)  # type: ignore[attr-defined]  # only from Python 3.12 on
            for setting in ("trusted_schema=0", "cell_size_check=1", "mmap_size=0", "query_only=1"):
                raw.execute(f"PRAGMA {setting}")
            said = raw.execute("PRAGMA quick_check(1)").fetchone()[0]
    except (sqlite3.Error, UnicodeDecodeError) as error:
        raise explain(error, "nothing was restored") from error
    if said != "ok":
        raise RecordError(f"the copy is damaged ({said!a}); nothing was restored, take another")


def is_taken(place: Path) -> bool:
    """Tell whether a record, or a journal that would be played into a new one, is there."""
    return any(os.path.lexists(place.with_name(place.name + tail)) for tail in ASIDE_TAILS)


def put(candidate: Candidate, place: Path) -> None:
    """Give an admitted copy its place, where nothing may be.

    Raises
    ------
    InputError
        If something is there.
    """
    if is_taken(place):
        raise InputError("station", str(place), "a record is there; it is never overwritten")
    with candidate.path.open("rb+") as file:
        os.fsync(file.fileno())
    candidate.path.rename(place)
    sync_folder(place.parent)


def move_aside(place: Path, folder: Path) -> None:
    """Move a record and what belongs to its database into a folder, under the same names.

    A journal left by a crash goes with it, for without it the file could not be mended.

    Raises
    ------
    StorageError
        If another terminal is writing to it, or the disk does not do it.
    """
    with _held(place) if place.exists() else nullcontext():
        try:
            folder.mkdir(mode=0o700)
            for tail in (*ASIDE_TAILS, CHECKPOINT_TAIL, READING_TAIL):
                if (one := place.with_name(place.name + tail)).exists():
                    one.rename(folder / one.name)
            sync_folder(folder)
            sync_folder(place.parent)
        except OSError as error:
            raise StorageError(f"{place} cannot be moved aside: {error.strerror}") from None


@contextmanager
def _held(place: Path) -> Iterator[None]:
    """Keep every writer out of a record; what a crash left unfinished is rolled back first.

    On Windows, where an open file cannot be moved, it is let go before.
    """
    with closing(sqlite3.connect(place, timeout=1, isolation_level=None)) as raw:
        try:
            raw.execute("PRAGMA locking_mode=EXCLUSIVE")
            raw.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            if is_busy(error):
                raise explain(error, "nothing was restored") from error
            # a damaged file is what a restore is for
        if os.name == "nt":
            raw.close()
        yield
