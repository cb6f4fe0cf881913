"""The tables of the record and their guards; the one place where their text stands.

The journal's definitions are spelled out by hand: they are compared, word by word, with
what a file says of itself, for as long as there are files.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import lru_cache

from sqlalchemy import Column, Connection, LargeBinary, MetaData, Table
from sqlalchemy.schema import CreateIndex, CreateTable

from blender.errors import InputError, RecordError
from blender.record import dialect
from blender.record.dialect import TEXT, WHOLE, Schema, definitions
from blender.record.engine import memory_engine
from blender.record.place import check_header

_META = MetaData()
ENTRY = Table(
    "entry",
    _META,
    Column("station", TEXT, primary_key=True),
    Column("seq", WHOLE, primary_key=True, autoincrement=False),
    Column("body", LargeBinary),
    Column("prev", LargeBinary),
    Column("digest", LargeBinary),
    Column("step", TEXT),
)
PRIVATE = Table(
    "private",
    _META,
    Column("id", TEXT, primary_key=True),
    Column("person", TEXT),
    Column("what", TEXT),
    Column("content", LargeBinary),
)

# Read models of earlier releases, by the digest of their definitions.  What a column of
# theirs says may not change: `verify` still compares the columns such a file has.
EARLIER = frozenset(
    {
        "11d40b6b3639cdaeab41456e2a7e7233131da564c03b865350fb13eb3028f211",  # 0.1.0
        "10c909322f98e3c19286c159ba188a244eab8eeb4332c86728ffd145b312e227",  # before rules
        "1dd39d5e3d7d2eaeff24ecdb49ce5972ebfe7a0934f55e62007f2338c6a300a2",  # before amendments
        "ba8ba4d3c09442f9808a2e87ab3a5c67b063c6a001e4a72e30699d4c175dad6b",  # before equipment
        "7ceafb610d1f3a92c71807a12616c9b14fc87234c18013eccc900c77404605ba",  # before several sites
        "438e31827c544cbd6a976f9a858c01799c4cd80b3fa4d5d469d3b3637bbca203",  # the same on a server
    }
)


def create_journal(conn: Connection) -> None:
    """Create the journal, the private table and their guards.

    Raises
    ------
    InputError
        If there is something already, where a server has had the place before.
    """
    if dialect.is_server(conn):
        dialect.make_schema(conn)
        if definitions(conn):
            told = "something is there already; choose another database, or a schema: ?schema=NAME"
            raise InputError("station", "that place", told)
    dialect.create_journal(conn)


def create_tables(conn: Connection, tables: Iterable[Table]) -> None:
    """Create read-model tables and their indexes."""
    for table in tables:
        conn.execute(CreateTable(table))
        for index in sorted(table.indexes, key=lambda one: str(one.name)):
            conn.execute(CreateIndex(index))


def drop_read_models(conn: Connection) -> None:
    """Drop every table and view but the journal and the private rows."""
    dialect.drop_read_models(conn, {ENTRY.name, PRIVATE.name})


def expected(tables: Iterable[Table]) -> Schema:
    """Give what a sound file would say, by making one in memory, once for the same tables."""
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


def _expected(conn: Connection, tables: Iterable[Table]) -> Schema:
    return dialect.expected_on_server(tables) if dialect.is_server(conn) else expected(tables)


def differences(conn: Connection, tables: Iterable[Table]) -> list[str]:
    """Name each table, index, trigger or view that is missing, foreign or altered."""
    found, wanted = definitions(conn), _expected(conn, tables)
    said = [f"{kind} {name} is missing" for kind, name in wanted.keys() - found.keys()]
    said += [f"{kind} {name} does not belong here" for kind, name in found.keys() - wanted.keys()]
    both = [one for one in wanted.keys() & found.keys() if found[one] != wanted[one]]
    said += [f"{kind} {name} was altered" for kind, name in both]
    return sorted(said)


def is_earlier(conn: Connection) -> bool:
    """Tell whether a sound journal stands beside exactly the read models of an earlier release."""
    found, journal = definitions(conn), _expected(conn, ())
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
    check_header(*dialect.header(conn), empty=not definitions(conn))
