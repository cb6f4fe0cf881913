"""The SQL that only one engine has: definitions, guards, and what each says of itself.

Everything else is said through SQLAlchemy, once for both.  (What concerns SQLite's file alone,
its settings and its copies, stands with the file: `engine`, `backup`, `restore`, `forgetting`.)
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Sequence
from typing import Any

from sqlalchemy import (
    BigInteger,
    Column,
    ColumnElement,
    Connection,
    Integer,
    Row,
    String,
    Table,
    literal,
    select,
)  # fmt: skip
from sqlalchemy.exc import DBAPIError
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.functions import FunctionElement

from blender.record.place import APPLICATION_ID, VERSION

Schema = dict[tuple[str, str], str]
# SQLite has one kind of whole number, of 64 bits; elsewhere that has to be asked for.
WHOLE = BigInteger().with_variant(Integer(), "sqlite")
# As SQLite compares: by code point, whatever the database's language is.
TEXT = String().with_variant(String(collation="C"), "postgresql")

_BLANKS = re.compile(r"[ \n\t]+")  # as SQLAlchemy writes them; no one bit makes one another


def is_server(conn: Connection) -> bool:
    """Tell whether a connection is one to a PostgreSQL server."""
    return conn.dialect.name == "postgresql"


# -- the journal, its private table and their guards -----------------------------------------

SQLITE_JOURNAL = (
    """CREATE TABLE entry (
  station TEXT NOT NULL,
  seq INTEGER NOT NULL CHECK (seq >= 1),
  body BLOB NOT NULL CHECK (length(body) <= 65536),
  prev BLOB NOT NULL UNIQUE CHECK (length(prev) = 32),
  digest BLOB NOT NULL UNIQUE CHECK (length(digest) = 32),
  step TEXT UNIQUE,
  PRIMARY KEY (station, seq)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE private (
  id TEXT NOT NULL PRIMARY KEY,
  person TEXT NOT NULL,
  what TEXT NOT NULL,
  content BLOB NOT NULL CHECK (length(content) <= 65536)
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX private_person ON private (person)",
    # REPLACE deletes the row in its way, and fires no delete guard unless its own connection
    # asked for that; so inserting over any unique key is refused before it happens.
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

# A guard fires for every statement, also one that meets no row; ALWAYS, so that a session that
# plays a replica does not get past it.  PostgreSQL has no REPLACE, and its upsert is an update.
# The one function that reads a table looks it up in the record's own schema, whoever asks.
_STILL = """BEGIN
  RAISE EXCEPTION 'an entry is never changed or deleted'
    USING ERRCODE = 'integrity_constraint_violation';
END"""
_IN_ORDER = """BEGIN
  IF NEW.seq > 1 AND NOT EXISTS (SELECT FROM entry
      WHERE station = NEW.station AND seq = NEW.seq - 1 AND digest = NEW.prev) THEN
    RAISE EXCEPTION 'an entry follows the one before it'
      USING ERRCODE = 'integrity_constraint_violation';
  END IF;
  RETURN NEW;
END"""
_FUNCTION = (
    "CREATE OR REPLACE FUNCTION {schema}.{name}()\n RETURNS trigger\n LANGUAGE plpgsql\n"
    " SET search_path TO '{schema}', 'pg_temp'\nAS $function${body}$function$\n"
)
_STILL_TRIGGERS = ("update", "delete", "truncate")
_SERVER_FUNCTIONS = (("entry_stays", _STILL), ("entry_in_order", _IN_ORDER))
_SERVER_TABLES = (
    """CREATE TABLE entry (
  station text COLLATE "C" NOT NULL,
  seq bigint NOT NULL CONSTRAINT entry_seq CHECK (seq >= 1),
  body bytea NOT NULL CONSTRAINT entry_body CHECK (octet_length(body) <= 65536),
  prev bytea NOT NULL CONSTRAINT entry_prev UNIQUE
    CONSTRAINT entry_prev_length CHECK (octet_length(prev) = 32),
  digest bytea NOT NULL CONSTRAINT entry_digest UNIQUE
    CONSTRAINT entry_digest_length CHECK (octet_length(digest) = 32),
  step text COLLATE "C" CONSTRAINT entry_step UNIQUE,
  CONSTRAINT entry_pkey PRIMARY KEY (station, seq)
)""",
    """CREATE TABLE private (
  id text COLLATE "C" NOT NULL CONSTRAINT private_pkey PRIMARY KEY,
  person text COLLATE "C" NOT NULL,
  what text COLLATE "C" NOT NULL,
  content bytea NOT NULL CONSTRAINT private_content CHECK (octet_length(content) <= 65536)
)""",
    "CREATE INDEX private_person ON private (person)",
)
_MARK = f"fillwright record {APPLICATION_ID} {VERSION}"


def create_journal(conn: Connection) -> None:
    """Create the journal, the private table and their guards."""
    if is_server(conn):
        _create_on_server(conn)
        return
    for statement in SQLITE_JOURNAL:
        conn.exec_driver_sql(statement)
    conn.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
    conn.exec_driver_sql(f"PRAGMA user_version={VERSION}")


def _create_on_server(conn: Connection) -> None:
    schema = server_schema(conn)
    for statement in _SERVER_TABLES:
        conn.exec_driver_sql(statement)
    for name, body in _SERVER_FUNCTIONS:
        conn.exec_driver_sql(_FUNCTION.format(schema=schema, name=name, body=body))
    for what in _STILL_TRIGGERS:
        conn.exec_driver_sql(
            f"CREATE TRIGGER entry_no_{what} BEFORE {what} ON entry"
            " FOR EACH STATEMENT EXECUTE FUNCTION entry_stays()"
        )
    conn.exec_driver_sql(
        "CREATE TRIGGER entry_in_order BEFORE INSERT ON entry"
        " FOR EACH ROW EXECUTE FUNCTION entry_in_order()"
    )
    for name in (*(f"no_{what}" for what in _STILL_TRIGGERS), "in_order"):
        conn.exec_driver_sql(f"ALTER TABLE entry ENABLE ALWAYS TRIGGER entry_{name}")
    conn.exec_driver_sql(f"COMMENT ON TABLE entry IS '{_MARK}'")


def server_schema(conn: Connection) -> str:
    """Return the schema a connection works in: the first of its path, there or not."""
    path = conn.exec_driver_sql("SELECT current_setting('search_path')").scalar_one()
    return str(path).partition(",")[0].strip()


def make_schema(conn: Connection) -> None:
    """Make the schema of a record on a server, where it is not there."""
    schema = server_schema(conn)
    query = "SELECT 1 FROM pg_namespace WHERE nspname = %s"
    if conn.exec_driver_sql(query, (schema,)).scalar() is None:
        conn.exec_driver_sql(f"CREATE SCHEMA {schema}")


def header(conn: Connection) -> tuple[int, int]:
    """Return which program's database it is, and in which format; zeros where it does not say."""
    if not is_server(conn):
        names = ("application_id", "user_version")
        found = [conn.exec_driver_sql(f"PRAGMA {name}").scalar_one() for name in names]
        return found[0], found[1]
    said = conn.exec_driver_sql(
        "SELECT obj_description(to_regclass(%s), 'pg_class')", (f"{server_schema(conn)}.entry",)
    ).scalar()
    words = str(said or "").split()
    is_ours = words[:2] == ["fillwright", "record"] and all(w.isdecimal() for w in words[2:])
    return (int(words[2]), int(words[3])) if is_ours and len(words) == 4 else (0, 0)


# -- what a database says of its own definitions ----------------------------------------------

# One row for each thing in the record's schema that is no part of an extension: kind, name, text.
_SERVER_SAYS = r"""
WITH ours AS (SELECT oid FROM pg_namespace WHERE nspname = %(schema)s),
 lent AS (SELECT classid, objid FROM pg_depend WHERE deptype = 'e'),
 rel AS (SELECT c.* FROM pg_class c JOIN ours ON c.relnamespace = ours.oid
   WHERE (1259, c.oid) NOT IN (SELECT classid, objid FROM lent))
SELECT CASE r.relkind WHEN 'r' THEN 'table' WHEN 'v' THEN 'view' WHEN 'm' THEN 'view'
   ELSE 'relation ' || r.relkind::text END AS kind, r.relname AS name,
 r.relname || ': ' || CASE WHEN r.relkind IN ('v', 'm') THEN pg_get_viewdef(r.oid)
   ELSE coalesce((SELECT string_agg(a.attname || ' ' || format_type(a.atttypid, a.atttypmod)
       || CASE WHEN a.attcollation NOT IN (0, 100) THEN ' ' || (SELECT collname FROM pg_collation
            WHERE oid = a.attcollation) ELSE '' END
       || CASE WHEN a.attnotnull THEN ' not null' ELSE '' END
       || coalesce(' default ' || (SELECT pg_get_expr(d.adbin, d.adrelid) FROM pg_attrdef d
            WHERE d.adrelid = a.attrelid AND d.adnum = a.attnum), '')
       || a.attidentity::text || a.attgenerated::text, ', ' ORDER BY a.attnum)
     FROM pg_attribute a WHERE a.attrelid = r.oid AND a.attnum > 0 AND NOT a.attisdropped), '')
   || coalesce((SELECT string_agg('; ' || k.conname || ' ' || pg_get_constraintdef(k.oid)
       || CASE WHEN k.convalidated THEN '' ELSE ' not valid' END, '' ORDER BY k.conname COLLATE "C")
     FROM pg_constraint k WHERE k.conrelid = r.oid AND k.contype IN ('c', 'u', 'p', 'f', 'x')), '')
   || CASE WHEN r.relpersistence = 'p' THEN '' ELSE ' unlogged' END
   || CASE WHEN r.relrowsecurity THEN ' with policies' ELSE '' END
   || CASE WHEN EXISTS (SELECT FROM pg_inherits i WHERE r.oid IN (i.inhrelid, i.inhparent))
      THEN ' inherits' ELSE '' END
   || coalesce((SELECT ' and others may ' || string_agg(DISTINCT lower(x.privilege_type), ', ')
     FROM aclexplode(r.relacl) x WHERE r.relname = 'entry' AND x.grantee <> r.relowner
     AND x.privilege_type NOT IN ('SELECT', 'INSERT')), '') END AS text
FROM rel r WHERE r.relkind NOT IN ('i', 'I', 't', 'c')
UNION ALL
SELECT 'index', r.relname, t.relname || ': ' || pg_get_indexdef(r.oid, 0, true)
   || CASE WHEN i.indisvalid THEN '' ELSE ' not valid' END
 FROM rel r JOIN pg_index i ON i.indexrelid = r.oid JOIN pg_class t ON t.oid = i.indrelid
 WHERE NOT EXISTS (SELECT FROM pg_constraint k WHERE k.conindid = r.oid AND k.conrelid = t.oid)
UNION ALL
SELECT 'trigger', g.tgname, r.relname || ': ' || pg_get_triggerdef(g.oid, true) || ' '
   || g.tgenabled::text FROM rel r JOIN pg_trigger g ON g.tgrelid = r.oid WHERE NOT g.tgisinternal
UNION ALL
SELECT 'rule', w.rulename, r.relname || ': ' || pg_get_ruledef(w.oid)
 FROM rel r JOIN pg_rewrite w ON w.ev_class = r.oid WHERE w.rulename <> '_RETURN'
UNION ALL
SELECT 'function', p.proname || '(' || pg_get_function_identity_arguments(p.oid) || ')',
   CASE WHEN p.prokind IN ('f', 'p') THEN pg_get_functiondef(p.oid) ELSE p.prokind::text END
 FROM pg_proc p JOIN ours ON p.pronamespace = ours.oid
 WHERE (1255, p.oid) NOT IN (SELECT classid, objid FROM lent)
"""


def definitions(conn: Connection) -> Schema:
    """Read what a database says of its own tables, indexes, triggers and views."""
    if is_server(conn):
        schema = server_schema(conn)
        rows = conn.exec_driver_sql(_SERVER_SAYS, {"schema": schema})
        return {(row.kind, row.name): _plain(row.text, schema) for row in rows}
    said = conn.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master").all()
    return {(row.type, row.name): _text(row) for row in said if row.tbl_name != "sqlite_stat1"}


def _text(row: Row[Any]) -> str:
    """Spell a definition without regard to how it is broken into lines, which means nothing."""
    return _BLANKS.sub(" ", f"{row.tbl_name}: {row.sql or ''}").strip()


def _plain(text: str, schema: str) -> str:
    """Spell a definition without its schema's name, and without quotation marks."""
    bare = text.replace(f"'{schema}'", "'here'").replace(f"{schema}.", "").replace('"', "")
    return _BLANKS.sub(" ", bare).strip()


_ENTRY = (
    "entry: station text C not null, seq bigint not null, body bytea not null,"
    " prev bytea not null, digest bytea not null, step text C"
    "; entry_body CHECK ((octet_length(body) <= 65536)); entry_digest UNIQUE (digest)"
    "; entry_digest_length CHECK ((octet_length(digest) = 32))"
    "; entry_pkey PRIMARY KEY (station, seq); entry_prev UNIQUE (prev)"
    "; entry_prev_length CHECK ((octet_length(prev) = 32)); entry_seq CHECK ((seq >= 1))"
    "; entry_step UNIQUE (step)"
)
_PRIVATE = (
    "private: id text C not null, person text C not null, what text C not null,"
    " content bytea not null; private_content CHECK ((octet_length(content) <= 65536))"
    "; private_pkey PRIMARY KEY (id)"
)


def expected_on_server(tables: Iterable[Table]) -> Schema:
    """Give what a sound database on a server would say."""
    said = {("table", "entry"): _ENTRY, ("table", "private"): _PRIVATE}
    said["index", "private_person"] = _index_text("private", "private_person", ["person"])
    for name, body in _SERVER_FUNCTIONS:
        text = _FUNCTION.format(schema="here", name=name, body=body)
        said["function", f"{name}()"] = _plain(text, "here")
    for what in _STILL_TRIGGERS:
        said["trigger", f"entry_no_{what}"] = (
            f"entry: CREATE TRIGGER entry_no_{what} BEFORE {what.upper()} ON entry"
            " FOR EACH STATEMENT EXECUTE FUNCTION entry_stays() A"
        )
    said["trigger", "entry_in_order"] = (
        "entry: CREATE TRIGGER entry_in_order BEFORE INSERT ON entry"
        " FOR EACH ROW EXECUTE FUNCTION entry_in_order() A"
    )
    for table in tables:
        said["table", table.name] = _table_text(table)
        for index in table.indexes:
            names = [column.name for column in index.columns]
            said["index", str(index.name)] = _index_text(table.name, str(index.name), names)
    return said


def _index_text(table: str, name: str, columns: Sequence[str]) -> str:
    return f"{table}: CREATE INDEX {name} ON {table} USING btree ({', '.join(columns)})"


def _table_text(table: Table) -> str:
    columns = ", ".join(_column_text(column) for column in table.columns)
    key = ", ".join(column.name for column in table.primary_key.columns)
    return f"{table.name}: {columns}; {table.name}_pkey PRIMARY KEY ({key})"


def _column_text(column: Column[Any]) -> str:
    return f"{column.name} {_type_text(column)}{'' if column.nullable else ' not null'}"


def _type_text(column: Column[Any]) -> str:
    """Spell a column's type as the server does."""
    name, _, collation = str(column.type.compile(_postgresql())).partition(" COLLATE ")
    spelled = "character varying" if name == "VARCHAR" else name.lower()
    return f"{spelled} {collation.strip(chr(34))}".strip()


def _postgresql() -> Any:
    from sqlalchemy.dialects import postgresql  # noqa: PLC0415 - only where there is a server

    return postgresql.dialect()  # type: ignore[no-untyped-call]  # untyped in the library


def drop_read_models(conn: Connection, kept: Collection[str]) -> None:
    """Drop every table and view but some."""
    found = [
        (kind, name)
        for kind, name in definitions(conn)
        if kind in ("table", "view") and name not in kept and not name.startswith("sqlite_")
    ]
    for kind, name in sorted(found, reverse=True):  # views before the tables they may look at
        quoted = name.replace('"', '""')
        conn.exec_driver_sql(f'DROP {kind.upper()} "{quoted}"')


def flaws_of_file(conn: Connection) -> list[str]:
    """Let SQLite look for damage of its own; a server looks after its own pages."""
    if is_server(conn):
        return []
    said = conn.exec_driver_sql("PRAGMA quick_check(20)").scalars().all()
    return [str(text) for text in said if text != "ok"]


def columns_of(conn: Connection, table: str) -> set[str]:
    """Return the names of the columns a table has; none if there is no such table."""
    if is_server(conn):
        query = "SELECT attname FROM pg_attribute WHERE attrelid = to_regclass(%s) AND attnum > 0"
    else:
        query = "SELECT name FROM pragma_table_info(?)"
    return set(conn.exec_driver_sql(query, (table,)).scalars())


def has_role(conn: Connection, role: str) -> bool:
    """Tell whether a server knows a role that does not own the journal, and is no superuser."""
    query = (
        "SELECT 1 FROM pg_roles WHERE rolname = %s AND NOT rolsuper AND oid <>"
        " (SELECT relowner FROM pg_class WHERE oid = to_regclass('entry'))"
    )
    return conn.exec_driver_sql(query, (role,)).scalar() is not None


def allow_to_enter(conn: Connection, role: str) -> None:
    """Give a role of a server what a terminal needs: to read, and to enter; never to change.

    Entries may only be added and read.  Private rows and read models it may change: a person
    can be forgotten, and a fill moves on.  What is made anew later is given the same way.
    """
    schema, quoted = server_schema(conn), role.replace('"', '""')
    every = f'GRANT SELECT, INSERT, UPDATE, DELETE ON {{}} TO "{quoted}"'
    for statement in (
        f'GRANT USAGE ON SCHEMA {schema} TO "{quoted}"',
        every.format(f"ALL TABLES IN SCHEMA {schema}"),
        f'REVOKE ALL ON entry FROM "{quoted}"',
        f'GRANT SELECT, INSERT ON entry TO "{quoted}"',
        f"ALTER DEFAULT PRIVILEGES IN SCHEMA {schema} {every.format('TABLES')}",
    ):
        conn.exec_driver_sql(statement, execution_options={"no_parameters": True})


# -- by a driver alone: SQLAlchemy would take longer than either database ------------------------

_LAST = (
    "SELECT station, seq, prev, digest, body FROM entry WHERE station = {0}"
    " ORDER BY seq DESC LIMIT 1"
)
_ENTER = (
    "INSERT INTO entry (station, seq, prev, digest, body, step)"
    " VALUES ({0}, {0}, {0}, {0}, {0}, {0})"
)
_OF_LAST, _OF_ENTER = (
    {name: text.format(mark) for name, mark in (("sqlite", "?"), ("postgresql", "%s"))}
    for text in (_LAST, _ENTER)
)


def last_of_chain(conn: Connection, station: str) -> tuple[Any, ...] | None:
    """Return station, seq, prev, digest and body of the last entry of a chain."""
    found = found_by_driver(conn, _OF_LAST[conn.dialect.name], (station,))
    return found[0] if found else None


def enter(conn: Connection, row: tuple[Any, ...]) -> None:
    """Store station, seq, prev, digest, body and step of an entry."""
    by_driver(conn, _OF_ENTER[conn.dialect.name], row)


def by_driver(conn: Connection, query: str, values: Any) -> Any:
    """Run a statement without SQLAlchemy, and return the driver's cursor; fail as that does."""
    raw: Any = conn.connection.driver_connection
    base = conn.dialect.loaded_dbapi.Error
    try:
        return raw.execute(query, values)
    except base as error:
        raise DBAPIError.instance(query, None, error, base, dialect=conn.dialect) from error


def found_by_driver(conn: Connection, query: str, values: Any) -> list[tuple[Any, ...]]:
    """Return every row a query finds, asked as `by_driver` does."""
    found = by_driver(conn, query, values)
    base = conn.dialect.loaded_dbapi.Error
    try:
        rows: list[tuple[Any, ...]] = found.fetchall()
    except base as error:  # a damaged page may come late
        raise DBAPIError.instance(query, None, error, base, dialect=conn.dialect) from error
    return rows


# -- questions ---------------------------------------------------------------------------------


class Joined(FunctionElement[str]):
    """All whole numbers of a column as one text, with commas between them."""

    type = String()
    inherit_cache = True
    name = "joined"


@compiles(Joined, "sqlite")
def _joined_in_sqlite(element: Any, compiler: Any, **kw: Any) -> str:
    return f"group_concat({compiler.process(element.clauses, **kw)})"


@compiles(Joined, "postgresql")
def _joined_on_server(element: Any, compiler: Any, **kw: Any) -> str:
    return f"string_agg(({compiler.process(element.clauses, **kw)})::text, ',')"


class Members(FunctionElement[Any]):
    """The texts of a JSON list, one a row, in a column `value`."""

    inherit_cache = True
    name = "members"


@compiles(Members, "sqlite")
def _members_in_sqlite(element: Any, compiler: Any, **kw: Any) -> str:
    return f"json_each({compiler.process(element.clauses, **kw)})"


@compiles(Members, "postgresql")
def _members_on_server(element: Any, compiler: Any, **kw: Any) -> str:
    return f"json_array_elements_text(({compiler.process(element.clauses, **kw)})::json)"


def is_one_of(column: ColumnElement[Any], values: Sequence[str]) -> ColumnElement[bool]:
    """Compare with however many texts: they go in as one list, not as thousands of marks."""
    given = Members(literal(json.dumps(values))).table_valued("value")
    return column.in_(select(given.c.value))
