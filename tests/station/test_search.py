"""The book searched: every kind of word, all of them together, and nothing taken for SQL."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.station import search
from tests.station.shop import Shop
from tests.tui.nasty import NASTY


@pytest.fixture(name="fills")
def _fills(shop: Shop) -> dict[str, int]:
    """Three fills: one labelled, one in hand, one held; a day apart."""
    made = {"labelled": shop.accepted()[0]}
    shop.clock.turn(24 * 60)
    made["filling"] = shop.filling(cylinder="C-1003", customer="Uma Neu", want="230bar:EAN30")
    shop.clock.turn(24 * 60)
    made["held"] = shop.filling(cylinder="D-7", customer="Lena Tief", want="200bar:EAN32")
    shop.hold(made["held"])
    return made


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", ["held", "filling", "labelled"]),
        ("c-100", ["filling", "labelled"]),
        ("1003", ["filling"]),
        ("kai", ["labelled"]),
        ("DIVER", ["labelled"]),
        ("Kai Diver", ["labelled"]),
        ("Kai Neu", []),
        ("jo", ["held", "filling", "labelled"]),
        ("EAN32", ["held", "labelled"]),
        ("ean30 1003", ["filling"]),
        ("2026-11-25", ["labelled"]),
        ("2026-11-26", ["filling"]),
        ("2026-11", ["held", "filling", "labelled"]),
        ("2025", []),
        ("EAN3", ["held", "filling", "labelled"]),
        ("EAN4", []),
        ("A1", ["labelled"]),
        ("acc", ["labelled"]),
        ("held", ["held"]),
        ("#2", ["filling"]),
        ("nobody", []),
    ],
)
def test_words_find_the_fills_they_mean(
    shop: Shop, fills: dict[str, int], text: str, found: list[str]
) -> None:
    numbers = search.find(shop.station.record, text)
    assert list(numbers) == [fills[name] for name in found]


def test_what_was_analysed_counts_as_what_was_wanted(shop: Shop, fills: dict[str, int]) -> None:
    assert list(search.find(shop.station.record, "EAN32.1")) == [fills["labelled"]]


@pytest.mark.parametrize("text", [*NASTY, "%", "_", "C%1", "' OR 1=1 --", "##", "heliox"])
def test_no_text_is_sql_or_a_wildcard(shop: Shop, fills: dict[str, int], text: str) -> None:
    found = search.find(shop.station.record, text)
    assert len(found) == (3 if not text.strip() else 0)
    assert isinstance(search.understood(shop.station.record, text), str)


def test_how_it_is_understood_is_said(shop: Shop, fills: dict[str, int]) -> None:
    said = search.understood(shop.station.record, "1003 EAN32 zzz")
    assert said == ("fill 1003 or serial with 1003 (1); mix EAN32; 'zzz' means nothing here")


def test_lines_come_in_the_order_asked_for(shop: Shop, fills: dict[str, int]) -> None:
    numbers = [2, 3, 1, 99]
    lines = search.lines(shop.station.record, numbers)
    assert [line["fill"] for line in lines] == [2, 3, 1]
    assert lines[0]["customer"] == "Uma Neu"
    assert lines[1]["do_not_breathe"]


def test_a_date_is_jumped_to(shop: Shop, fills: dict[str, int]) -> None:
    shown = search.find(shop.station.record, "")
    record = shop.station.record
    assert search.at_date(record, shown, "2026-11-25") == 2
    assert search.at_date(record, shown, "2026-11-26") == 1
    assert search.at_date(record, shown, "2027") == 0
    assert search.at_date(record, shown, "2020") == 2
    with pytest.raises(InputError, match="2026-11"):
        search.at_date(record, shown, "soon")


def test_a_search_nobody_waits_for_finds_nothing(shop: Shop, fills: dict[str, int]) -> None:
    assert list(search.find(shop.station.record, "EAN32", cancelled=lambda: True)) == []
