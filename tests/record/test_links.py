"""The chain alone, held against the whole verification."""

from __future__ import annotations

from typing import Any

import pytest

from blender.errors import InputError
from blender.record.links import check_links
from blender.record.verify import verify
from tests.record.test_verify import body_of, put_body, rechain, unguarded


@pytest.fixture(name="long")
def _long(book: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setattr("blender.record.links._PART", 7)
    book.fill(40)
    return book


def test_it_comes_to_the_head(long: Any) -> None:
    said: list[int] = []
    found = check_links(long.path, said.append)
    head = long.record.head()
    assert (found.seq, found.head, found.problem) == (head.seq, head.head, None)
    assert said == [7, 14, 21, 28, 35, 40]


@pytest.mark.parametrize(
    "attack",
    [
        "UPDATE entry SET body = CAST('{}' AS BLOB) WHERE seq = 20",
        "UPDATE entry SET prev = zeroblob(32) WHERE seq = 20",
        "UPDATE entry SET digest = randomblob(32) WHERE seq = 20",
        "DELETE FROM entry WHERE seq = 20",
        "DELETE FROM entry WHERE seq BETWEEN 20 AND 22",
    ],
)
def test_it_stops_where_the_chain_does(long: Any, tiny: Any, attack: str) -> None:
    with unguarded(long.path) as raw:
        raw.execute(attack)
    found = check_links(long.path)
    assert found.problem is not None
    assert (found.seq, found.problem.seq) == (19, 20)
    assert not verify(long.path, project=tiny).ok


def test_a_founding_of_another_key_does_not_stand(long: Any) -> None:
    with unguarded(long.path) as raw:
        content = body_of(raw, 1)
        content["data"]["key"] = "00" * 32
        put_body(raw, 1, content)
    assert check_links(long.path).seq == 0


def test_what_it_cannot_see_is_left_to_verify(long: Any, tiny: Any) -> None:
    with unguarded(long.path) as raw:
        content = body_of(raw, 31)
        put_body(raw, 31, content | {"data": {"text": "another story"}})
        rechain(raw, 31)
    assert check_links(long.path).problem is None
    assert not verify(long.path, project=tiny).ok


@pytest.mark.file
def test_a_missing_file_is_said(long: Any) -> None:
    with pytest.raises(InputError):
        check_links(long.path.with_name("none.db"))
