from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from blender.record.journal import Record
from blender.record.pour import pour
from tests import server
from tests.station.shop import Shop, found


@pytest.fixture(scope="session", name="founded")
def _founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A station founded once; tests work on copies of it."""
    folder = tmp_path_factory.mktemp("founded")
    found(folder)
    return folder


@pytest.fixture(name="shop")
def _shop(founded: Path, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Shop]:
    """The shop at work in a file; with SHOP=server on a server, to try every use case there too."""
    is_file = os.environ.get("SHOP") != "server" or request.node.get_closest_marker("file")
    for name in ("station.db", "station.keys"):
        shutil.copy2(founded / name, tmp_path / name)
    if is_file:
        shop = Shop.open(tmp_path / "station.db")
        yield shop
        shop.station.record.close()
        return
    with server.a_schema() as place:
        with Record.open(tmp_path / "station.db", readonly=True) as record:
            pour(record, place).close()
        shop = Shop.open(place, tmp_path / "station.keys")
        yield shop
        shop.station.record.close()
