"""The year from its first morning to its last evening, day by day."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from blender.record.keys import StationKeys, key_path
from blender.station import amending, people
from blender.station import day as days
from blender.station.desk import Station
from blender.station.equipment import add_cylinder
from demo.clock import Clock
from demo.station import IDENT, MANAGER, NAME, STAFF
from demo.walk import CHEAP, DATABASE, clear
from demo.world import Cell, World
from demo.year.customers import Diver, divers
from demo.year.one_fill import Shed
from demo.year.plant import equip, morning, night, weekly
from demo.year.shift import Shift
from demo.year.troubles import AGEING, DAYS, FIRST_DAY, METERS, Troubles

SEED = 4711
FILLS = 1000
_DAY_MIN = 1440.0
_OPENS_MIN, _CLOSES_MIN = 8 * 60.0, 19 * 60.0
_AMENDED_EVERY, _VOIDED_EVERY = 211, 397
Told = Callable[[int], None]


@dataclass(frozen=True, slots=True)
class Year:
    """What a year left: where its record is, its days, and how often what happened."""

    folder: Path
    database: str
    first_day: str
    last_day: str
    ended_us: int
    offset_min: int
    fills: int
    counted: dict[str, int]


def year(folder: Path, fills: int = FILLS, seed: int = SEED, told: Told = lambda _: None) -> Year:
    """Make the invented station in a folder and let it work for a year.

    Every act is what a terminal calls, in a transaction of its own.  Nobody relies on an invented
    fill, so the record waits for the disk once, at the end, where a station's own waits after
    every act; a power cut before that leaves nothing of use.

    Parameters
    ----------
    folder : Path
        Empty, new, or left by an earlier demonstration.
    fills : int
        How many, spread over the year as the season goes.
    seed : int
        Of all that is left to chance; the same seed makes the same year.
    told : callable
        Told now and then how many fills are done.

    Raises
    ------
    InputError
        If the folder holds anything that no earlier demonstration made.
    """
    clear(folder)
    shed, troubles = _founded(folder / DATABASE, seed), Troubles()
    try:
        known = _people(shed, seed, max(12, min(90, fills // 8)))
        equip(shed)
        done = 0
        for day, count in enumerate(spread(fills)):
            done = _day(shed, troubles, day, count, known, done)
            told(done)
    finally:
        shed.station.record.close()
    end, first = shed.clock(), date(*FIRST_DAY)
    return Year(
        folder, str(folder / DATABASE), first.isoformat(),
        (first + timedelta(days=DAYS - 1)).isoformat(), end.us, end.offset_min, done, shed.counted,
    )  # fmt: skip


def spread(fills: int) -> list[int]:
    """Return how many fills each day of the year has: few in winter, many at weekends."""
    weights = [
        (1.0 - 0.7 * math.cos(2.0 * math.pi * (day + 50) / DAYS)) * (2.5 if day % 7 > 4 else 1.0)
        for day in range(DAYS)
    ]
    total, counts, owed = sum(weights), [], 0.0
    for weight in weights:
        owed += fills * weight / total
        counts.append(round(owed))
        owed -= counts[-1]
    return counts


def _day(
    shed: Shed, troubles: Troubles, day: int, count: int, known: list[Diver], done: int
) -> int:
    """Work one day, and return how many fills there are now."""
    shed.clock.until(day * _DAY_MIN + _OPENS_MIN)
    shed.oxygen_gauge = troubles.oxygen_gauge(day)
    shed.world.cells[AGEING].meter = troubles.ageing(
        next(one for one in METERS if one.name == AGEING), day
    )
    if not count and day % 7:
        night(shed, troubles, day)
        return done
    morning(shed, day)
    done = _filled(shed, day, count, known, done)
    night(shed, troubles, day)
    if day % 7 == 0:
        weekly(shed, day)
    shed.clock.until(day * _DAY_MIN + _CLOSES_MIN)
    days.close_day(shed.station, shed.blenders[0])
    return done


def _filled(shed: Shed, day: int, count: int, known: list[Diver], done: int) -> int:
    """Fill what comes in on a day, and return how many fills there are now."""
    pause = (_CLOSES_MIN - _OPENS_MIN - 60.0) / max(count, 1)
    ended = itertools.count(done + 1)
    shift = Shift(
        shed, known, lambda number, diver: _mended(shed, number, known, diver, next(ended))
    )
    for place in range(count):
        shift.begin(place, day * _DAY_MIN + _OPENS_MIN + 30.0 + place * pause)
    shift.finish()
    return done + count


def _mended(shed: Shed, number: int, known: list[Diver], whose: Diver, done: int) -> None:
    """Now and then somebody was taken for somebody else, or a fill was entered twice."""
    if done % _AMENDED_EVERY == 0:
        other = shed.world.chance.choice([one for one in known if one is not whose])
        amending.amend(
            shed.station, shed.manager, number, field="customer", to=other.name,
            reason="the wrong name was picked at the counter",
        )  # fmt: skip
        shed.count("amended")
    if done % _VOIDED_EVERY == 0:
        amending.void(shed.station, shed.manager, number, reason="entered twice")
        shed.count("voided")


def _founded(database: Path, seed: int) -> Shed:
    clock = Clock(_OPENS_MIN - 60.0, FIRST_DAY)
    keys = StationKeys.create(key_path(database))
    record = people.found(
        str(database), keys, clock(), ident=IDENT, name=NAME, manager=MANAGER.name,
        secret=MANAGER.secret, cost=CHEAP, draft=True,
    )  # fmt: skip
    station = Station(record, keys, clock)
    world = World(random.Random(seed))
    world.cells = {meter.name: Cell(meter) for meter in METERS}
    manager = station.sign_in(MANAGER.name, MANAGER.secret)
    blenders = []
    for person in (one for one in STAFF if one is not MANAGER):
        people.add_person(
            station, manager, name=person.name, role=person.role, secret=person.secret, cost=CHEAP
        )
        blenders.append(station.sign_in(person.name, person.secret))
    return Shed(station, world, clock, manager, blenders, Troubles().oxygen_gauge(0))


def _people(shed: Shed, seed: int, count: int) -> list[Diver]:
    known = divers(random.Random(seed), count)
    for one in known:
        people.add_person(
            shed.station, shed.manager, name=one.name, role="customer", certified=one.certified
        )
        add_cylinder(
            shed.station, shed.manager, serial=one.serial, size=one.size, wp="232bar",
            tp="348bar", tested="2024-10", inspected="2025-03", clean="yes",
        )  # fmt: skip
    return known
