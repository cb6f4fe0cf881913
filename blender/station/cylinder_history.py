"""A cylinder's history: its marking and what changed of it, and every fill on record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from blender.gas import mix, name_of
from blender.record import read, search
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import ExceptionRow, FillRow, ReadingRow
from blender.record.moment import Moment
from blender.record.unit import last_entry
from blender.station.marks import is_mark, marks
from blender.station.numbers import bar, fraction
from blender.station.states import do_not_breathe
from blender.station.views import Proof, Stamp

_CALLED = {
    "size_typed": "size",
    "wp_mbar": "working pressure",
    "tp_mbar": "test pressure",
    "tested": "periodic test",
    "inspected": "visual inspection",
    "clean": "oxygen clean",
}


@dataclass(frozen=True, slots=True)
class Change:
    """Something that was entered about the cylinder itself, and the figures in its text."""

    at: Stamp
    text: str
    by: str
    seq: int
    pressures_bar: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class PastFill:
    """One fill of it; `remarks` are its exceptions and what became of its entries."""

    fill: int
    day: str
    gas: str
    state: str
    customer: str
    unsafe: bool
    remarks: tuple[str, ...]
    pressures_bar: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class CylinderHistory:
    """Everything the record has of one cylinder.

    The pressures are those its texts were rounded from; `imperial`: whether it is told in psi.
    """

    station_name: str
    serial: str
    marking: str
    changes: tuple[Change, ...]
    fills: tuple[PastFill, ...]
    printed_at: Stamp
    proof: Proof
    pressures_bar: tuple[float, ...] = ()
    imperial: bool = False


def cylinder_history(record: Record, serial: str, now: Moment) -> CylinderHistory:
    """Return a cylinder's history, oldest first.

    Raises
    ------
    InputError
        If there is no such cylinder.
    """
    with record.read() as conn:
        row, station = read.cylinder(conn, serial), read.station(conn)
        clean = "oxygen clean" if row.clean else "NOT oxygen clean"
        rated = f"working pressure {bar(row.wp_mbar):g} bar, test pressure {bar(row.tp_mbar):g} bar"
        dates = f"tested {row.tested}, inspected {row.inspected}"
        last = last_entry(conn, record.station)
        assert last is not None
        return CylinderHistory(
            station_name=station.name if station else "",
            serial=row.serial,
            marking=f"{row.size_typed}, {rated}, {dates}, {clean}",
            changes=tuple(_changes(conn, record.station, row.serial)),
            fills=tuple(_fills(conn, row.serial)),
            printed_at=Stamp.of(now),
            proof=Proof.of(last),
            pressures_bar=(bar(row.wp_mbar), bar(row.tp_mbar)),
        )


def _changes(conn: Connection, station: str, serial: str) -> Iterator[Change]:
    for entry in read.entries_of_kind(conn, station, "cylinder.added", "cylinder.changed"):
        if entry.data.get("serial") == serial:
            signed = entry.sig or {}
            stamp = Stamp.of(entry.at)
            told, by = _told(entry), str(signed.get("name", ""))
            yield Change(stamp, told, by, entry.seq, tuple(_pressures(entry.data)))


def _pressures(facts: Mapping[str, Any]) -> Iterator[float]:
    """Give every pressure of an entry, as it was and as it became [bar]."""
    for name, value in facts.items():
        if isinstance(value, Mapping):
            yield from _pressures(value)
        elif name.endswith("_mbar"):
            yield bar(value)


def _told(entry: Entry) -> str:
    """Return what an entry about a cylinder says."""
    if entry.kind == "cylinder.added":
        return "entered: " + ", ".join(_fact(name, entry.data[name]) for name in _CALLED)
    new = entry.data["new"]
    changed = ", ".join(_fact(name, new[name]) for name in _CALLED if name in new)
    why = entry.data.get("why")
    return f"changed: {changed}" + (f" ({why})" if why else "")


def _fact(name: str, value: object) -> str:
    if isinstance(value, bool):
        return f"{_CALLED[name]} {'yes' if value else 'NO'}"
    if name.endswith("_mbar") and isinstance(value, int):
        return f"{_CALLED[name]} {bar(value):g} bar"
    return f"{_CALLED[name]} {value}"


def _fills(conn: Connection, serial: str) -> Iterator[PastFill]:
    numbers = read.fill_numbers(conn, 0, 2**62, serial=serial)
    rows = read.of_fills(conn, FillRow, numbers)
    noted = read.of_fills(conn, ExceptionRow, numbers)
    taken = read.of_fills(conn, ReadingRow, numbers)
    read_at = {number: [one.gauge_mbar for one in found] for number, found in taken.items()}
    called = search.names(conn, {found[0].customer for found in rows.values() if found})
    for number in numbers:
        row = rows[number][0]
        problems = [f"{one.kind}: {one.text}" for one in noted[number] if not is_mark(one)]
        yield PastFill(
            fill=number,
            day=Moment(row.requested_us, row.offset_min).iso[:10],
            gas=_gas(row),
            state=row.state,
            customer=called.get(row.customer, row.customer),
            unsafe=do_not_breathe(row.state, has_gas=row.has_gas),
            remarks=(*marks(noted[number]), *problems),
            pressures_bar=tuple(map(bar, (row.want_mbar, row.gauge_mbar, *read_at[number]))),
        )


def _gas(row: FillRow) -> str:
    """Return the gas as analysed, else as it was wanted, and the pressure that goes with it."""
    if row.o2_ppm < 0:
        wanted = name_of(mix(fraction(row.want_o2_ppm), fraction(row.want_he_ppm)))
        return f"{wanted} wanted, {bar(row.want_mbar):.0f} bar"
    helium = "" if row.he_ppm <= 0 else f", He {row.he_ppm / 1e4:.1f} %"
    return f"analysed O2 {row.o2_ppm / 1e4:.1f} %{helium}, {bar(row.gauge_mbar):.0f} bar"
