from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import Column, Connection, Integer, MetaData, String, Table, insert, update

from blender.record.entry import Entry
from blender.record.journal import Record, Unit
from blender.record.keys import Signer, StationKeys
from blender.record.moment import Moment
from blender.record.server import Location
from blender.record.unit import last_entry
from tests import server

START_US = 1_764_000_000_000_000
_META = MetaData()
NOTE = Table(
    "note",
    _META,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("text", String, index=True),
    Column("person", String),
)
CUSTOMER = Table(
    "customer",
    _META,
    Column("person", String, primary_key=True),
    Column("name", String),
    Column("seq", Integer),
)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if "soak" not in config.getoption("markexpr"):
        for item in items:
            if item.get_closest_marker("soak"):
                item.add_marker(pytest.mark.skip(reason="a long run; choose it with -m soak"))


_FIGURES: dict[str, Counter[str]] = {}


@pytest.fixture(name="figures")
def _figures() -> Callable[..., None]:
    """Return what takes the counts of a long run; its parts are added up and told at the end."""
    return lambda what, **counts: _FIGURES.setdefault(what, Counter()).update(counts)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for what, counts in _FIGURES.items():
        told = ", ".join(f"{name} {count}" for name, count in counts.items())
        terminalreporter.write_line(f"{what}: {told}")
    _FIGURES.clear()


class Tiny:
    """Two small read models: every note, and every customer with a name from a private row."""

    TABLES = (NOTE, CUSTOMER)

    @staticmethod
    def apply(conn: Connection, entry: Entry, private: Callable[[str], Any]) -> None:
        if entry.kind == "note":
            row = {"seq": entry.seq, "text": entry.data["text"], "person": entry.person}
            conn.execute(insert(NOTE).values(row))
        if entry.kind == "customer.accepted":
            name = (private(entry.data["private"]) or {}).get("name")
            row = {"person": entry.data["person"], "name": name, "seq": entry.seq}
            conn.execute(insert(CUSTOMER).values(row))
        if entry.kind == "person.erased":
            here = CUSTOMER.c.person == entry.data["person"]
            conn.execute(update(CUSTOMER).where(here).values(name=None))


def moment(number: int = 0) -> Moment:
    return Moment(START_US + number * 1_000_000, 60)


class Book:
    """A small station with two members of staff, and a way to write in its record."""

    def __init__(self, path: Location) -> None:
        self.path: Any = path
        # Fixed keys: the same record, bit for bit, on every run.
        self.keys = StationKeys(Ed25519PrivateKey.from_private_bytes(b"s" * 32), b"t" * 32)
        self.mira = Signer("P-1", "Mira Sund", "manager", _key(b"m"))
        self.ola = Signer("P-2", "Ola Vik", "blender", _key(b"o"))
        self.record = Record.found(
            path,
            keys=self.keys,
            station="QUAY-2",
            data={"name": "Quay two"},
            at=moment(),
            writes=self._staff,
            project=Tiny,
        )

    def _staff(self, unit: Unit) -> None:
        for by, who in ((self.mira, self.mira), (self.mira, self.ola)):
            data = {"person": who.person, "role": who.role, "key": who.key}
            unit.append("person.added", data, at=moment(), by=by, meaning="added", seal=self.keys)

    def note(self, text: str, **options: Any) -> Entry:
        with self.record.write() as unit:
            return unit.append("note", {"text": text}, at=moment(), **options)

    def accept(self, person: str, name: str) -> Entry:
        with self.record.write() as unit:
            row_id = f"acceptance/{person}"
            commitment = unit.commit_private(row_id, person, "acceptance", {"name": name})
            data = {"person": person, "private": row_id, "commitment": commitment}
            return unit.append(
                "customer.accepted",
                data,
                at=moment(),
                by=self.ola,
                meaning="witnessed",
                seal=self.keys,
            )

    def fill(self, entries: int) -> None:
        """Add notes until the record has so many entries; every third one signed."""
        with self.record.write() as unit:
            for number in range(self.record_seq(unit) + 1, entries + 1):
                by = (None, self.mira, self.ola)[number % 3]
                unit.append(
                    "note",
                    {"text": f"note {number}"},
                    at=moment(number),
                    by=by,
                    meaning="authored" if by else "",
                    step=f"s{number}",
                )

    def record_seq(self, unit: Unit) -> int:
        last = last_entry(unit.conn, "QUAY-2")
        assert last is not None
        return last.seq


def _key(letter: bytes) -> Ed25519PrivateKey:
    return Ed25519PrivateKey.from_private_bytes(letter * 32)


@pytest.fixture(name="tiny")
def _tiny() -> type[Tiny]:
    return Tiny


@pytest.fixture(name="now")
def _now() -> Moment:
    return moment()


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run whatever stands on a place for a record on both engines, but what is about a file."""
    if "place" in metafunc.fixturenames:
        engines: list[Any] = ["file"]
        if not metafunc.definition.get_closest_marker("file"):
            engines.append(pytest.param("server", marks=server.needed()))
        metafunc.parametrize("place", engines, indirect=True)


@pytest.fixture(name="place")
def _place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Location]:
    """Where a record may be founded: a file, or a schema of a server."""
    if request.param == "file":
        yield tmp_path / "station.db"
        return
    with server.a_schema() as place:
        yield place


@pytest.fixture(name="book")
def _book(place: Location, tmp_path: Path) -> Iterator[Book]:
    book = Book(place)
    book.record.beside = tmp_path / "station.db"
    yield book
    book.record.close()
