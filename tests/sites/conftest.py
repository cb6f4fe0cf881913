from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from blender.station import equipment, people
from tests.sites.away import NAMES, OTHERS, THEIRS, Two, shared
from tests.sites.shops import Site, introduce
from tests.station.shop import CHEAP, SECRET, Shop, cheap_secrets, copied


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


@pytest.fixture(scope="session", name="filled")
def _filled(founded: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A station that filled a cylinder, one with an analyser and a customer, and the office."""
    folder = tmp_path_factory.mktemp("filled")
    with pytest.MonkeyPatch.context() as patch:
        cheap_secrets(patch)
        shutil.copytree(founded, folder / "quay")
        quay = Shop.open(folder / "quay" / "station.db")
        reef, office = (Site.found(folder / name, ident) for name, ident in OTHERS)
        introduce(office, Site(quay.station, quay.mara, quay.clock, quay.path), reef)
        people.add_person(reef.station, reef.mara, name="Kai Diver", role="customer",
                          certified="nitrox")  # fmt: skip
        people.add_person(reef.station, reef.mara, name="Ro Reef", role="blender", secret=SECRET,
                          cost=CHEAP)  # fmt: skip
        equipment.add_analyser(reef.station, reef.mara, name="R1")
        for one in (office, reef):
            one.clock.us = quay.clock.us
        equipment.calibrate(reef.station, reef.mara, name="R1", gas="air", reading="20.9")
        assert quay.rested() == THEIRS
        for record in (quay.station.record, reef.record, office.record):
            record.close()
    return folder


@pytest.fixture(name="before")
def _before(filled: Path, tmp_path: Path) -> Iterator[Two]:
    """Before the first exchange."""
    for name in NAMES:
        shutil.copytree(filled / name, tmp_path / name)
    quay = Shop.open(tmp_path / "quay" / "station.db")
    quay.clock.turn(60)
    reef, office = (Site.open(tmp_path / name / "station.db", quay.clock) for name, _ in OTHERS)
    yield quay, reef, office
    for record in (quay.station.record, reef.record, office.record):
        record.close()


@pytest.fixture(name="two")
def _two(before: Two) -> Two:
    """After it: what QUAY-1 filled is known at REEF-3."""
    shared(*before)
    return before
