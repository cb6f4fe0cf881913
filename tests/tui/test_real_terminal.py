"""The program as a person runs it: in a real terminal, by its keys, at both sizes."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.station.shop import NAMES, SECRET, Shop, found
from tests.tui.realterminal import Screen

pytestmark = pytest.mark.skipif(shutil.which("tmux") is None, reason="no tmux on this machine")


@pytest.fixture(name="shop")
def _shop(tmp_path: Path) -> Iterator[Shop]:
    found(tmp_path)
    shop = Shop.open(tmp_path / "station.db")
    yield shop
    shop.station.record.close()


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_reading_by_the_keys_of_a_real_terminal(shop: Shop, size: tuple[int, int]) -> None:
    fill = shop.filling()
    screen = Screen(shop.path, size)
    try:
        screen.shows("Who is there?", "C-1001", "DO NOT BREATHE")
        screen.types(NAMES["blender"])
        screen.shows("Secret of")
        screen.types(SECRET)
        screen.shows("Gauge and temperature", "Kai Diver", "EAN32 to 230 bar")
        screen.types("74,5 31")
        screen.shows("Read 74.5 bar at 31.0 °C")
        screen.tmux("send-keys", "F1")
        screen.shows("Esc closes this")
        screen.tmux("send-keys", "Escape")
        screen.tmux("send-keys", "M-u")
        screen.shows("psi at 88 °F")
        screen.tmux("send-keys", "C-q")
        screen.shows("left with 0")
    finally:
        screen.tmux("kill-server")
    assert shop.row(fill).gauge_mbar == 74_500
    assert shop.last().kind == "fill.reading"
