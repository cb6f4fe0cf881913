"""The tables of the record and their guards; the one place where their text stands.

The journal's definitions are spelled out by hand: they are compared, word by word, with
what a file says of itself, for as long as there are files.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from sqlalchemy import Column, Connection, Integer, LargeBinary, MetaData, Row, String, Table
from sqlalchemy.schema import CreateIndex, CreateTable

from blender.errors import RecordError
from blender.record.engine import memory_engine
from blender.record.place import APPLICATION_ID, VERSION, check_header

_BLANKS = re.compile(r"[ \n\t]+")  # as SQLAlchemy writes them; no one bit makes one another
_META = MetaData()
ENTRY = Table(
    "entry",
    _META,
    Column("station", String, primary_key=True),
    Column("seq", Integer, primary_key=True),
    Column("body", LargeBinary),
    Column("prev", LargeBinary),
    Column("digest", LargeBinary),
    Column("step", String),
)
PRIVATE = Table(
    "private",
    _META,
    Column("id", String, primary_key=True),
    Column("person", String),
    Column("what", String),
    Column("content", LargeBinary),
)

_ENTRY_DDL = """CREATE TABLE entry (
  station TEXT NOT NULL,
  seq INTEGER NOT NULL CHECK (seq >= 1),
  body BLOB NOT NULL CHECK (length(body) <= 65536),
  prev BLOB NOT NULL UNIQUE CHECK (length(prev) = 32),
  digest BLOB NOT NULL UNIQUE CHECK (length(digest) = 32),
  step TEXT UNIQUE,
  PRIMARY KEY (station, seq)
) STRICT, WITHOUT ROWID"""
_PRIVATE_DDL = """CREATE TABLE private (
  id TEXT NOT NULL PRIMARY KEY,
  person TEXT NOT NULL,
  what TEXT NOT NULL,
  content BLOB NOT NULL CHECK (length(content) <= 65536)
) STRICT, WITHOUT ROWID"""
_INDEX_DDL = "CREATE INDEX private_person ON private (person)"

# REPLACE deletes the row in its way, and fires no delete guard unless its own connection
# asked for that; so inserting over any unique key is refused before it happens.
_GUARDS = (
    """CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END""",
    """CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is never deleted'); END""",
    """CREATE TRIGGER entry_no_replace BEFORE INSERT ON entry
WHEN EXISTS (SELECT 1 FROM entry WHERE station = NEW.station AND seq = NEW.seq)
  OR EXISTS (SELECT 1 FROM entry WHERE prev = NEW.prev)
  OR EXISTS (SELECT 1 FROM entry WHERE digest = NEW.digest)
  OR EXISTS (SELECT 1 FROM entry WHERE step = NEW.step)
BEGIN SELECT RAISE(ABORT, 'an entry is never replaced'); END""",
    """CREATE TRIGGER entry_in_order BEFORE INSERT ON entry
WHEN NEW.seq > 1 AND NOT EXISTS (SELECT 1 FROM entry
  WHERE station = NEW.station AND seq = NEW.seq - 1 AND digest = NEW.prev)
BEGIN SELECT RAISE(ABORT, 'an entry follows the one before it'); END""",
)
JOURNAL_DDL = (_ENTRY_DDL, _PRIVATE_DDL, _INDEX_DDL, *_GUARDS)

# Read models of earlier releases, by the digest of their definitions.  What a column of
# theirs says may not change: `verify` still compares the columns such a file has.
EARLIER = frozenset(
    {
        "11d40b6b3639cdaeab41456e2a7e7233131da564c03b865350fb13eb3028f211",  # 0.1.0
        "10c909322f98e3c19286c159ba188a244eab8eeb4332c86728ffd145b312e227",  # before rules
        "1dd39d5e3d7d2eaeff24ecdb49ce5972ebfe7a0934f55e62007f2338c6a300a2",  # before amendments
        "ba8ba4d3c09442f9808a2e87ab3a5c67b063c6a001e4a72e30699d4c175dad6b",  # before equipment
    }
)

Schema = dict[tuple[str, str], str]


def create_journal(conn: Connection) -> None:
    """Create the journal, the private table and their guards."""
    for statement in JOURNAL_DDL:
        conn.exec_driver_sql(statement)
    conn.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
    conn.exec_driver_sql(f"PRAGMA user_version={VERSION}")


