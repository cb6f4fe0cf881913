"""Telling whether a record is what it was: everything checked, nothing repaired."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

from sqlalchemy import Connection, Engine, text
from sqlalchemy.exc import DatabaseError

from blender.errors import RecordError, StorageError
from blender.record import dialect, private, schema
from blender.record.anchor import Anchor, head_text, parse_anchor
from blender.record.compare import Shadow
from blender.record.entry import Entry
from blender.record.held import Held
from blender.record.place import explain
from blender.record.pledges import Pledges
from blender.record.projector import Projector, station_projector
from blender.record.server import Location
from blender.record.snapshot import look
from blender.record.staff_keys import StaffKeys
from blender.record.unit import entry_at
from blender.record.walk import Problem, Stored, Walk
from blender.record.witness import Witness

__all__ = ["Problem", "Report", "verify"]

_MOST_PROBLEMS = 1000
_PART = 500  # entries read in one transaction
_START = Stored("", 0, b"", b"", b"", None)
_STORED = text(  # without types, so that what is given is what lies there
    "SELECT station, seq, prev, digest, body, step FROM entry"
    " WHERE (station, seq) > (:whose, :after) ORDER BY station, seq LIMIT :most"
)


@dataclass(frozen=True, slots=True)
class Report:
    """What a verification found.

    Parameters
    ----------
    station : str
        Whose record, empty if it cannot be told.
    incarnation, entries : int
        Which life of it, and how many entries it has.
    head : str
        The last entry's digest in base32, as papers have it.
    problems : list of Problem
        Everything that is wrong, in order of seq.
    """

    station: str
    incarnation: int
    entries: int
    head: str
    problems: list[Problem]

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong."""
        return not self.problems


def verify(
    location: str | Location,
    anchor: str | Anchor | None = None,
    *,
    project: Projector | None = None,
    progress: Callable[[int], None] | None = None,
    keep: Callable[[Walk], None] | None = None,
) -> Report:
    """Verify a record from its file alone.

    Parameters
    ----------
    location : str, Path or Server
        Its file, or its place on a server.
    anchor : str or Anchor
        The line of a label's QR code or of a report's footer.
    project : Projector
        Other read models than the station's.
    progress : callable
        Told now and then how many entries were read; what it raises stops the work.
    keep : callable
        Given the walk along a record with no problem at all, so that it need not be walked again.

    Raises
    ------
    InputError
        If there is no such file, or the anchor is not one.
    StorageError
        If another terminal keeps it busy: that says nothing of the record.
    """
    held = Held(parse_anchor(anchor) if isinstance(anchor, str) else anchor)
    walk, problems = Walk(), list[Problem]()
    try:
        with look(location) as engine:
            projector = project or station_projector()
            with engine.connect() as conn, conn.begin():
                problems += _file_problems(conn)
                problems += _schema_problems(conn, projector)
            for problem in _journal_problems(engine, walk, held, projector, progress):
                problems.append(problem)  # one by one: what was found stands if reading fails
    except (DatabaseError, UnicodeDecodeError) as error:
        problems.append(Problem(0, "file", _damage(error).text))
    except StorageError:
        raise
    except RecordError as error:
        problems.append(Problem(0, "schema", error.text))
    except OSError as error:
        problems.append(Problem(0, "file", f"the file cannot be read: {error.strerror}"))
    problems = sorted({*problems, *walk.problems}, key=lambda one: (one.seq, one.kind, one.text))
    head = head_text(walk.head) if walk.head else ""
    if keep is not None and not problems:
        keep(walk)
    return Report(walk.station, walk.incarnation, walk.count, head, problems[:_MOST_PROBLEMS])


def _damage(error: Exception) -> RecordError:
    """Say what is wrong with a file that cannot be read; that it is out of reach is no damage."""
    said = explain(error, "it was not verified")
    if said.code in ("busy", "lost", "rights"):
        raise said from None
    return said


def _file_problems(conn: Connection) -> list[Problem]:
    """Let the database look for damage of its own."""
    return [Problem(0, "file", said) for said in dialect.flaws_of_file(conn)]


def _schema_problems(conn: Connection, projector: Projector) -> list[Problem]:
    """Compare tables, indexes and guards; raise RecordError if it is no record at all."""
    schema.check_ours(conn)
    schema.check_tables(conn, projector.TABLES)
    if schema.is_earlier(conn):
        return []
    said = schema.differences(conn, projector.TABLES)
    return [Problem(0, "schema", one) for one in said]


def _journal_problems(
    engine: Engine,
    walk: Walk,
    held: Held,
    projector: Projector,
    progress: Callable[[int], None] | None,
) -> Iterator[Problem]:
    """Walk the journal once, and hold against it all that is derived from it.

    It is read in parts, each in a short transaction, so that no terminal waits for it;
    what is entered meanwhile is taken along.
    """
    with engine.connect() as conn:
        get = partial(private.get, conn)
        filed = partial(private.filed, conn)
        pledges, staff = Pledges(get, filed), StaffKeys(get, filed)
        shadow = Shadow(projector, get)
        witness = Witness(lambda seq: _digest_at(conn, walk.station, seq))
        try:
            last: Stored | None = _START
            while last is not None:
                with conn.begin():
                    part = stored(conn, after=last, most=_PART)
                    for row in part:
                        yield from _row_problems(row, walk, held, pledges, staff, witness, shadow)
                    if not part:
                        yield from shadow.read(conn)
                if progress is not None:
                    progress(walk.count)
                if part and not _moves_on(last, part[-1]):
                    yield Problem(0, "file", "the journal's rows are out of order")
                    break
                last = part[-1] if part else None
            yield from _end_problems(walk, held, pledges)
            yield from staff.problems()
            if walk.sound:
                yield from shadow.problems()
        finally:
            shadow.close()


def _moves_on(before: Stored, after: Stored) -> bool:
    """Tell whether a reading gets on; in a damaged file it could go round for ever."""
    try:
        return bool(before[:2] < after[:2])
    except TypeError:
        return False


def _digest_at(conn: Connection, station: str, seq: int) -> bytes | None:
    found = entry_at(conn, station, seq)
    return found.digest if found else None


def _row_problems(
    row: Stored,
    walk: Walk,
    held: Held,
    pledges: Pledges,
    staff: StaffKeys,
    witness: Witness,
    shadow: Shadow,
) -> Iterator[Problem]:
    """Check one row of the journal, and what it commits to."""
    content = walk.take(row)
    held.take(row)
    if content is not None:
        yield from pledges.take(row.seq, content)
        staff.take(row.seq, content)
        yield from witness.take(row.seq, content, walk)
        if walk.sound:
            yield from shadow.take(_entry(row, content))


def _end_problems(walk: Walk, held: Held, pledges: Pledges) -> Iterator[Problem]:
    """Check what can only be told at the end."""
    if walk.count == 0:
        yield Problem(0, "genesis", "there is no entry at all")
    yield from held.problems(walk)
    yield from pledges.problems()


def _entry(row: Stored, content: dict[str, Any]) -> Entry:
    """Make an entry of a row whose body is read already."""
    entry = Entry(row.station, row.seq, row.prev, row.digest, row.body)
    vars(entry)["content"] = content  # its cached property; reading it again is half the work
    return entry


def stored(conn: Connection, *, after: Stored | None = None, most: int = -1) -> list[Stored]:
    """Read rows of the journal as they lie in the file, in order, from after one on."""
    first = after or _START
    limit = 2**62 if most < 0 else most
    rows = conn.execute(_STORED, {"whose": first.station, "after": first.seq, "most": limit})
    return [Stored(*row) for row in rows]
