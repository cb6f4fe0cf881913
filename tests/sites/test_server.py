"""The same exchange where the office, or a site, has its record on a PostgreSQL server."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from blender.errors import RefusedError
from blender.record import replica
from blender.record.server import Server
from blender.record.verify import verify
from blender.station.site_board import board
from tests import server
from tests.sites.shops import Site, exchange, introduce, take_at

pytestmark = server.needed()


@pytest.fixture(name="places")
def _places() -> Iterator[tuple[Server, Server]]:
    with server.a_schema() as one, server.a_schema() as other:
        yield one, other
        with server.plain(one) as raw:
            for (name,) in raw.execute(
                "SELECT nspname FROM pg_namespace WHERE nspname LIKE %s", [f"{one.schema}%site%"]
            ).fetchall():
                raw.execute(f"DROP SCHEMA {name} CASCADE")


def test_office_and_site_on_a_server(places: tuple[Server, Server], tmp_path: Path) -> None:
    office = Site.found(tmp_path / "office", "OFFICE-1", place=places[0])
    quay = Site.found(tmp_path / "quay", "QUAY-2", place=places[1])
    reef = Site.found(tmp_path / "reef", "REEF-3")
    introduce(office, quay, reef, at=True)
    quay.work(5)
    exchange(office, quay, reef)
    exchange(office, quay, reef)
    for one in (office, quay, reef):
        assert verify(one.place).ok
    told = {one["site"]: one for one in board(office.record, office.clock())["sites"]}
    assert told["QUAY-2"]["entries"] == office.knows("QUAY-2").entries
    assert [one["error"] for one in told.values()] == [None, None, None]
    forged = Site.found(tmp_path / "forged", "QUAY-2")
    with pytest.raises(RefusedError, match="another key"):
        take_at(office, forged)
    assert office.exceptions("site-refused")
    for one in (office, quay, reef, forged):
        one.close()


def test_a_long_schema_or_id_still_has_a_name_of_its_own(tmp_path: Path) -> None:
    here = Server("host=x", "s" * 40, "postgresql+psycopg://x/y?schema=" + "s" * 40)
    names = {
        replica.place_of(here, ident, life).schema
        for ident in ("A" * 32, "A" * 31, "A-1", "A", "A-1-2")
        for life in (1, 2)
    }
    assert len(names) == 10
    assert max(map(len, names)) <= 63
    short = replace(here, schema="office")
    assert replica.place_of(short, "QUAY-2", 1).schema == "office_site_quay_2_1"
