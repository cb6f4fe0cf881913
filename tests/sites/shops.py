"""A shop of several stations for the tests: an office, and sites on their own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from blender.record import parcel, read, shop
from blender.record.journal import Record
from blender.record.keys import StationKeys, key_path
from blender.record.models import ExceptionRow
from blender.record.server import Location
from blender.station import people, sites
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.station.site_answer import make_answer
from blender.station.site_news import receive
from blender.station.site_taking import take_from, take_parcel
from tests.station.shop import CHEAP, SECRET, Clock

MANAGER = "Mara Linde"


@dataclass
class Site:
    """A station with its manager signed in."""

    station: Station
    mara: Actor
    clock: Clock
    place: Any

    @classmethod
    def found(cls, folder: Path, ident: str, name: str = "", place: Location | None = None) -> Site:
        folder.mkdir(exist_ok=True)
        path, clock = folder / "station.db", Clock()
        keys = StationKeys.create(key_path(path))
        record = people.found(
            place or path, keys, clock(), ident=ident, name=name or f"{ident} Gas",
            manager=MANAGER, secret=SECRET, cost=CHEAP,
        )  # fmt: skip
        record.beside = path
        station = Station(record, keys, clock)
        return cls(station, station.sign_in(MANAGER, SECRET), clock, place or path)

    @classmethod
    def open(cls, path: Path, clock: Clock | None = None) -> Site:
        keys, clock = StationKeys.load(key_path(path)), clock or Clock()
        station = Station(Record.open(path), keys, clock)
        return cls(station, station.sign_in(MANAGER, SECRET), clock, path)

    @property
    def record(self) -> Record:
        return self.station.record

    @property
    def ident(self) -> str:
        return self.record.station

    @property
    def key(self) -> str:
        return self.station.keys.public.hex()

    def work(self, count: int = 1) -> None:
        """Enter something, as much of it as asked; nobody signs."""
        with self.record.write() as unit:
            for _ in range(count):
                number = unit.last.seq if unit.last else self.record.head().seq
                unit.append("note", {"text": f"after {number}"}, at=self.clock())

    def send(self, after: int | None = None) -> bytes:
        header, rows = sites.pack(self.record, self.station.keys, self.clock(), after)
        return b"".join(parcel.spell(header, rows, self.station.keys))

    def exceptions(self, kind: str) -> list[str]:
        with self.record.read() as conn:
            return [row.text for row in read.equal(conn, ExceptionRow, {"kind": kind}, ("seq",))]

    def knows(self, ident: str) -> Any:
        with self.record.read() as conn:
            return shop.site(conn, ident)

    def close(self) -> None:
        self.record.close()


def introduce(office: Site, *others: Site, at: bool = False) -> None:
    """Have the office know the sites, and them the office, by the keys read off their screens."""
    for one in others:
        place = str(one.place) if at else ""
        sites.add_site(office.station, office.mara, site=one.ident, name=f"{one.ident} Gas",
                       key=one.key, place=place)  # fmt: skip
        sites.name_office(one.station, one.mara, office=office.ident, name="Head Office",
                          key=office.key)  # fmt: skip


def take(office: Site, content: bytes) -> dict[str, Any]:
    return take_parcel(office.station, content)


def take_at(office: Site, site: Site) -> dict[str, Any]:
    return take_from(office.station, str(site.place))


def exchange(office: Site, *others: Site) -> bytes:
    """All of it once: every site's entries up, and the office's answer down."""
    for one in others:
        take_at(office, one)
    answer, _ = make_answer(office.station)
    for one in others:
        receive(one.station, answer)
    return answer
