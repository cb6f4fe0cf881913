from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.sites.shops import Site, introduce
from tests.station.shop import Shop, cheap_secrets, copied


@pytest.fixture(autouse=True)
def _cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    cheap_secrets(monkeypatch)


@pytest.fixture(scope="session", name="shop_folder")
def _shop_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three stations founded and introduced once; tests work on copies."""
    folder = tmp_path_factory.mktemp("shop")
    made = [Site.found(folder / name, ident) for name, ident in STATIONS.items()]
    introduce(*made)
    for one in made:
        one.close()
    return folder


STATIONS = {"office": "OFFICE-1", "quay": "QUAY-2", "reef": "REEF-3"}


@pytest.fixture(name="three")
def _three(shop_folder: Path, tmp_path: Path) -> Iterator[list[Site]]:
    """The office and two sites."""
    made = []
    for name in STATIONS:
        (tmp_path / name).mkdir()
        made.append(Site.open(copied(shop_folder / name, tmp_path / name)))
    for one in made:
        one.record.beside = Path(one.place)
    yield made
    for one in made:
        one.close()


@pytest.fixture(name="shop_")
def _shop(founded: Path, tmp_path: Path) -> Iterator[Shop]:
    """A station with people, cylinders and analysers, at work."""
    shop = Shop.open(copied(founded, tmp_path))
    yield shop
    shop.station.record.close()
