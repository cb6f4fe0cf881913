"""A small invented station for the tests of the use cases: people, cylinders, a clock to turn."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection

from blender.planning.options import Options
from blender.record import read, wrapping
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.keys import Cost, StationKeys, key_path
from blender.record.models import ExceptionRow, FillRow, StepRow
from blender.record.moment import Moment
from blender.record.project import TABLES
from blender.record.server import Location
from blender.station import (
    amending,
    analysing,
    ending,
    equipment,
    filling,
    handover,
    people,
    planning,
    requesting,
)
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.desk import Station

CHEAP = Cost(passes=1, memory_kib=8, lanes=1)
SECRET = "low tide at noon"
START_US = 1_795_600_800_000_000  # 2026-11-25 10:00 UTC
NAMES = {"manager": "Mara Linde", "blender": "Jo Blend", "auditor": "Ada Pruef"}
LITRES = {"C-1001": 12.0, "C-1002": 12.0, "C-1003": 12.0, "T-1+T-2": 24.0, "D-7": 7.0}


class Clock:
    """A clock that only moves when a test turns it."""

    def __init__(self) -> None:
        self.us = START_US
        self.offset_min = 60

    def __call__(self) -> Moment:
        self.us += 1000
        return Moment(self.us, self.offset_min)

    def turn(self, minutes: float) -> None:
        self.us += round(minutes * 60_000_000)


def cheap_secrets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make a guess at a secret cheap; what it costs at a station is tests/record's to check."""
    lock = people.wrap_key
    monkeypatch.setattr(people, "wrap_key", lambda key, new, own, _: lock(key, new, own, CHEAP))
    monkeypatch.setattr(wrapping, "DEFAULT_COST", CHEAP)  # of a name nobody has


def found(folder: Path, place: Location | None = None) -> None:
    """Found the station that every test starts from a copy of, in a folder or elsewhere."""
    path, clock = folder / "station.db", Clock()
    keys = StationKeys.create(key_path(path))
    record = people.found(
        place or path,
        keys,
        clock(),
        ident="QUAY-1",
        name="Quayside Gas",
        manager=NAMES["manager"],
        secret=SECRET,
        cost=CHEAP,
    )
    with record:
        station = Station(record, keys, clock)
        mara = station.sign_in(NAMES["manager"], SECRET)
        _people(station, mara)
        _equipment(station, mara)


def _people(station: Station, mara: Actor) -> None:
    for role in ("blender", "auditor"):
        people.add_person(station, mara, name=NAMES[role], role=role, secret=SECRET, cost=CHEAP)
    for name, level in (
        ("Kai Diver", "nitrox"),
        ("Lena Tief", "trimix"),
        ("Otto Luft", "air"),
        ("Uma Neu", ""),
    ):
        people.add_person(station, mara, name=name, role="customer", certified=level)


def _equipment(station: Station, mara: Actor) -> None:
    for serial, size, clean in (
        ("C-1001", "12L", "yes"),
        ("C-1002", "12L", "no"),
        ("C-1003", "12L", "yes"),
        ("T-1+T-2", "2x12L", "yes"),
        ("D-7", "7L", "yes"),
    ):
        equipment.add_cylinder(
            station,
            mara,
            serial=serial,
            size=size,
            wp="232bar",
            tp="348bar",
            tested="2025-03",
            inspected="2026-02",
            clean=clean,
        )
    for name in ("A1", "A2"):
        equipment.add_analyser(station, mara, name=name)
        equipment.calibrate(station, mara, name=name, gas="air", reading="20.9")


def copied(founded: Path, folder: Path) -> Path:
    """Copy a station that was founded once, with its keys; return the record's path."""
    for name in ("station.db", "station.keys"):
        shutil.copy2(founded / name, folder / name)
    return folder / "station.db"


