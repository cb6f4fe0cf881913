from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.station.shop import Shop, found


@pytest.fixture(scope="session", name="founded")
def _founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A station founded once; tests work on copies of it."""
    folder = tmp_path_factory.mktemp("founded")
    found(folder)
    return folder


@pytest.fixture(name="shop")
def _shop(founded: Path, tmp_path: Path) -> Iterator[Shop]:
    for name in ("station.db", "station.keys"):
        shutil.copy2(founded / name, tmp_path / name)
    shop = Shop.open(tmp_path / "station.db")
    yield shop
    shop.station.record.close()
