"""Attacks on a stored record, each found and named."""

from __future__ import annotations

import json
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from blender.errors import InputError, RecordError
from blender.record import verify as verifying
from blender.record.anchor import parse_anchor
from blender.record.chain import digest
from blender.record.journal import Record
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from tests.record.raw import connect, unguarded


@pytest.fixture(name="check")
def _check(book: Any, tiny: Any) -> Any:
    def check(anchor: str | None = None) -> list[tuple[int, str]]:
        report = verify(book.path, anchor, project=tiny)
        assert report.ok == (not report.problems)
        return [(one.seq, one.kind) for one in report.problems]

    book.fill(20)
    return check


def rechain(raw: sqlite3.Connection, first: int) -> None:
    """Do as an owner would: recompute every digest from an entry on."""
    rows = raw.execute("SELECT seq, body FROM entry WHERE seq >= ? ORDER BY seq", [first])
    prev = raw.execute("SELECT digest FROM entry WHERE seq = ?", [first - 1]).fetchone()[0]
    for seq, body in rows.fetchall():
        own = digest(prev, body)
        raw.execute("UPDATE entry SET prev = ?, digest = ? WHERE seq = ?", [prev, own, seq])
        prev = own


def body_of(raw: sqlite3.Connection, seq: int) -> dict[str, Any]:
    found = raw.execute("SELECT body FROM entry WHERE seq = ?", [seq]).fetchone()[0]
    body: dict[str, Any] = json.loads(found)
    return body


def put_body(raw: sqlite3.Connection, seq: int, content: dict[str, Any]) -> None:
    body = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    raw.execute("UPDATE entry SET body = ? WHERE seq = ?", [body, seq])


# -- controls ----------------------------------------------------------------------------


def test_an_honest_record_has_no_problem(book: Any, check: Any, tiny: Any) -> None:
    held = book.record.head().text
    book.accept("P-9", "Ada Brekke")
    assert check() == []
    assert check(held) == []
    assert check(book.record.head().text) == []
    report = verify(book.path, project=tiny)
    assert (report.station, report.incarnation, report.entries) == ("QUAY-2", 1, 21)
    assert report.head == book.record.head().head_text


def test_lifting_and_putting_back_the_guards_alone_is_no_problem(book: Any, check: Any) -> None:
    with unguarded(book.path):
        pass
    assert check() == []


@pytest.mark.file
def test_verifying_changes_nothing(book: Any, check: Any) -> None:
    before = {one: one.read_bytes() for one in book.path.parent.iterdir()}
    assert check() == []
    assert {one: one.read_bytes() for one in before} == before


@pytest.mark.file
def test_a_record_can_be_verified_from_where_nothing_can_be_written(book: Any, check: Any) -> None:
    book.path.chmod(0o400)
    book.path.parent.chmod(0o500)
    assert check() == []
    book.path.parent.chmod(0o700)


# -- the journal -------------------------------------------------------------------------


def test_an_edited_body_is_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        content = body_of(raw, 11)
        put_body(raw, 11, content | {"data": {"text": "another story"}})
    assert (11, "chain") in check()
    assert {seq for seq, kind in check() if kind != "read-model"} == {11}


def test_a_deleted_entry_is_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        raw.execute("DELETE FROM entry WHERE seq = 9")
        raw.execute("DELETE FROM note WHERE seq = 9")
    assert check() == [(9, "gap")]


def test_a_deleted_first_entry_is_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        raw.execute("DELETE FROM entry WHERE seq = 1")
    assert check() == [(1, "gap")]


def test_a_deletion_closed_up_is_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        raw.execute("DELETE FROM entry WHERE seq = 9")
        for seq in range(10, 21):
            raw.execute("UPDATE entry SET seq = seq - 1 WHERE seq = ?", [seq])
    found = check()
    assert (9, "chain") in found
    assert (9, "body") in found


def test_swapped_entries_are_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        for old, new in ((7, 100), (8, 7), (100, 8)):
            raw.execute("UPDATE entry SET seq = ? WHERE seq = ?", [new, old])
    found = check()
    assert {(7, "chain"), (8, "chain"), (7, "body"), (8, "body")} <= set(found)


def test_an_entry_of_another_station_is_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        raw.execute(
            "INSERT INTO entry SELECT 'ZOO', 1, body, zeroblob(32), randomblob(32), NULL"
            " FROM entry WHERE seq = 1"
        )
    assert (21, "chain") in check()


