"""What a shop has already, taken over from a table: all of a file or nothing."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.record import read
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station.actor import Actor
from blender.station.alike import folded
from blender.station.csv_rows import Bad, read_rows
from blender.station.desk import Station
from blender.station.takeover import KINDS, Facts, Kind

IMPORTED = "records.imported"


def bring_in(
    station: Station,
    actor: Actor,
    what: str,
    content: bytes,
    *,
    encoding: str = "utf-8",
    delimiter: str = "",
) -> dict[str, Any]:
    """Take over a table of cylinders, customers or fills: all of it in one transaction, or nothing.

    A fill taken over is marked imported and unsigned wherever it is shown; nobody here
    analysed it, so its gas counts as stated.  The same file again enters nothing.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager.
    what : str
        ``cylinders``, ``customers`` or ``fills``.
    content : bytes
        The file as it is.
    encoding, delimiter : str
        As for `blender.station.csv_rows.read_rows`.

    Returns
    -------
    dict
        ``rows``, ``bad`` (then nothing was entered), ``digest``, ``repeated`` and ``seq``.

    Raises
    ------
    InputError
        If the file or its heading cannot be understood.
    """
    kind = _kind(what)
    digest = hashlib.sha256(content).hexdigest()
    with station.act(actor, "import") as act:
        if before := _before(act.conn, act.unit.station, what, digest):
            return _answer(what, before.data["rows"], [], digest, before.seq, repeated=True)
        facts, bad = _understood(act.conn, act.now, what, content, encoding, delimiter)
        if bad:
            return _answer(what, len(facts), bad, digest)
        minds = _alike(act.conn, facts) if what == "customers" else []
        data = {"what": what, "digest": digest, "rows": len(facts), "bytes": len(content)}
        entry = act.enter(IMPORTED, data, "taken over from a table")
        for one in facts:
            kind.enter(act, one, {"import": entry.seq, "line": one.pop("line")})
    return _answer(what, len(facts), [], digest, entry.seq) | {"cautions": minds}


def rehearse(
    record: Record,
    what: str,
    content: bytes,
    now: Moment,
    *,
    encoding: str = "utf-8",
    delimiter: str = "",
) -> dict[str, Any]:
    """Return what `bring_in` would do with a record, and enter nothing."""
    digest = hashlib.sha256(content).hexdigest()
    _kind(what)
    with record.read() as conn:
        if before := _before(conn, record.station, what, digest):
            return _answer(what, before.data["rows"], [], digest, before.seq, repeated=True)
        facts, bad = _understood(conn, now, what, content, encoding, delimiter)
        minds = _alike(conn, facts) if what == "customers" else []
    return _answer(what, len(facts), bad, digest) | {"cautions": minds}


def _alike(conn: Connection, facts: Sequence[Facts]) -> list[str]:
    """Say whose names differ from another's by the letters' size, accents or blanks alone."""
    known = {folded(row.name): row.name for row in read.people(conn) if row.name}
    told = []
    for one in facts:
        key = folded(one["name"])
        if key and key in known:
            told.append(f"line {one['line']}: {one['name']} is nearly {known[key]}'s name")
        known.setdefault(key, one["name"])
    return told


def _kind(what: str) -> Kind:
    if what not in KINDS:
        raise InputError("import", repr(what[:40]), f"allowed are {', '.join(KINDS)}")
    return KINDS[what]


def _answer(
    what: str, rows: int, bad: Sequence[Bad], digest: str, seq: int = 0, *, repeated: bool = False
) -> dict[str, Any]:
    named = [
        {"line": one.line, "column": one.column, "given": one.given, "allowed": one.allowed}
        for one in bad
    ]
    answer = {"what": what, "rows": rows, "bad": named, "digest": digest, "repeated": repeated}
    return answer | {"seq": seq or None, "told": [one.text for one in bad]}


def _before(conn: Connection, station: str, what: str, digest: str) -> Entry | None:
    for entry in read.entries_of_kind(conn, station, IMPORTED):
        if (entry.data["what"], entry.data["digest"]) == (what, digest):
            return entry
    return None


def _understood(
    conn: Connection, now: Moment, what: str, content: bytes, encoding: str, delimiter: str
) -> tuple[list[Facts], list[Bad]]:
    kind = KINDS[what]
    needed = {name: column.needed for name, column in kind.columns.items()}
    rows, bad = read_rows(content, needed, encoding, delimiter)
    if not rows and not bad:
        raise InputError("FILE", "no rows", "below the heading there is a row for each")
    facts = kind.check(conn, now, rows, bad)
    return facts, sorted(bad, key=lambda one: one.line)
