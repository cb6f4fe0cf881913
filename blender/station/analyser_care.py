"""Care of the analysers: read straight, tried on helium, cells and their age, drift of each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, and_

from blender.errors import InputError
from blender.gas import parse_gas
from blender.linearity import drift_per_month, off_between
from blender.record import read, search
from blender.record.journal import Record
from blender.record.models import AnalyserRow, EquipmentRow, FindingRow
from blender.record.moment import Moment
from blender.record.projection import table
from blender.record.unit import last_entry
from blender.station import fitness, stamps
from blender.station.actor import Actor
from blender.station.analysing import calibration_typed, measure
from blender.station.desk import Act, Station
from blender.station.items import Facts, facts_of
from blender.station.meter_gates import HELIUM, LINEAR, cells
from blender.station.numbers import ppm
from blender.station.rules import in_force
from blender.station.views import Proof, Stamp
from blender.units import bar_to_pa, parse_ambient, parse_percent

JUDGED_AT_O2 = 0.40  # the richest gas most stations label; own choice
_CHECKS = ("drift", "as-found")


def try_straight(
    station: Station,
    actor: Actor,
    name: str,
    *,
    low: str,
    high: str,
    ambient: str = "1.01325bar",
    air: str = "",
) -> Facts:
    """Enter what an analyser shows of two known gases at one sitting.

    Set on the first, it is off by so much at the second; in between it is taken to be off in
    proportion.  It reads straight if at 40 % oxygen it is off by no more than the station's
    ``drift``; else it analyses nothing until it was found straight again.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who tries it.
    name : str
        The analyser.
    low, high : str
        Gas and reading [%] of each: ``air@20.9`` and ``oxygen99.5@98.6``.
    ambient, air : str
        Ambient pressure, and the state of the room's air if the first gas is that.

    Raises
    ------
    InputError
        If a value cannot be read, or the gases are less than 10 points of oxygen apart.
    """
    (low_gas, low_shown), (high_gas, high_shown) = _shown(low, "--low"), _shown(high, "--high")
    calibration = calibration_typed(low_gas, low_shown, ambient, air.strip())
    got = measure(high_shown, None, calibration, bar_to_pa(parse_ambient(ambient, "--ambient")))
    low_o2, high_o2 = parse_gas(low_gas).o2, parse_gas(high_gas).o2
    off_high = (got.o2 - high_o2) * 100.0
    off_at = off_between(JUDGED_AT_O2, low_o2, high_o2, off_high)
    with station.act(actor, "calibrate") as act:
        meter = _in_use(act, name)
        ok = abs(off_at) <= act.rules.drift_points + 1e-9
        told = (
            f"set on {low_gas} it shows {high_gas} off by {off_high:+.2f} points, "
            f"{JUDGED_AT_O2:.0%} oxygen by {off_at:+.2f}"
        )
        found = {"what": LINEAR, "about": meter.name, "ok": ok, "value": round(off_at * 1e4),
                 "text": told}  # fmt: skip
        data = {"name": meter.name, "low": low.strip(), "high": high.strip(),
                "ambient_typed": ambient.strip(), "air_typed": air.strip(),
                "off_high_ppm": ppm(off_high / 100.0), "findings": [found]}  # fmt: skip
        act.enter("analyser.tried-straight", data, "analyser tried on two gases")
    return {"name": meter.name, "ok": ok, "off_high_points": off_high, "off_at_40_points": off_at,
            "text": f"{meter.name}: {told}"}  # fmt: skip


def _shown(typed: str, field: str) -> tuple[str, str]:
    gas, at, shown = typed.strip().rpartition("@")
    if not at:
        raise InputError(field, repr(typed[:40]), "give gas and reading, such as air@20.9")
    parse_gas(gas, field)
    parse_percent(shown, field)
    return gas.strip(), shown.strip()


def _in_use(act: Act, name: str) -> AnalyserRow:
    meter = read.analyser(act.conn, name)
    if meter.retired:
        raise InputError("analyser", repr(name), f"it was retired: {meter.retired}")
    return meter


def try_helium(station: Station, actor: Actor, name: str, *, gas: str, reading: str) -> Facts:
    """Enter what an analyser shows of a known helium: until then its helium is a guess.

    Raises
    ------
    InputError
        If a value cannot be read, or the gas has no helium.
    """
    known = parse_gas(gas, "--gas").he
    if known < 0.05:
        raise InputError("--gas", repr(gas[:40]), "a gas with helium, such as helium or 18/45")
    off = parse_percent(reading, "--helium") - known * 100.0
    with station.act(actor, "calibrate") as act:
        meter = _in_use(act, name)
        ok = abs(off) <= fitness.HELIUM_POINTS + 1e-9
        told = f"shows the helium of {gas.strip()} off by {off:+.2f} points"
        found = {"what": HELIUM, "about": meter.name, "ok": ok, "value": round(off * 1e4),
                 "text": told}  # fmt: skip
        data = {"name": meter.name, "gas_typed": gas.strip(), "helium_typed": reading.strip(),
                "findings": [found]}  # fmt: skip
        act.enter("analyser.tried-helium", data, "analyser tried on helium")
    return {"name": meter.name, "off_points": off, "ok": ok, "text": f"{meter.name} {told}"}


def care_of(record: Record, name: str, now: Moment) -> Facts:
    """Return everything that is known of an analyser, JSON-ready: its calibration certificate.

    Returns
    -------
    dict
        ``set``: the setting in force and whether it is fresh; ``checks`` on a known gas with
        their ``drift_points_month``; ``linearity`` and ``helium`` as found last; ``cells`` with
        their age and the drift of each; null where nobody looked.

    Raises
    ------
    InputError
        If there is no such analyser.
    """
    with record.read() as conn:
        meter = read.analyser(conn, name)
        checks = _checks(conn, name)
        gate = stamps.calibration(meter, now, in_force(conn))
        who = search.names(conn, [meter.calibrated_by])
        return {
            "name": name,
            "retired": meter.retired or None,
            "set": _setting(meter, who, now) if meter.calibrated_us else None,
            "fresh": gate.answer == "pass",
            "fresh_text": gate.reason,
            "checks": [_check(row) for row in checks],
            "drift_points_month": _drift(checks),
            "linearity": _found(read.finding(conn, LINEAR, name)),
            "helium": _found(read.finding(conn, HELIUM, name)),
            "cells": [_cell(row, checks, now) for row in cells(conn, name, retired=True)],
        }


def _checks(conn: Connection, name: str) -> list[FindingRow]:
    columns = table(FindingRow).c
    here = and_(columns.about == name, columns.what.in_(_CHECKS))
    return read.rows(conn, FindingRow, here, [columns.seq])


def _setting(meter: AnalyserRow, who: dict[str, str], now: Moment) -> Facts:
    at = Moment(meter.calibrated_us, now.offset_min)
    return {"at": at.iso, "gas": meter.gas_typed, "reading": meter.reading_typed,
            "ambient": meter.ambient_typed, "air": meter.air_typed or None,
            "by": who.get(meter.calibrated_by, meter.calibrated_by), "seq": meter.seq}  # fmt: skip


def _day(row: FindingRow) -> date:
    return Moment(row.at_us, row.offset_min).local.date()


def _check(row: FindingRow) -> Facts:
    return {"day": _day(row).isoformat(), "off_points": row.value / 1e4, "ok": row.ok,
            "text": row.text, "seq": row.seq}  # fmt: skip


def _found(row: FindingRow | None) -> Facts | None:
    return None if row is None else _check(row)


def _drift(rows: list[FindingRow]) -> float | None:
    days = [float(_day(row).toordinal()) for row in rows]
    return drift_per_month(days, [row.value / 1e4 for row in rows])


def _cell(row: EquipmentRow, checks: list[FindingRow], now: Moment) -> Facts:
    """Return a cell with its age and how it drifted while it was in."""
    facts = facts_of(row)
    last = row.seq if row.retired else 2**62
    mine = [one for one in checks if _day(one).isoformat() >= row.day and one.seq <= last]
    age = (now.local.date() - date.fromisoformat(row.day)).days
    return {"name": row.name, "measures": facts.get("measures", "oxygen"), "since": row.day,
            "age_days": age, "checks": len(mine), "drift_points_month": _drift(mine),
            "retired": row.retired or None}  # fmt: skip


def lines(answer: Facts) -> list[str]:
    """Return what is known of an analyser as lines for people."""
    told = [answer["fresh_text"]]
    if one := answer["set"]:
        air = f", room {one['air']}" if one["air"] else ""
        when = one["at"][:16].replace("T", " ")
        where = f"at {one['ambient']}{air}, {when} by {one['by']}, entry {one['seq']}"
        told.append(f"set to {one['reading']} on {one['gas']} {where}")
    for what in ("linearity", "helium"):
        found = answer[what]
        told.append(f"{what}: {found['day']} {found['text']}" if found else f"{what}: never tried")
    told += [f"check {one['day']}: {one['text']}" for one in answer["checks"][-10:]]
    return told + [_cell_line(one) for one in answer["cells"]]


def _cell_line(one: Facts) -> str:
    drift = one["drift_points_month"]
    pace = "drift not known yet" if drift is None else f"drifts {drift:+.2f} points a month"
    ended = f", retired: {one['retired']}" if one["retired"] else ""
    months = one["age_days"] / 30.4375
    return f"cell {one['name']} ({one['measures']}): {months:.0f} months old, {pace}{ended}"


@dataclass(frozen=True, slots=True)
class CarePage:
    """An analyser's certificate of calibration, for paper: its facts and where the record stood."""

    station_name: str
    facts: Facts
    printed_at: Stamp
    proof: Proof
    imperial: bool = False


def paper(record: Record, facts: Facts, now: Moment) -> CarePage:
    """Return what the certificate of calibration of an analyser states."""
    with record.read() as conn:
        station, last = read.station(conn), last_entry(conn, record.station)
    assert station is not None
    assert last is not None
    proof = Proof.of(last)
    return CarePage(station.name, facts, Stamp.of(now), proof)
