"""What is verified before anything is entered: all that came after the last checkpoint."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection

from blender.errors import RecordError
from blender.record import checkpoint
from blender.record.checkpoint import Checkpoint
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.unit import check_stays, last_entry
from blender.record.verify import stored
from blender.record.walk import Problem, Stored, Walk, link_problem
from blender.record.witness import held_against_roots, kept

UNSEEN = 1000  # entries at the end that a start verifies where nothing was verified before
_STRIDE = 100  # entries after which a new checkpoint is worth its file
_PART = 500


@dataclass(frozen=True, slots=True)
class Start:
    """What a start verified.

    Parameters
    ----------
    after, seq : int
        From the entry after which, up to which.
    is_whole : bool
        Whether everything before was verified once, too; else a full verification is due.
    """

    after: int
    seq: int
    is_whole: bool


def check_start(record: Record, keys: StationKeys) -> Start:
    """Verify the end of a record, and keep a checkpoint where that is worth it.

    Raises
    ------
    RecordError
        Which entry is damaged, and what follows from it.
    MovedError
        If it was moved to another place, where it goes on.
    """
    known = (
        checkpoint.load(record.beside, keys.public) if record.beside else None
    )  # before the record: it may grow
    roots = kept(record.beside, keys.public) if record.beside else []
    with record.read() as conn:
        last = last_entry(conn, record.station)
        if last is not None:
            check_stays(last)
        seq = last.seq if last else 0
        if known is None and seq > UNSEEN:
            problems = _end(conn, record.station, seq)
            after, walk = seq - UNSEEN, None
        else:
            walk = known.walk(record.public_key.hex()) if known else Walk()
            after = known.seq if known else 0
            problems = _stands(conn, known) if known else []
            problems += _rest(conn, record.station, after, walk) if not problems else []
        problems = problems or held_against_roots(conn, record.station, roots)
    if problems:
        raise RecordError(told(problems[0]), code="damaged")
    is_worth_it = walk is not None and walk.seq - after >= _STRIDE
    if walk and is_worth_it and record.beside and (new := Checkpoint.of(walk)):
        checkpoint.keep(record.beside, new, keys)
    return Start(after, seq, is_whole=walk is not None)


def held_against_checkpoint(record: Record) -> list[Problem]:
    """Hold a record against the checkpoint and the shop's roots beside its file, if signed.

    That is how a record cut short, or an older copy put back, is found without a paper.
    """
    if record.beside is None:
        return []
    known = checkpoint.load(record.beside, record.public_key)
    roots = kept(record.beside, record.public_key)
    with record.read() as conn:
        found = _stands(conn, known) if known else []
        return [*found, *held_against_roots(conn, record.station, roots)]


def told(problem: Problem) -> str:
    """Say what damage was found, and what follows from it."""
    return (
        f"the record is damaged at entry {problem.seq}: {problem.kind}: {problem.text}. Nothing"
        " more is entered; it can still be read. Keep the file as it is, run `verify`, compare"
        " it with labels and reports, and `restore` the newest copy that verifies"
    )


def _stands(conn: Connection, known: Checkpoint) -> list[Problem]:
    """Check that the entry a checkpoint speaks of is there as it was."""
    before = Stored(known.station, known.seq - 1, b"", b"", b"", None)
    found = stored(conn, after=before, most=1)
    if not found or found[0].seq != known.seq:
        text = "it was there at the last start: the record was cut short, or an older copy put back"
        return [Problem(known.seq, "checkpoint", text)]
    if found[0].digest != known.head:
        return [Problem(known.seq, "checkpoint", "it is not the entry verified at the last start")]
    problem = link_problem(found[0], None)
    return [problem] if problem else []


def _rest(conn: Connection, station: str, after: int, walk: Walk) -> list[Problem]:
    """Walk on to the end, with signatures."""
    last = Stored(station, after, b"", b"", b"", None)
    while part := stored(conn, after=last, most=_PART):
        for row in part:
            walk.take(row)
        if walk.problems:
            break
        last = part[-1]
    return walk.problems


def _end(conn: Connection, station: str, seq: int) -> list[Problem]:
    """Check the links of the last entries, where nobody knows yet what came before."""
    rows = stored(conn, after=Stored(station, seq - UNSEEN, b"", b"", b"", None))
    before: bytes | None = None
    for row in rows:
        if problem := link_problem(row, before):
            return [problem]
        before = row.digest
    return []
