"""The tables that can be taken over: their columns, how a row is understood and entered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from functools import partial
from typing import Any

from sqlalchemy import Connection, select

from blender.errors import InputError
from blender.gas import Mix, parse_gas
from blender.planning.request import parse_want
from blender.record import read
from blender.record.models import FillRow
from blender.record.moment import Moment
from blender.record.projection import table
from blender.record.text import clean_text
from blender.station.contents import as_umol
from blender.station.csv_rows import Bad, Row
from blender.station.desk import Act
from blender.station.equipment import check_stamps, cylinder_field, serial_of
from blender.station.numbers import mbar, millikelvin, ppm
from blender.station.people import CERTIFIED, enter_customer
from blender.station.privacy import keep_phone, phone_number
from blender.units import parse_gauge_pressure, parse_percent
from blender.vessel import contents_at

# Further apart than this nobody handed a cylinder out under that name; own choice [points].
_MOST_APART = 3.0
_SETTLED_C = 20.0  # of an earlier book's pressures nobody knows the temperature

Facts = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: whether it must be there, and what stands in it."""

    needed: bool
    says: str


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of table: how a row is understood, and how it is entered."""

    columns: Mapping[str, Column]
    check: Callable[[Connection, Moment, Sequence[Row], list[Bad]], list[Facts]]
    enter: Callable[[Act, Facts, Facts], object]


class _Cells:
    """Understands the cells of a row, each by itself, so that every bad one is named."""

    def __init__(self, row: Row, bad: list[Bad]) -> None:
        self.row, self._bad, self.sound = row, bad, True

    def take(self, column: str, how: Callable[[str], Any], default: Any = None) -> Any:
        """Return what a cell says; `default` where it is empty and may be."""
        given = self.row.cells.get(column, "")
        if not given and default is not None:
            return default
        try:
            return how(given)
        except InputError as error:
            self.refuse(column, given, error.allowed)
            return None

    def refuse(self, column: str, given: str, allowed: str) -> None:
        self.sound = False
        self._bad.append(Bad(self.row.line, column, given[:200], allowed))


# -- cylinders -------------------------------------------------------------------------


_CYLINDER = {
    "serial": Column(True, "as stamped; both of a set joined by +"),
    "size": Column(True, "12L, 2x12L or 80cuft@3000psi"),
    "wp": Column(True, "working pressure with its unit, 232bar"),
    "tp": Column(True, "test pressure, 348bar"),
    "tested": Column(True, "last periodic test, 2025-03"),
    "inspected": Column(True, "last visual inspection, 2026-02"),
    "clean": Column(True, "yes if in oxygen service, else no"),
}


def _check_cylinders(
    conn: Connection,
    _now: Moment,
    rows: Sequence[Row],
    bad: list[Bad],
) -> list[Facts]:
    found: list[Facts] = []
    seen: dict[str, int] = {}
    for row in rows:
        cells, data = _Cells(row, bad), dict[str, Any]()
        for column in _CYLINDER:
            data |= cells.take(column, partial(cylinder_field, column)) or {}
        serial = str(data.get("serial", ""))
        if serial in seen:
            cells.refuse("serial", serial, f"line {seen[serial]} has it already")
        elif serial and read.has_cylinder(conn, serial):
            cells.refuse("serial", serial, "this serial is in the record already: take the row out")
        seen.setdefault(serial, row.line)
        if cells.sound:
            try:
                check_stamps(data)
            except InputError as error:
                cells.refuse(error.field.removeprefix("--"), str(error.given), error.allowed)
        found.append({**data, "line": row.line})
    return found


def _enter_cylinder(act: Act, facts: Facts, source: Facts) -> None:
    act.enter("cylinder.added", {**facts, **source}, "cylinder taken over")


# -- customers -------------------------------------------------------------------------


_CUSTOMER = {
    "name": Column(True, "as they are called and sign"),
    "certified": Column(False, "air, nitrox or trimix; empty if no card was seen"),
    "phone": Column(False, "where they are called if gas must be recalled"),
}


def _check_customers(
    conn: Connection,
    _now: Moment,
    rows: Sequence[Row],
    bad: list[Bad],
) -> list[Facts]:
    known = {row.name for row in read.people(conn) if row.role == "customer" and row.name}
    found: list[Facts] = []
    seen: dict[str, int] = {}
    for row in rows:
        cells = _Cells(row, bad)
        name = cells.take("name", lambda text: clean_text(" ".join(text.split()), "name")) or ""
        certified = cells.take("certified", _certified, "")
        phone = cells.take("phone", lambda text: phone_number(text, "phone"), "")
        if name in seen:
            cells.refuse("name", name, f"line {seen[name]} has it already; tell them apart")
        elif name in known:
            cells.refuse("name", name, "a customer is called so already: tell them apart, or take "
                         "the row out")  # fmt: skip
        if name:
            seen.setdefault(name, row.line)
        found.append({"name": name, "certified": certified, "phone": phone, "line": row.line})
    return found


def _certified(text: str) -> str:
    if text not in CERTIFIED:
        raise InputError("certified", repr(text), f"allowed are {', '.join(CERTIFIED)}, or nothing")
    return text


def _enter_customer(act: Act, facts: Facts, source: Facts) -> None:
    person = enter_customer(act, facts["name"], facts["certified"], **source)
    if facts["phone"]:
        keep_phone(act, person, facts["phone"])


# -- fills -----------------------------------------------------------------------------


_FILL = {
    "date": Column(True, "2024-05-03, or 2024-05-03 14:30"),
    "cylinder": Column(True, "a serial that is in the record"),
    "customer": Column(True, "a name or id that is in the record"),
    "gas": Column(True, "what it was said to hold: air, EAN32, 18/45"),
    "pressure": Column(True, "with its unit, 220bar"),
    "o2": Column(False, "percent of oxygen the earlier book has as read, 32.1"),
    "he": Column(False, "percent of helium it has as read"),
}


def _check_fills(conn: Connection, now: Moment, rows: Sequence[Row], bad: list[Bad]) -> list[Facts]:
    kept = _kept(conn)
    return [_check_fill(conn, now, _Cells(row, bad), kept) for row in rows]


def _check_fill(
    conn: Connection, now: Moment, cells: _Cells, kept: dict[tuple[str, int], str]
) -> Facts:
    """Return what a row says of a fill; of one that was refused, nothing but its line."""
    line: Facts = {"line": cells.row.line}
    filled_us = cells.take("date", lambda text: _date_us(text, now))
    vessel = cells.take("cylinder", lambda text: read.cylinder(conn, serial_of(text)))
    person = cells.take("customer", lambda text: read.customer(conn, text, "customer"))
    gas = _check_gas(cells)
    if not cells.sound:
        return line
    _refuse_twice(cells, kept, (vessel.serial, filled_us))
    inside = contents_at(gas.mix, gas.gauge_bar, _SETTLED_C, vessel.size_ml / 1e6)
    who = {"serial": vessel.serial, "customer": person.person, "contents_umol": as_umol(inside)}
    when = {
        "filled_us": filled_us,
        "filled_offset_min": now.offset_min,
        "date_typed": cells.row.cells["date"],
    }
    facts: Facts = gas.facts()
    return line | who | when | facts


@dataclass(frozen=True, slots=True)
class _Gas:
    """What a row says was in the cylinder, and what the earlier book has as read [%]."""

    typed: str
    mix: Mix
    gauge_bar: float
    o2: float
    he: float

    def facts(self) -> Facts:
        return {
            "want_typed": self.typed,
            "want_mbar": mbar(self.gauge_bar),
            "want_o2_ppm": ppm(self.mix.o2),
            "want_he_ppm": ppm(self.mix.he),
            "temp_mk": millikelvin(_SETTLED_C),
            "read": {"o2_ppm": _percent_ppm(self.o2), "he_ppm": _percent_ppm(self.he)},
        }


def _check_gas(cells: _Cells) -> Any:
    """Return a row's gas; None with its cells refused where it cannot be."""
    gas = cells.take("gas", lambda text: parse_gas(text, "gas"))
    gauge = cells.take("pressure", lambda text: parse_gauge_pressure(text, "pressure"))
    o2 = cells.take("o2", lambda text: parse_percent(text, "o2"), -1.0)
    he = cells.take("he", lambda text: parse_percent(text, "he"), -1.0)
    if not cells.sound:
        return None
    _agree(cells, "o2", "oxygen", gas.o2 * 100.0, o2)
    _agree(cells, "he", "helium", gas.he * 100.0, he)
    typed = f"{cells.row.cells['pressure']}:{cells.row.cells['gas']}"
    cells.take("gas", lambda _: parse_want(typed, "gas"))
    return _Gas(typed, gas, gauge, o2, he)


