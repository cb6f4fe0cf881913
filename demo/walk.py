"""The demonstration from nothing to its papers: a folder, a station, a day, and a verdict."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from blender.errors import FillwrightError, InputError
from blender.record.journal import Record
from blender.record.keys import Cost, StationKeys, key_path
from blender.record.verify import Report, verify
from blender.station import book, people
from blender.station.desk import Station
from demo.account import Account
from demo.clock import Clock, minute_of
from demo.hands import Day
from demo.hours import closing, foreword, opening, run
from demo.papers import PATTERNS, Papers
from demo.station import IDENT, MANAGER, METERS, NAME, SEED, STAFF
from demo.world import Cell, World

# A secret that is printed below the account needs no slow lock: here guessing is free anyway.
# Real stations get the default cost; this one only saves the reader some seconds.
CHEAP = Cost(passes=1, memory_kib=64, lanes=1)
DATABASE = "station.db"
_BESIDE = ("station.db-journal", "station.db-wal", "station.db-shm")


@dataclass(frozen=True, slots=True)
class Walk:
    """What a walk through the day left.

    Parameters
    ----------
    folder : Path
        Where it all is.
    account : list of str
        The story; the same seed tells the same one.
    files : list of str
        Every file made.
    fills : list of dict
        The fills as the book lists them.
    anchor : str
        The line of the fill log's QR code.
    report : Report
        What verifying the record found.
    """

    folder: Path
    account: list[str]
    files: list[str]
    fills: list[dict[str, Any]]
    anchor: str
    report: Report
    secrets: dict[str, str] = field(default_factory=dict)

    @property
    def database(self) -> str:
        """Where the record is."""
        return str(self.folder / DATABASE)


def walk(folder: Path, seed: int = SEED) -> Walk:
    """Make the invented station in a folder and walk it through its day.

    Raises
    ------
    InputError
        If the folder holds anything that no earlier demonstration made.
    """
    clear(folder)
    database = folder / DATABASE
    day = _founded(database, folder, seed)
    try:
        foreword(day)
        opening(day)
        run(day)
        anchor = closing(day)
        fills = book.fills(day.station.record)["fills"]
    finally:
        day.station.record.close()
    files = [str(database), str(key_path(database)), *day.papers.files]
    report = verify(database, anchor)
    secrets = {person.name: person.secret for person in STAFF}
    return Walk(folder, day.account.lines(), files, fills, anchor, report, secrets)


def clear(folder: Path) -> None:
    """Make the folder, or take away what an earlier demonstration left in it."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if not any(folder.iterdir()):
            return
        _refuse_foreign(folder)
        for pattern in PATTERNS:
            for paper in folder.glob(pattern):
                paper.unlink()
        database = folder / DATABASE
        for path in (*(folder / name for name in _BESIDE), key_path(database), database):
            path.unlink(missing_ok=True)
    except OSError as error:
        raise InputError("--out", folder, f"it cannot be used: {error.strerror}") from None


def _refuse_foreign(folder: Path) -> None:
    """Refuse a folder whose station is not this demonstration's own."""
    try:
        with Record.open(folder / DATABASE, readonly=True, check=False) as record:
            found = record.station
    except FillwrightError:
        found = ""
    if found != IDENT:
        allowed = (
            "it holds what no demonstration made; give an empty folder, a new one, or one that "
            "an earlier demonstration left"
        )
        raise InputError("--out", folder, allowed)


def _founded(database: Path, folder: Path, seed: int) -> Day:
    """Found the station with its staff, and sign everybody in."""
    clock = Clock(minute_of("07:10"))
    keys = StationKeys.create(key_path(database))
    record = people.found(
        str(database),
        keys,
        clock(),
        ident=IDENT,
        name=NAME,
        manager=MANAGER.name,
        secret=MANAGER.secret,
        cost=CHEAP,
    )
    station = Station(record, keys, clock)
    world = World(random.Random(seed))
    world.cells = {meter.name: Cell(meter) for meter in METERS}
    day = Day(station, world, clock, Account(), Papers(folder))
    try:
        _sign_in(day)
    except BaseException:
        record.close()
        raise
    return day


def _sign_in(day: Day) -> None:
    manager = day.station.sign_in(MANAGER.name, MANAGER.secret)
    for person in STAFF:
        if person is not MANAGER:
            people.add_person(
                day.station,
                manager,
                name=person.name,
                role=person.role,
                secret=person.secret,
                cost=CHEAP,
            )
        day.staff[person.name] = day.station.sign_in(person.name, person.secret)
