from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.station.shop import Shop, cheap_secrets, copied


@pytest.fixture(autouse=True)
def _cheap_secrets(monkeypatch: pytest.MonkeyPatch) -> None:
    cheap_secrets(monkeypatch)


@pytest.fixture(name="shop")
def _shop(founded: Path, tmp_path: Path) -> Iterator[Shop]:
    shop = Shop.open(copied(founded, tmp_path))
    yield shop
    shop.station.record.close()