def create_tables(conn: Connection, tables: Iterable[Table]) -> None:
    """Create read-model tables and their indexes."""
    for table in tables:
        conn.execute(CreateTable(table))
        for index in sorted(table.indexes, key=lambda one: str(one.name)):
            conn.execute(CreateIndex(index))


def drop_read_models(conn: Connection) -> None:
    """Drop every table and view but the journal and the private rows."""
    kept = {ENTRY.name, PRIVATE.name}
    query = "SELECT type, name FROM sqlite_master WHERE type IN ('table', 'view')"
    for kind, name in conn.exec_driver_sql(query).all():
        if name not in kept and not name.startswith("sqlite_"):
            quoted = name.replace('"', '""')
            conn.exec_driver_sql(f'DROP {kind.upper()} "{quoted}"')


def definitions(conn: Connection) -> Schema:
    """Read what a database says of its own tables, indexes, triggers and views."""
    rows = conn.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master").all()
    return {(row.type, row.name): _text(row) for row in rows if row.tbl_name != "sqlite_stat1"}


def _text(row: Row[Any]) -> str:
    """Spell a definition without regard to how it is broken into lines, which means nothing."""
    return _BLANKS.sub(" ", f"{row.tbl_name}: {row.sql or ''}").strip()


def expected(tables: Iterable[Table]) -> Schema:
    """Give what a sound database would say, by making one in memory, once for the same tables."""
    return _made(tuple(tables))


@lru_cache(maxsize=8)
def _made(tables: tuple[Table, ...]) -> Schema:
    engine = memory_engine()
    try:
        with engine.begin() as conn:
            create_journal(conn)
            create_tables(conn, tables)
            return definitions(conn)
    finally:
        engine.dispose()


def differences(conn: Connection, tables: Iterable[Table]) -> list[str]:
    """Name each table, index, trigger or view that is missing, foreign or altered."""
    found, wanted = definitions(conn), expected(tables)
    said = [f"{kind} {name} is missing" for kind, name in wanted.keys() - found.keys()]
    said += [f"{kind} {name} does not belong here" for kind, name in found.keys() - wanted.keys()]
    both = [one for one in wanted.keys() & found.keys() if found[one] != wanted[one]]
    said += [f"{kind} {name} was altered" for kind, name in both]
    return sorted(said)


def is_earlier(conn: Connection) -> bool:
    """Tell whether a sound journal stands beside exactly the read models of an earlier release."""
    found, journal = definitions(conn), expected(())
    if any(found.pop(one, None) != text for one, text in journal.items()):
        return False
    return digest_of(found) in EARLIER


def digest_of(read_models: Schema) -> str:
    """Hash the definitions of read models, so that a release's can be known again.

    Examples
    --------
    >>> digest_of({("table", "note"): "note: CREATE TABLE note (seq INTEGER)"})[:16]
    'b060f12b9d8a58d2'
    """
    lines = sorted(f"{kind} {name} {text}" for (kind, name), text in read_models.items())
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def check_definitions(conn: Connection, tables: Iterable[Table]) -> None:
    """Refuse a record whose tables or guards are not as this version makes them.

    Raises
    ------
    RecordError
        Naming the first difference.
    """
    if said := differences(conn, tables):
        raise RecordError(
            f"the record's definitions were changed: {said[0]}; run `verify`, and `rebuild` if"
            " only read models differ",
            code="schema",
        )


def check_tables(conn: Connection, tables: Iterable[Table]) -> None:
    """Refuse a view in a table's place: reading it could go on for ever.

    Raises
    ------
    RecordError
        Naming it.
    """
    ours = {ENTRY.name, PRIVATE.name, *(table.name for table in tables)}
    for kind, name in definitions(conn):
        if kind == "view" and name.lower() in ours:
            raise RecordError(f"{name} is a view, not a table; nothing of this file can be trusted")


def check_ours(conn: Connection) -> None:
    """Refuse a database that is not a station's record, or is from a later version.

    Raises
    ------
    RecordError
        Saying which.
    """
    application = conn.exec_driver_sql("PRAGMA application_id").scalar_one()
    version = conn.exec_driver_sql("PRAGMA user_version").scalar_one()
    check_header(application, version, empty=not definitions(conn))