def test_columns_must_say_what_the_body_says(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        raw.execute("UPDATE entry SET step = 'other' WHERE seq = 7")
        raw.execute("UPDATE entry SET step = NULL WHERE seq = 8")
    assert check() == [(7, "body"), (8, "body")]


def test_a_rechained_edit_of_a_signed_entry_is_named_by_its_signature(
    book: Any, check: Any
) -> None:
    with unguarded(book.path) as raw:
        content = body_of(raw, 20)
        assert "sig" in content
        put_body(raw, 20, content | {"data": {"text": "another story"}})
        rechain(raw, 20)
        raw.execute("UPDATE note SET text = 'another story' WHERE seq = 20")
    assert check() == [(20, "signature")]


def test_a_body_in_another_spelling_is_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        body = raw.execute("SELECT body FROM entry WHERE seq = 20").fetchone()[0]
        raw.execute("UPDATE entry SET body = ? WHERE seq = 20", [body + b" "])
        rechain(raw, 20)
    assert check() == [(20, "body")]


@pytest.mark.parametrize(
    "change",
    [
        {"v": 2},
        {"kind": 7},
        {"seq": True},
        {"at": {}},
        {"at": {"us": 0, "offset_min": 5000}},
        {"data": []},
        {"incarnation": 2},
        {"station": "ZOO"},
    ],
)
def test_a_body_of_another_shape_is_named(book: Any, check: Any, change: Any) -> None:
    with unguarded(book.path) as raw:
        put_body(raw, 18, body_of(raw, 18) | change)
        rechain(raw, 18)
    assert (18, "body") in check()


def test_a_seal_that_does_not_fit_is_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        content = body_of(raw, 3)
        content["seal"]["value"] = body_of(raw, 2)["seal"]["value"]
        put_body(raw, 3, content)
        rechain(raw, 3)
    assert (3, "seal") in check()


def test_a_key_nobody_stands_for_is_named(book: Any, check: Any, now: Any) -> None:
    with book.record.write() as unit:
        data = {"person": "P-7", "role": "manager", "key": book.ola.key}
        unit.append("person.added", data, at=now)
    assert check() == [(21, "signature")]


def test_another_stations_founding_does_not_fit(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        raw.execute("UPDATE entry SET prev = randomblob(32) WHERE seq = 1")
    assert {(1, "chain"), (1, "genesis")} <= set(check())


def test_an_empty_journal_is_named(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        raw.execute("DELETE FROM entry")
    assert (0, "genesis") in check()
    assert (7, "anchor") in check(GOOD)


GOOD = "FILLWRIGHT1 QUAY-2 1 7 " + "A" * 52

# -- what only an anchor finds -----------------------------------------------------------


def test_truncation_is_found_with_a_label(book: Any, check: Any) -> None:
    held = book.record.head().text
    with unguarded(book.path) as raw:
        raw.execute("DELETE FROM entry WHERE seq > 15")
        raw.execute("DELETE FROM note WHERE seq > 15")
    assert check() == []  # a chain alone cannot know
    assert check(held) == [(20, "anchor")]


@pytest.mark.file
def test_an_older_copy_is_found_with_a_label(book: Any, check: Any) -> None:
    shutil.copy(book.path, book.path.with_suffix(".old"))
    for number in range(3):
        book.note(f"later {number}")
    held = book.record.head().text
    shutil.copy(book.path.with_suffix(".old"), book.path)
    assert check() == []
    assert check(held) == [(23, "anchor")]
    for number in range(3):
        book.note(f"another future {number}")
    assert check() == []
    assert check(held) == [(23, "anchor")]


def test_a_rewrite_is_found_by_every_later_signature(book: Any, check: Any) -> None:
    with unguarded(book.path) as raw:
        content = body_of(raw, 12)
        assert "sig" not in content
        put_body(raw, 12, content | {"data": {"text": "another story"}})
        rechain(raw, 12)
        raw.execute("UPDATE note SET text = 'another story' WHERE seq = 12")
        signed = [seq for seq in range(13, 21) if "sig" in body_of(raw, seq)]
    assert len(signed) > 3
    assert check() == [(seq, "signature") for seq in signed]


@pytest.mark.file
def test_a_rewrite_by_the_owner_of_every_key_is_found_with_a_label(book: Any, tiny: Any) -> None:
    """Whoever holds file and keys can make another history; a label they cannot."""
    book.note("what happened")
    held = book.record.head().text
    book.record.close()
    book.path.unlink()
    other = type(book)(book.path)
    other.note("another story")
    other.record.close()
    assert verify(book.path, project=tiny).ok
    found = verify(book.path, held, project=tiny).problems
    assert [(one.seq, one.kind) for one in found] == [(4, "anchor")]


def test_other_anchors_do_not_fit(book: Any, check: Any) -> None:
    assert check(GOOD) == [(7, "anchor")]
    assert check(GOOD.replace("QUAY-2", "QUAY-3")) == [(7, "anchor")]
    assert check(book.record.head().text.replace(" 1 20 ", " 2 20 ")) == [(20, "anchor")]
    with pytest.raises(InputError):
        check("FILLWRIGHT1 QUAY-2")


@pytest.mark.file
def test_labels_from_before_an_admitted_restore(book: Any, check: Any, now: Any) -> None:
    kept = book.record.head().text
    shutil.copy(book.path, book.path.with_suffix(".old"))
    lost = book.note("lost in the restore").anchor.text
    shutil.copy(book.path.with_suffix(".old"), book.path)
    with book.record.write() as unit:
        unit.append("station.restored", {}, at=now, seal=book.keys)
    assert check() == []
    assert check(kept) == []
    assert check(lost) == [(21, "anchor")]


# -- read models, definitions, private rows ----------------------------------------------


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ("UPDATE note SET text = 'x' WHERE seq = 9", "note 9 was altered in text"),
        ("UPDATE note SET person = NULL WHERE seq = 10", "note 10 was altered in person"),
        ("DELETE FROM note WHERE seq = 9", "note 9 is missing"),
        ("INSERT INTO note VALUES (99, 'x', '')", "note 99 comes from no entry"),
    ],
)
def test_an_edited_read_model_is_named(
    book: Any, check: Any, tiny: Any, change: str, where: str
) -> None:
    raw = connect(book.path)
    raw.execute(change)
    raw.commit()
    raw.close()
    assert [kind for _, kind in check()] == ["read-model"]
    assert verify(book.path, project=tiny).problems[0].text == where
    assert str(verify(book.path, project=tiny).problems[0].seq) in where
    rebuild(book.record)
    assert check() == []


def test_a_missing_read_model_is_named_and_can_be_rebuilt(book: Any, check: Any, tiny: Any) -> None:
    raw = connect(book.path)
    raw.execute("DROP TABLE note")
    raw.execute('CREATE TABLE "odd "" name" (a integer)')
    raw.close()
    assert {kind for _, kind in check()} == {"schema", "read-model"}
    with Record.open(book.path, project=tiny, check=False) as record:
        assert rebuild(record).changed == {"note": (-1, 17)}
    assert check() == []


@pytest.mark.file
@pytest.mark.parametrize("name", ["no_update", "no_delete", "no_replace", "in_order"])
def test_a_dropped_guard_is_named(book: Any, check: Any, tiny: Any, name: str) -> None:
    raw = connect(book.path)
    raw.execute(f"DROP TRIGGER entry_{name}")
    raw.close()
    assert check() == [(0, "schema")]
    assert f"entry_{name} is missing" in verify(book.path, project=tiny).problems[0].text


@pytest.mark.file
def test_a_weakened_guard_is_named(book: Any, check: Any) -> None:
    raw = connect(book.path)
    raw.execute("DROP TRIGGER entry_no_update")
    raw.execute(
        "CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry WHEN 0"
        " BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END"
    )
    raw.close()
    assert check() == [(0, "schema")]


@pytest.mark.file
def test_a_table_rewritten_through_the_schema_is_named(book: Any, check: Any) -> None:
    raw = connect(book.path)
    raw.execute("PRAGMA writable_schema=ON")
    raw.execute("UPDATE sqlite_master SET sql = replace(sql, '= 32', '> 30') WHERE name = 'entry'")
    raw.commit()
    raw.close()
    assert "schema" in {kind for _, kind in check()}


def test_an_altered_acceptance_is_named(book: Any, check: Any) -> None:
    seq = book.accept("P-9", "Ada Brekke").seq
    raw = connect(book.path)
    raw.execute(
        "UPDATE private SET content = CAST(replace(content, 'Ada', 'Eva') AS BLOB)"
        " WHERE what = 'acceptance'"
    )
    raw.execute("UPDATE customer SET name = 'Eva Brekke'")
    raw.commit()
    raw.close()
    assert check() == [(seq, "private")]


@pytest.mark.parametrize("what", ["acceptance", "key"])
def test_private_rows_taken_away_without_a_word_are_named(book: Any, check: Any, what: str) -> None:
    seq = book.accept("P-9", "Ada Brekke").seq
    raw = connect(book.path)
    raw.execute("DELETE FROM private WHERE what = ?", [what])
    raw.commit()
    raw.close()
    assert (seq, "private") in check()


def test_an_erased_person_leaves_the_record_whole(book: Any, check: Any, now: Any) -> None:
    held = book.accept("P-9", "Ada Brekke").anchor.text
    with book.record.write() as unit:
        unit.erase_person("P-9")
        unit.append("person.erased", {"person": "P-9"}, at=now, by=book.mira, meaning="erased")
    assert check(held) == []
    rebuild(book.record)
    assert check(held) == []


# -- while the station works -------------------------------------------------------------


def test_a_verification_keeps_no_terminal_waiting(
    book: Any, check: Any, tiny: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Entries made between its parts go through at once, and are verified with the rest."""
    left = list(range(5))
    real = verifying.stored

    def busy(conn: Any, **options: Any) -> Any:
        if left:
            book.note(f"meanwhile {left.pop()}")
        return real(conn, **options)

    monkeypatch.setattr(verifying, "_PART", 6)
    monkeypatch.setattr(verifying, "stored", busy)
    monkeypatch.setattr("blender.record.engine.BUSY_MS", 0)
    report = verify(book.path, project=tiny)
    assert (report.problems, report.entries) == ([], 25)


# -- files ---------------------------------------------------------------------------------


def test_files_that_cannot_be_read_are_problems(tmp_path: Path, tiny: Any) -> None:
    (tmp_path / "empty.db").touch()
    (tmp_path / "text.db").write_text("not a database\n" * 100)
    for name, kind in (("empty", "schema"), ("text", "file")):
        report = verify(tmp_path / f"{name}.db", project=tiny)
        assert [one.kind for one in report.problems] == [kind]
        assert (report.station, report.entries, report.head) == ("", 0, "")
    for place in (tmp_path, tmp_path / "missing.db"):
        with pytest.raises(InputError):
            verify(place, project=tiny)


@pytest.mark.file
def test_a_half_of_a_file_is_a_problem(book: Any, check: Any) -> None:
    whole = book.path.read_bytes()
    for size in (50, 100, 4096, len(whole) // 2, len(whole) - 4096, len(whole) - 1):
        book.path.write_bytes(whole[:size])
        assert check()
    book.path.write_bytes(whole)
    assert check() == []


@pytest.mark.file
def test_a_definition_that_is_no_text_is_a_problem(book: Any, check: Any, tiny: Any) -> None:
    """SQLite quotes it in its message, which then cannot be read as text either."""
    whole = book.path.read_bytes()
    at = whole.index(b"CREATE TABLE customer")
    book.path.write_bytes(whole[:at] + b"CREATE T\xc5BLE" + whole[at + 12 :])
    assert {kind for _, kind in check()} == {"file"}
    with pytest.raises(RecordError, match="damaged"):
        Record.open(book.path, project=tiny)


def test_a_projection_that_stumbles_is_a_problem_not_a_crash(
    book: Any, now: Any, tiny: Any
) -> None:
    class Blind:
        TABLES = tiny.TABLES

        @staticmethod
        def apply(conn: Any, entry: Any, private: Any) -> None:
            if entry.kind == "note":
                raise KeyError("text")

    book.fill(6)
    found = verify(book.path, project=Blind).problems
    assert {one.kind for one in found} == {"read-model"}
    assert {one.seq for one in found} == {4, 5, 6}


def test_the_anchor_names_an_entry_that_is_there(book: Any, check: Any) -> None:
    anchor = parse_anchor(book.record.head().text)
    assert (anchor.station, anchor.incarnation, anchor.seq) == ("QUAY-2", 1, 20)
