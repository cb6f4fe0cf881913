"""The chain alone, as fast as its bytes can be hashed: a million entries in seconds.

It shows that nothing between the first and the last entry was altered, removed or put in another
order.  What the entries say, who signed them and what was made of them is for `verify`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DatabaseError

from blender.record.chain import ENTRY_TAG, genesis
from blender.record.dialect import by_driver, is_server
from blender.record.place import explain
from blender.record.server import Location
from blender.record.snapshot import look
from blender.record.unit import founding, founding_key
from blender.record.walk import Problem

_PART = 4000  # entries read in one transaction, so that no writer waits
_QUERY = (
    "SELECT seq, prev, digest, body FROM entry"
    " WHERE station = {0} AND seq > {0} ORDER BY seq LIMIT {0}"
)


@dataclass(frozen=True, slots=True)
class Links:
    """How far a chain holds.

    Parameters
    ----------
    seq : int
        The last entry that holds to those before it.
    head : bytes
        Its digest.
    problem : Problem or None
        Why the next one does not; None where the record ends there.
    """

    seq: int
    head: bytes
    problem: Problem | None = None


def follow(rows: Iterable[Any], seq: int, head: bytes) -> Links:
    """Follow a chain from an entry on.

    Parameters
    ----------
    rows : iterable of tuple
        Each entry's seq, the digest before it, its own, and its body, in order.
    seq : int
        The entry before the first of them.
    head : bytes
        That entry's digest.

    Examples
    --------
    >>> from blender.record.chain import digest
    >>> one = digest(bytes(32), b"{}")
    >>> follow([(1, bytes(32), one, b"{}")], 0, bytes(32)).seq
    1
    >>> follow([(1, bytes(32), one, b"[]")], 0, bytes(32)).problem.seq
    1
    """
    tag = ENTRY_TAG
    try:
        for own_seq, prev, digest, body in rows:
            if prev != head or own_seq != seq + 1 or sha256(tag + prev + body).digest() != digest:
                text = "it does not follow the entry before it, or is not what its digest says"
                return Links(seq, head, Problem(seq + 1, "chain", text))
            seq, head = own_seq, digest
    except TypeError:
        return Links(seq, head, Problem(seq + 1, "body", "it holds text where bytes belong"))
    return Links(seq, head)


def check_links(location: str | Location, progress: Callable[[int], None] | None = None) -> Links:
    """Check the whole chain of a record from its file alone.

    Parameters
    ----------
    location : str, Path or Server
        The record; it is not changed, and others may go on writing to it.
    progress : callable
        Told now and then how many entries were followed; what it raises stops the work.

    Raises
    ------
    InputError
        If there is no such file.
    RecordError
        If it cannot be read, or holds no station's record.
    """
    try:
        with look(location) as engine:
            return _whole(engine, progress)
    except DatabaseError as error:
        raise explain(error, "it was not verified") from error


def _whole(engine: Engine, progress: Callable[[int], None] | None) -> Links:
    with engine.connect() as conn:
        with conn.begin():
            first = founding(conn)
        key = founding_key(first.content) or b""
        found = Links(0, genesis(first.station, 1, key))
        while found.problem is None:
            before = found.seq
            with conn.begin():
                found = follow(_rows(conn, first.station, before), before, found.head)
            if found.seq == before:
                break
            if progress is not None:
                progress(found.seq)
    return found


def _rows(conn: Connection, station: str, after: int) -> Iterable[Any]:
    """Read a part by the driver itself, row by row: keeping them costs more than hashing them."""
    values = (station, after, _PART)
    if is_server(conn):
        there: Iterable[Any] = by_driver(conn, _QUERY.format("%s"), values)
        return there
    raw = conn.connection.driver_connection
    found: Iterable[Any] = raw.execute(_QUERY.format("?"), values)  # type: ignore[union-attr]  # a driver
    return found