def _refuse_twice(cells: _Cells, kept: dict[tuple[str, int], str], key: tuple[str, int]) -> None:
    """Refuse a second fill of a cylinder at one time; note a first."""
    if key in kept:
        told = f"{kept[key]} has that cylinder then already"
        cells.refuse("date", cells.row.cells["date"], told)
    kept.setdefault(key, f"line {cells.row.line}")


def _agree(cells: _Cells, column: str, what: str, named: float, read_as: float) -> None:
    """Refuse a reading that cannot be of the gas the row names, both in percent."""
    if read_as < 0.0 or abs(read_as - named) <= _MOST_APART + 1e-9:
        return
    given, gas = cells.row.cells[column], cells.row.cells["gas"]
    told = (
        f"{gas} has {named:.1f} % {what}, more than {_MOST_APART:g} points off: put right the one "
        f"that is wrong (percent, not a fraction), or leave {column} empty"
    )
    cells.refuse(column, given, told)


def _kept(conn: Connection) -> dict[tuple[str, int], str]:
    """Return the fills that were taken over before, by cylinder and time."""
    columns = table(FillRow).c
    query = select(columns.fill, columns.serial, columns.requested_us)
    rows = conn.execute(query.where(columns.state == "imported"))
    return {(row.serial, row.requested_us): f"fill {row.fill}" for row in rows}


