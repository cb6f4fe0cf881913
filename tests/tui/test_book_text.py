"""What people called things, in the Book: cut to the column, shown letter by letter."""

from __future__ import annotations

import csv
import io
import unicodedata
from array import array

import pytest
from rich.cells import cell_len
from textual.widgets import Input, Static

from blender.errors import FillwrightError
from blender.station import people
from reports.fill_csv import guarded
from tests.station.shop import Shop
from tests.tui.house import Rig, run
from tests.tui.nasty import NASTY
from tui.places.book import Book
from tui.plain import CUT, fit, tidy
from tui.widgets.ledger import place_of
from tui.widgets.ledger_columns import columns

WIDE = ["気瓶気瓶気瓶気瓶", "e\u0301" * 30, "🤿🤿🤿🤿🤿", "\u0301\u0301x", "\u202eabc", "a\tb\nc"]


@pytest.mark.parametrize("text", [*NASTY, *WIDE])
@pytest.mark.parametrize("width", [1, 4, 7, 12])
@pytest.mark.parametrize("align", ["left", "right", "tail"])
def test_a_cell_is_exactly_as_wide_as_its_column(text: str, width: int, align: str) -> None:
    made = fit(text, width, align)
    assert cell_len(made) == width
    assert made.isprintable()


@pytest.mark.parametrize("text", ["C-1001", "気瓶 1001", "x" * 30])
def test_what_is_cut_is_marked_on_its_side(text: str) -> None:
    assert fit(text, 5).rstrip().endswith(CUT)
    assert fit(text, 5, "tail").startswith(CUT)
    assert fit(text, 5, "tail").rstrip().endswith(text[-2:])
    assert fit(text, 40).strip() == text


@pytest.mark.parametrize("width", [79, 104, 105, 119, 200])
@pytest.mark.parametrize("digits", [1, 7])
def test_columns_fill_the_width(width: int, digits: int) -> None:
    made = columns(width, digits)
    assert 1 + sum(one.width for one in made) + len(made) - 1 == width
    assert any(one.heading == "blender" for one in made) == (width >= 105)


def test_a_number_is_found_among_those_shown() -> None:
    numbers = array("q", [9, 7, 4, 1])
    assert [place_of(numbers, n) for n in (9, 8, 7, 1, 0, 12)] == [0, 1, 1, 3, 4, 0]


def shown(name: str) -> str:
    return tidy(unicodedata.normalize("NFC", name)).strip()


def nasty_customers(shop: Shop) -> list[str]:
    """Add a fill for a customer of every nasty name the station takes."""
    taken = []
    for name in [*NASTY, *WIDE]:
        try:
            made = people.add_person(
                shop.station, shop.mara, name=name, role="customer", certified="trimix"
            )
        except FillwrightError:
            continue
        shop.request(customer=made["person"], cylinder=("C-1001", "C-1003")[len(taken) % 2])
        taken.append(name)
    return taken


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_nasty_names_keep_to_their_columns(rig: Rig, shop: Shop, size: tuple[int, int]) -> None:
    taken = nasty_customers(shop)
    assert len(taken) > 10

    async def main() -> None:
        async with rig.run(size=size, place="book") as pilot:
            screen = rig.terminal.screen
            assert isinstance(screen, Book)
            await rig.until(pilot, lambda: screen.ledger.line is not None)
            await rig.settle(pilot)
            ledger = screen.ledger
            strips = [ledger.render_line(y) for y in range(ledger.size.height)]
            assert {strip.cell_length for strip in strips} == {ledger.size.width}
            for at, name in enumerate(reversed(taken)):
                line = ledger._line(at)
                assert line is not None
                assert shown(line["customer"]) == shown(name)
            await pilot.press("down", "enter")
            await rig.settle(pilot)
            for name in reversed(taken):
                story = str(rig.terminal.screen.query_one("#told", Static).render())
                assert shown(name) in story
                await pilot.press("right")
                await rig.settle(pilot)

    run(main)


def test_nasty_names_are_found_and_exported_as_text(rig: Rig, shop: Shop) -> None:
    taken = nasty_customers(shop)

    async def main() -> None:
        async with rig.run(place="book") as pilot:
            screen = rig.terminal.screen
            assert isinstance(screen, Book)
            await rig.until(pilot, lambda: screen.ledger.line is not None)
            for name in ("[bold", "'; DROP TABLE fill; --", "気瓶", "%_%", "\\"):
                assert any(name in one for one in taken), name
                screen.field.value = name
                await rig.until(pilot, lambda name=name: screen.searched == name)
                await rig.settle(pilot)
                found = [screen.ledger._line(at) for at in range(len(screen.ledger.numbers))]
                assert [line for line in found if line and name in line["customer"]], name
                assert len(found) < len(taken)
            screen.field.value = ""
            await rig.until(pilot, lambda: len(screen.ledger.numbers) == len(taken))
            await rig.settle(pilot)
            await pilot.press("alt+x")
            await rig.settle(pilot)
            rig.terminal.screen.query_one(Input).value = "all.csv"
            await pilot.press("enter")
            await rig.settle(pilot)

    run(main)
    rows = csv.DictReader(io.StringIO(rig.papers["all.csv"].decode(), newline=""))
    names = [row["customer"] for row in rows]
    assert len(names) == len(taken)
    assert "'=1+1" in names
    assert all(name == guarded(name) for name in names)
