"""A locked key put in somebody else's place is named: whose it is, and what is wrong."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from blender.record.staff_keys import staff_key_row
from blender.record.verify import Problem, verify
from blender.station import people
from tests.station.shop import CHEAP, SECRET, Shop


def run(path: Path, *statements: tuple[str, tuple[object, ...]]) -> None:
    raw = sqlite3.connect(path)
    for statement, values in statements:
        raw.execute(statement, values)
    raw.commit()
    raw.close()


def problems(shop: Shop) -> list[Problem]:
    return [one for one in verify(shop.path).problems if one.kind == "private"]


def content(path: Path, row_id: str) -> bytes:
    raw = sqlite3.connect(path)
    (found,) = raw.execute("SELECT content FROM private WHERE id = ?", (row_id,)).fetchone()
    raw.close()
    return bytes(found)


def test_two_swapped_rows_name_both_people(shop: Shop) -> None:
    mara, jo = staff_key_row(shop.mara.person), staff_key_row(shop.jo.person)
    theirs = content(shop.path, mara), content(shop.path, jo)
    put = "UPDATE private SET content = ? WHERE id = ?"
    run(shop.path, (put, (theirs[1], mara)), (put, (theirs[0], jo)))
    first, second = problems(shop)
    called = [f"{one.name} ({one.person})" for one in (shop.mara, shop.jo)]
    assert (
        first.text == f"the locked key of {called[0]} was swapped: it holds the key of {called[1]}"
    )
    assert (
        second.text == f"the locked key of {called[1]} was swapped: it holds the key of {called[0]}"
    )
    added = {e.data["person"]: e.seq for e in shop.entries() if e.kind == "person.added"}
    assert [first.seq, second.seq] == [added[shop.mara.person], added[shop.jo.person]]


def test_a_key_from_outside_is_named(shop: Shop) -> None:
    """Somebody locks a key of their own with a secret they know, in the manager's row."""
    mara, old = staff_key_row(shop.mara.person), content(shop.path, staff_key_row(shop.jo.person))
    people.reset_secret(
        shop.station, shop.mara, "Jo Blend", reason="forgot", secret="abcd", cost=CHEAP
    )
    run(shop.path, ("UPDATE private SET content = ? WHERE id = ?", (old, mara)))
    (one,) = problems(shop)
    assert "Mara Linde" in one.text
    assert one.text.endswith("was swapped: it holds a key that no entry gave to anybody")


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("DELETE FROM private WHERE id = ?", "is gone"),
        ("UPDATE private SET person = 'P-0' WHERE id = ?", "is filed as 'P-0 staff-key'"),
        ("UPDATE private SET what = 'key' WHERE id = ?", "is filed as"),
        ("UPDATE private SET content = x'7b7d20' WHERE id = ?", "is damaged"),
    ],
)
def test_other_harm_to_a_locked_key(shop: Shop, statement: str, said: str) -> None:
    run(shop.path, (statement, (staff_key_row(shop.jo.person),)))
    (one,) = problems(shop)
    assert f"the locked key of Jo Blend ({shop.jo.person}) {said}" in one.text


def test_changed_and_reset_secrets_are_sound(shop: Shop) -> None:
    people.change_secret(shop.station, shop.jo, SECRET, "rising tide", CHEAP)
    people.reset_secret(
        shop.station, shop.mara, "Ada Pruef", reason="forgot", secret="abcd", cost=CHEAP
    )
    assert verify(shop.path).ok
