"""Which copies of the record are known to hold somebody who was erased since: from its entries."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from blender.record import read, search
from blender.record.models import CopyRow
from blender.record.moment import Moment

COPIED = "station.copied"


@dataclass(frozen=True, slots=True)
class CopiesLeft:
    """How many copies are known to hold a person, and when the oldest and newest were made."""

    count: int
    oldest: Moment | None
    newest: Moment | None
    away: int

    def as_dict(self) -> dict[str, Any]:
        """Return it JSON-ready."""
        return {
            "known": self.count,
            "away": self.away,
            "oldest": self.oldest.iso if self.oldest else None,
            "newest": self.newest.iso if self.newest else None,
        }


def copies_of(conn: Connection, station: str, person: str, erased_seq: int) -> CopiesLeft:
    """Return the copies that were made between a person's first entry and their erasure.

    What the record deleted itself is left out; a copy somebody destroyed by hand is not known to
    be gone.

    Parameters
    ----------
    conn : Connection
        Of the record.
    station : str
        Its station.
    person : str
        Whose.
    erased_seq : int
        The entry that erased them.
    """
    added = read.entries_of_kind(conn, station, "person.added")
    first = next((entry.seq for entry in added if entry.data.get("person") == person), 1)
    found = search.copies_holding(conn, first, erased_seq - 1)
    gone = {
        digest
        for entry in read.entries_of_kind(conn, station, COPIED)
        for digest in entry.data.get("dropped", ())
    }
    left = [row for row in found if row.sha256 not in gone]
    oldest, newest = (_made(left[0]), _made(left[-1])) if left else (None, None)
    return CopiesLeft(len(left), oldest, newest, sum(row.away for row in left))


def _made(row: CopyRow) -> Moment:
    return Moment(row.at_us, row.offset_min)
