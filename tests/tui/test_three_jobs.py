"""The jobs of the three people from a cold start, by keyboard alone, their key presses counted.

Enter and every named key counts; the letters of typed values, names and secrets do not.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.station.shop import NAMES, SECRET, Shop, found
from tests.tui.realterminal import Screen

pytestmark = [
    pytest.mark.skipif(shutil.which("tmux") is None, reason="no tmux on this machine"),
    pytest.mark.soak,
]
SIZES = [(80, 24), (120, 40)]
SIGN_IN = 2  # name and secret, each with Enter


@pytest.fixture(name="shop")
def _shop(tmp_path: Path) -> Iterator[Shop]:
    found(tmp_path)
    shop = Shop.open(tmp_path / "station.db")
    yield shop
    shop.station.record.close()


@contextmanager
def signed_in(shop: Shop, size: tuple[int, int], who: str) -> Iterator[Screen]:
    """Start the program and sign in."""
    screen = Screen(shop.path, size)
    try:
        screen.shows("Who is there?")
        screen.types(NAMES[who])
        screen.shows("Secret of")
        screen.types(SECRET)
        screen.shows("Panel", NAMES[who])
        yield screen
        screen.presses("C-q")
        screen.shows("left with 0")
    finally:
        screen.tmux("kill-server")


def brought_before(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    assert shop.collect(fill, anchor).done


@pytest.mark.parametrize("size", SIZES)
def test_the_blender_fills_a_known_cylinder(shop: Shop, size: tuple[int, int]) -> None:
    brought_before(shop)
    with signed_in(shop, size, "blender") as screen:
        assert screen.keys == SIGN_IN
        screen.presses("M-c")
        for waits, types in (
            ("Scan or type a serial", "C-1001"),
            ("What is left:", "60 A1 28.1"),
            ("What is wanted", ""),
            ("planned", ""),
            ("to start", "C-1001"),
            ("Let in oxygen to", "84.4 20"),
            ("Let in air to", "230 20"),
            ("whose gas is analysed", "C-1001"),
            ("reading in percent", "32.1"),
            ("Enter goes to the Counter", ""),
            ("what do you read?", "31.8"),
            ("Your name", "Kai Diver"),
        ):
            screen.shows(waits)
            screen.types(types)
        screen.shows("Signed by Kai Diver")
        assert screen.keys <= SIGN_IN + 1 + 14
    assert shop.row(2).state == "accepted"


@pytest.mark.parametrize("size", SIZES)
def test_the_customer_reads_signs_and_leaves(shop: Shop, size: tuple[int, int]) -> None:
    fill = shop.analysed("32.4")
    with signed_in(shop, size, "blender") as screen:
        screen.presses("M-c")
        screen.shows("Scan or type a serial")
        screen.types("1001")  # a fragment is enough
        screen.shows("Station's reading: O2 32.4 %", "33 m", "what do you read?")
        screen.types("32.1")
        screen.shows("Your name")
        screen.types("Kai Diver")
        screen.shows("Signed by Kai Diver")
        assert shop.row(fill).state == "accepted"
        accepted = next(e for e in reversed(shop.entries()) if e.kind == "fill.accepted")
        screen.types("C-1001")
        screen.shows("label")
        screen.types(accepted.anchor.text)  # the label's code, as a scanner types it
        screen.shows("Scan or type a serial")
        assert screen.keys <= SIGN_IN + 1 + 6
    assert shop.row(fill).state == "collected"


@pytest.mark.parametrize("size", SIZES)
def test_the_manager_audits_exports_and_verifies(shop: Shop, size: tuple[int, int]) -> None:
    shop.accepted()
    shop.request(cylinder="D-7", customer="Lena Tief")
    with signed_in(shop, size, "manager") as screen:
        screen.presses("M-b")
        screen.shows("2 fills")
        screen.tmux("send-keys", "-l", "kai EAN32")
        screen.shows("1 of 2 fills")
        screen.presses("Enter")
        screen.shows("PLAN AGAINST READINGS", "add air to 230.0 bar")
        screen.presses("End")
        screen.shows("ENTRIES AND THEIR DIGESTS")
        screen.presses("Escape")
        screen.shows("1 of 2 fills")
        screen.presses("M-x")
        screen.shows("Export what is shown", ".csv")
        screen.types("")
        screen.shows("1 fill:")
        screen.presses("M-v")
        screen.shows("Verify")
        screen.types("")
        screen.shows("WHOLE")
        screen.presses("Escape", "M-o")
        screen.shows("Exceptions")
        screen.presses("Right")
        screen.shows("A1", "linearity: never on record")
        assert screen.keys <= SIGN_IN + 12
