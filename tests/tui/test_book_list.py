"""`book list` with a search and a limit; without them it is what it always was."""

from __future__ import annotations

import pytest

from tests.station.shop import Shop
from tests.tui.terminal import Terminal, run


@pytest.fixture(name="three", autouse=True)
def _three(at: Terminal) -> None:
    shop = Shop.open(at.path)
    shop.filling()
    shop.request(cylinder="C-1003", customer="Uma Neu", want="200bar:EAN36")
    shop.request(cylinder="D-7", customer="Lena Tief", want="200bar:EAN32")
    shop.station.record.close()


def numbers(*arguments: str) -> list[int]:
    said = run("book", "list", "--json", *arguments)
    assert (said.code, said.err) == (0, "")
    return [fill["fill"] for fill in said.json["fills"]]


def test_a_plain_list_is_oldest_first_and_nothing_more() -> None:
    assert numbers() == [1, 2, 3]
    assert set(run("book", "list", "--json").json) == {"fills"}


def test_a_search_is_newest_first() -> None:
    assert numbers("--search", "EAN32") == [3, 1]
    assert numbers("--search", "EAN32", "--limit", "1") == [3]
    assert numbers("--search", "uma") == [2]
    assert numbers("--search", "no-such-thing") == []


def test_a_limit_keeps_the_newest() -> None:
    assert numbers("--limit", "2") == [3, 2]


def test_it_says_how_it_understood() -> None:
    said = run("book", "list", "--json", "--search", "EAN32", "--limit", "1").json
    assert (said["understood"], said["found"]) == ("mix EAN32", 2)
    assert run("book", "list", "--search", "EAN32").out.startswith("mix EAN32: 2 found\n")


def test_a_searched_line_is_a_line_of_the_list() -> None:
    whole = {fill["fill"]: fill for fill in run("book", "list", "--json").json["fills"]}
    for fill in run("book", "list", "--json", "--search", "C-1").json["fills"]:
        assert fill == whole[fill["fill"]]


def test_a_limit_is_a_number_of_lines() -> None:
    assert run("book", "list", "--limit", "0").code == 2