def _percent_ppm(percent: float) -> int:
    return round(percent * 1e4) if percent >= 0.0 else -1


def _date_us(text: str, now: Moment) -> int:
    """Return a day, at noon, or a time of the station's zone as it is now [us UTC]."""
    try:
        local = datetime.fromisoformat(text.replace(" ", "T"))
    except ValueError:
        local = datetime.min  # noqa: DTZ901 - never used: it is refused below
    if local.tzinfo is not None or local.year < 1900 or len(text) not in (10, 16):
        told = "write a day as 2024-05-03, or with the time as 2024-05-03 14:30"
        raise InputError("date", repr(text), told)
    if len(text) == 10:
        local = local.replace(hour=12)
    zone = timezone(timedelta(minutes=now.offset_min))
    us = int(local.replace(tzinfo=zone).timestamp()) * 1_000_000
    if us > now.us:
        raise InputError("date", repr(text), "it lies ahead; an earlier book holds what is past")
    return us


def _enter_fill(act: Act, facts: Facts, source: Facts) -> None:
    number = read.next_fill_number(act.conn)
    said = facts["read"]
    had = f", read as O2 {said['o2_ppm'] / 1e4:.1f} %" if said["o2_ppm"] >= 0 else ""
    note = f"line {source['line']} of the table of entry {source['import']}{had}"
    data = {**facts, **source, "fill": number, "note": note}
    act.enter("fill.imported", data, "taken over from an earlier book")


KINDS: dict[str, Kind] = {
    "cylinders": Kind(_CYLINDER, _check_cylinders, _enter_cylinder),
    "customers": Kind(_CUSTOMER, _check_customers, _enter_customer),
    "fills": Kind(_FILL, _check_fills, _enter_fill),
}