@dataclass
class Shop:
    """The station at work; each act is Jo's unless another is named."""

    station: Station
    clock: Clock
    mara: Actor
    jo: Actor
    ada: Actor
    path: Any  # a file, or a place on a server

    @classmethod
    def open(cls, path: Location, keys: Path | None = None) -> Shop:
        clock = Clock()
        clock.turn(60)  # it was founded an hour ago
        beside = keys or key_path(str(path))
        station = Station(Record.open(path), StationKeys.load(beside), clock)
        actors = {role: station.sign_in(name, SECRET) for role, name in NAMES.items()}
        return cls(station, clock, actors["manager"], actors["blender"], actors["auditor"], path)

    # -- acts --------------------------------------------------------------------------

    def request(self, by: Actor | None = None, **facts: str) -> int:
        usual = {
            "cylinder": "C-1001",
            "customer": "Kai Diver",
            "have": "60bar@20C:EAN28",
            "residual": "analysed",
            "want": "230bar:EAN32",
        }
        answer = requesting.request(self.station, by or self.jo, **(usual | facts))
        assert answer.done
        return answer.fill

    def plan(self, fill: int, by: Actor | None = None, **options: Any) -> Answer:
        return planning.plan(self.station, by or self.jo, fill, Options(**options))

    def start(
        self, fill: int, serial: str = "C-1001", by: Actor | None = None, isolator: str = ""
    ) -> Answer:
        return filling.start(self.station, by or self.jo, fill, serial=serial, isolator=isolator)

    def reading(
        self,
        fill: int,
        at: str,
        temperature: str = "20C",
        kind: str = "gas",
        by: Actor | None = None,
        gauge: str = "",
    ) -> Answer:
        return filling.reading(
            self.station,
            by or self.jo,
            fill,
            at=at,
            temperature=temperature,
            kind=kind,
            gauge=gauge,
        )

    def hold(self, fill: int, reason: str = "power cut", by: Actor | None = None) -> Answer:
        return filling.hold(self.station, by or self.jo, fill, reason=reason)

    def resume(
        self,
        fill: int,
        at: str,
        temperature: str = "20C",
        serial: str = "C-1001",
        by: Actor | None = None,
    ) -> Answer:
        return filling.resume(
            self.station, by or self.jo, fill, serial=serial, at=at, temperature=temperature
        )

    def analyse(
        self,
        fill: int,
        reading: str,
        helium: str | None = None,
        serial: str = "C-1001",
        analyser: str = "A1",
        by: Actor | None = None,
        ambient: str | None = None,
    ) -> Answer:
        return analysing.analyse(
            self.station,
            by or self.jo,
            fill,
            serial=serial,
            analyser=analyser,
            reading=reading,
            helium=helium,
            ambient=ambient,
        )

    def accept(
        self,
        fill: int,
        reading: str,
        helium: str | None = None,
        name: str = "Kai Diver",
        by: Actor | None = None,
    ) -> Answer:
        return handover.accept(
            self.station, by or self.jo, fill, name=name, reading=reading, helium=helium
        )

    def collect(
        self, fill: int, label: str, serial: str = "C-1001", by: Actor | None = None
    ) -> Answer:
        return handover.collect(self.station, by or self.jo, fill, serial=serial, label=label)

    def reject(self, fill: int, reason: str = "found rusty", by: Actor | None = None) -> Answer:
        return ending.reject(self.station, by or self.jo, fill, reason=reason)

    def quarantine(self, fill: int, reason: str = "found warm", by: Actor | None = None) -> Answer:
        return ending.quarantine(self.station, by or self.jo, fill, reason=reason)

    def release(self, fill: int, reason: str = "looked inside", by: Actor | None = None) -> Answer:
        return ending.release(self.station, by or self.mara, fill, reason=reason)

    def amend(
        self,
        fill: int,
        field: str = "customer",
        to: str = "Lena Tief",
        reason: str = "wrong card on the counter",
        by: Actor | None = None,
        post: str = "",
    ) -> Answer:
        return amending.amend(
            self.station, by or self.mara, fill, field=field, to=to, reason=reason, post=post
        )

    def void(self, fill: int, reason: str = "entered twice", by: Actor | None = None) -> Answer:
        return amending.void(self.station, by or self.mara, fill, reason=reason)

    # -- whole stretches of a fill's life ----------------------------------------------

    def filling(self, **facts: str) -> int:
        fill = self.request(**facts)
        assert self.plan(fill).done
        assert self.start(fill, facts.get("cylinder", "C-1001")).done
        return fill

    def rested(self, **facts: str) -> int:
        """Take the first scenario's fill to the analyser."""
        fill = self.filling(**facts)
        assert self.reading(fill, "84.425bar").facts["closes"]
        assert self.reading(fill, "230bar").state == "resting"
        return fill

    def analysed(self, reading: str = "32.1", **facts: str) -> int:
        fill = self.rested(**facts)
        serial = facts.get("cylinder", "C-1001")
        assert self.analyse(fill, reading, serial=serial).state == "analysed"
        return fill

    def accepted(self, **facts: str) -> tuple[int, str]:
        """Take it to the label; return the fill and the text of its QR code."""
        fill = self.analysed(**facts)
        answer = self.accept(fill, "31.8")
        assert answer.state == "accepted"
        return fill, str(answer.facts["anchor"])

    # -- what the record says ----------------------------------------------------------

    def row(self, fill: int) -> FillRow:
        with self.station.record.read() as conn:
            return read.fill(conn, fill)

    def steps(self, fill: int) -> list[StepRow]:
        with self.station.record.read() as conn:
            return read.steps(conn, fill)

    def exceptions(self, fill: int) -> list[ExceptionRow]:
        with self.station.record.read() as conn:
            return read.exceptions(conn, fill)

    def entries(self) -> list[Entry]:
        with self.station.record.read() as conn:
            return list(read.entries(conn, "QUAY-1"))

    def entries_from(self, after: int) -> list[Entry]:
        with self.station.record.read() as conn:
            found = (read.entry(conn, "QUAY-1", seq) for seq in range(after + 1, self.seq() + 1))
            return [entry for entry in found if entry is not None]

    def seq(self) -> int:
        return self.station.record.head().seq

    def last(self) -> Entry:
        with self.station.record.read() as conn:
            found = read.entry(conn, "QUAY-1", self.seq())
        assert found is not None
        return found

    def last_plan(self, fill: int) -> list[dict[str, Any]]:
        """The steps of a fill's plan as they were entered."""
        with self.station.record.read() as conn:
            entries = read.entries_of_fill(conn, "QUAY-1", fill)
        return [e.data["steps"] for e in entries if e.kind == "fill.planned"][-1]

    def moles(self, fill: int) -> list[float]:
        """Amounts in the cylinder by the record: O2, He, N2, Ar."""
        return [amount / 1e6 for amount in json.loads(self.row(fill).contents_umol)]

    def tables(self) -> dict[str, list[tuple[Any, ...]]]:
        """Every row of every read model."""
        with self.station.record.read() as conn:
            return dump(conn)


def dump(conn: Connection) -> dict[str, list[tuple[Any, ...]]]:
    return {
        table.name: sorted(tuple(row) for row in conn.execute(table.select())) for table in TABLES
    }


def gate(answer: Answer, name: str) -> tuple[str, str]:
    """What one gate answered, and why."""
    found = {g.gate: (g.answer, g.reason) for g in answer.gates}
    return found[name]
