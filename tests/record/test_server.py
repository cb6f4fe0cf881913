"""What is a server's alone: its guards, its rights, what it says of itself, and losing it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from blender.errors import InputError, RecordError, StorageError
from blender.record.journal import Record
from blender.record.rebuild import rebuild
from blender.record.rights import let_enter
from blender.record.server import server_at
from blender.record.verify import verify
from tests import server
from tests.record.conftest import Book, Tiny

pytestmark = server.needed()
COLUMNS = "station, seq, body, prev, digest, step"
SOME = "sha256(random()::text::bytea)"


@pytest.fixture(name="there")
def _there() -> Iterator[Book]:
    """A record of ten entries on the server."""
    with server.a_schema() as place:
        book = Book(place)
        book.fill(10)
        yield book
        book.record.close()


ATTACKS = {
    "update body": r"UPDATE entry SET body = '\x7b7d' WHERE seq = 5",
    "update nothing": "UPDATE entry SET seq = seq",
    "update no row": "UPDATE entry SET seq = 6 WHERE seq = 77",
    "delete": "DELETE FROM entry WHERE seq = 10",
    "delete all": "DELETE FROM entry",
    "truncate": "TRUNCATE entry",
    "truncate all": "TRUNCATE entry, private CASCADE",
    "merge": "MERGE INTO entry e USING (SELECT 5 AS seq) x ON e.seq = x.seq"
    " WHEN MATCHED THEN UPDATE SET step = 'x'",
    "upsert": f"INSERT INTO entry ({COLUMNS}) SELECT {COLUMNS} FROM entry WHERE seq = 5"
    " ON CONFLICT (prev) DO UPDATE SET body = excluded.body",
    "same seq": f"INSERT INTO entry SELECT station, seq, body, prev, {SOME}, NULL FROM entry"
    " WHERE seq = 5",
    "same prev": f"INSERT INTO entry SELECT station, 11, body, prev, {SOME}, NULL FROM entry"
    " WHERE seq = 5",
    "same digest": "INSERT INTO entry SELECT station, 11, body, digest, digest, NULL FROM entry"
    " WHERE seq = 10",
    "same step": f"INSERT INTO entry SELECT station, 11, body, digest, {SOME}, 's5' FROM entry"
    " WHERE seq = 10",
    "a gap": f"INSERT INTO entry SELECT station, 12, body, digest, {SOME}, NULL FROM entry"
    " WHERE seq = 10",
    "a loose end": f"INSERT INTO entry SELECT station, 11, body, {SOME}, {SOME}, NULL FROM entry"
    " WHERE seq = 10",
    "short digest": r"INSERT INTO entry SELECT station, 11, body, digest, '\x00', NULL FROM entry"
    " WHERE seq = 10",
    "seq zero": f"INSERT INTO entry SELECT station, 0, body, {SOME}, {SOME}, NULL FROM entry"
    " WHERE seq = 1",
    "as a replica": "SET session_replication_role = replica; DELETE FROM entry",
    "past another entry table": "CREATE TEMPORARY TABLE entry (LIKE entry);"
    " SET search_path TO pg_temp, {schema}; INSERT INTO entry SELECT * FROM {schema}.entry;"
    " INSERT INTO {schema}.entry SELECT station, 12, body, digest, " + SOME + ", NULL"
    " FROM entry WHERE seq = 10",
}


@pytest.mark.parametrize("attack", ATTACKS.values(), ids=ATTACKS.keys())
def test_not_even_its_owner_changes_what_was_entered(there: Book, attack: str) -> None:
    import psycopg

    with server.plain(there.path) as raw:
        before = raw.execute("SELECT * FROM entry ORDER BY seq").fetchall()
        assert len(before) == 10
        with pytest.raises(psycopg.IntegrityError):
            raw.execute(attack.replace("{schema}", there.path.schema))
    with server.plain(there.path) as raw:
        assert raw.execute("SELECT * FROM entry ORDER BY seq").fetchall() == before


def test_the_next_entry_is_let_in(there: Book) -> None:
    """Control: the guards do not merely refuse everything."""
    with server.plain(there.path) as raw:
        last = raw.execute("SELECT * FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
        raw.execute(
            f"INSERT INTO entry SELECT station, 11, body, digest, {SOME}, NULL FROM entry"
            " WHERE seq = 10"
        )
        new = raw.execute("SELECT seq, prev FROM entry ORDER BY seq DESC LIMIT 1").fetchone()
    assert new == (11, last[4])


def test_without_the_guards_the_attacks_succeed(there: Book) -> None:
    """Control: it is the guards that stop them."""
    with server.plain(there.path) as raw:
        raw.execute("ALTER TABLE entry DISABLE TRIGGER USER")
        for name in ("update body", "a gap", "delete", "truncate"):
            before = raw.execute("SELECT * FROM entry ORDER BY seq").fetchall()
            raw.execute(ATTACKS[name])
            assert raw.execute("SELECT * FROM entry ORDER BY seq").fetchall() != before


CHANGES = {
    "DROP TRIGGER entry_no_update ON entry": "entry_no_update is missing",
    "DROP TRIGGER entry_no_truncate ON entry": "entry_no_truncate is missing",
    "ALTER TABLE entry DISABLE TRIGGER entry_no_delete": "entry_no_delete was altered",
    "ALTER TABLE entry ENABLE TRIGGER entry_in_order": "entry_in_order was altered",
    "CREATE OR REPLACE FUNCTION entry_stays() RETURNS trigger LANGUAGE plpgsql AS"
    " 'BEGIN RETURN NULL; END'": "entry_stays() was altered",
    "ALTER FUNCTION entry_in_order() RESET search_path": "entry_in_order() was altered",
    "ALTER TABLE entry DROP CONSTRAINT entry_prev": "table entry was altered",
    "ALTER TABLE entry ALTER body DROP NOT NULL": "table entry was altered",
    "ALTER TABLE entry SET UNLOGGED": "table entry was altered",
    "CREATE RULE sly AS ON INSERT TO entry DO INSTEAD NOTHING": "rule sly does not belong here",
    "ALTER TABLE entry ENABLE ROW LEVEL SECURITY": "table entry was altered",
    "GRANT UPDATE ON entry TO PUBLIC": "table entry was altered",
    "CREATE TABLE more () INHERITS (entry)": "table entry was altered",
    "DROP INDEX private_person": "index private_person is missing",
    "DROP TABLE note": "table note is missing",
    "CREATE VIEW sly AS SELECT 1": "view sly does not belong here",
    "ALTER TABLE note ADD COLUMN sly text": "table note was altered",
    "ALTER TABLE customer ALTER name SET DEFAULT 'x'": "table customer was altered",
    "CREATE FUNCTION sly() RETURNS integer LANGUAGE sql AS 'SELECT 1'": "function sly()",
    "CREATE SEQUENCE sly": "sly does not belong here",
}  # fmt: skip


@pytest.mark.parametrize("change", CHANGES)
def test_changed_definitions_are_named_and_refused_at_the_start(there: Book, change: str) -> None:
    with server.plain(there.path) as raw:
        raw.execute(change)
    problems = verify(there.path, project=Tiny).problems
    assert CHANGES[change] in " ".join(one.text for one in problems if one.kind == "schema")
    with pytest.raises(RecordError, match="verify") as caught:
        Record.open(there.path, project=Tiny)
    assert caught.value.code == "schema"


def test_what_stands_there_already_is_left_alone(there: Book) -> None:
    with pytest.raises(InputError, match="already"):
        Book(there.path)
    assert verify(there.path, project=Tiny).ok
    with server.a_schema() as place, server.plain(place) as raw:
        raw.execute(f"CREATE SCHEMA {place.schema}")
        raw.execute("CREATE TABLE invoice (n integer)")
        with pytest.raises(InputError, match="already"):
            Book(place)
        assert raw.execute("SELECT count(*) FROM invoice").fetchone() == (0,)
        with pytest.raises(RecordError, match="other program"):
            Record.open(place)


def test_an_empty_place_and_a_later_format_are_refused(there: Book) -> None:
    with server.a_schema() as place, pytest.raises(RecordError, match="empty"):
        Record.open(place, project=Tiny)
    with server.plain(there.path) as raw:
        raw.execute(f"COMMENT ON TABLE entry IS 'fillwright record {0x46494C57} 2'")
    with pytest.raises(RecordError, match="format 2"):
        Record.open(there.path, project=Tiny)


def test_a_founding_that_fails_leaves_nothing(there: Book, now: Any) -> None:
    def fails(unit: Any) -> None:
        raise RuntimeError

    with server.a_schema() as place:
        with pytest.raises(RuntimeError):
            Record.found(
                place, keys=there.keys, station="A", data={}, at=now, writes=fails, project=Tiny
            )
        with server.plain(place) as raw:
            query = "SELECT count(*) FROM pg_namespace WHERE nspname = %s"
            assert raw.execute(query, [place.schema]).fetchone() == (0,)


def test_a_server_that_may_lose_what_it_acknowledged_is_refused(
    there: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    from blender.record import postgres

    careless = postgres._SETTINGS.replace("current_setting('fsync')", "'off'")
    monkeypatch.setattr(postgres, "_SETTINGS", careless)
    with pytest.raises(StorageError, match="fsync off"):
        Record.open(there.path, project=Tiny)


# -- rights ---------------------------------------------------------------------------------


@pytest.fixture(name="desk")
def _desk(there: Book) -> Iterator[Any]:
    """The record as a role opens it that may only enter and read."""
    role = f"{there.path.schema}_desk"
    with server.plain(there.path) as raw:
        raw.execute(f"DROP ROLE IF EXISTS {role}")
        raw.execute(f"CREATE ROLE {role} LOGIN")
        try:
            let_enter(there.record, role)
            yield _as(there.path, role)
        finally:
            there.record.close()
            raw.execute(f"DROP OWNED BY {role}")
            raw.execute(f"DROP ROLE {role}")


def _as(place: Any, role: str) -> Any:
    """The same place for another user."""
    address = place.conninfo.rpartition("@")[2].partition("?")[0]
    return server_at(f"postgresql+psycopg://{role}@{address}?schema={place.schema}")


def test_a_role_of_a_terminal_enters_reads_and_verifies(there: Book, desk: Any, now: Any) -> None:
    with Record.open(desk, project=Tiny) as record, record.write() as unit:
        assert unit.append("note", {"text": "from the desk"}, at=now).seq == 11
        unit.put_private("p/1", "P-9", "name", {"name": "Ada"})
        unit.erase_person("P-9")
    assert verify(desk, project=Tiny).problems == []


@pytest.mark.parametrize(
    "what",
    ["UPDATE entry SET step = 'x'", "DELETE FROM entry", "TRUNCATE entry", "DROP TABLE entry",
     "ALTER TABLE entry DISABLE TRIGGER USER", "DROP TRIGGER entry_no_update ON entry",
     "CREATE OR REPLACE FUNCTION entry_stays() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN END'",
     "CREATE TABLE sly (a integer)", "SET session_replication_role = replica",
     "DROP TABLE note"],
)  # fmt: skip
def test_that_role_can_do_no_more(desk: Any, what: str) -> None:
    import psycopg

    with server.plain(desk) as raw, pytest.raises(psycopg.errors.InsufficientPrivilege):
        raw.execute(what)


def test_what_that_role_may_not_is_said_in_words(there: Book, desk: Any) -> None:
    with Record.open(desk, project=Tiny) as record:
        with pytest.raises(StorageError, match="no right") as caught:
            rebuild(record)
        assert caught.value.code == "rights"
    assert rebuild(there.record).changed == {}
    assert verify(desk, project=Tiny).problems == []  # what was made anew it may read again


def test_rights_are_for_a_role_that_owns_nothing(there: Book, tmp_path: Any) -> None:
    for role in ("nobody_of_that_name", "postgres", 'a"; DROP TABLE note; --'):
        with pytest.raises(InputError, match="ROLE"):
            let_enter(there.record, role)
    with Record.found(
        tmp_path / "x.db", keys=there.keys, station="A", data={"name": "A"}, at=there.note("x").at
    ) as record, pytest.raises(InputError, match="on a server"):  # fmt: skip
        let_enter(record, "desk")
