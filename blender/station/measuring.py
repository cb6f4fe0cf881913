"""What is measured away from a fill: a supply's gas, the compressor's air, an analyser's drift."""

from __future__ import annotations

import json
import re
from datetime import date
from typing import Any

from blender.errors import InputError
from blender.gas import parse_gas
from blender.record import read, search
from blender.record.models import AnalyserRow
from blender.record.text import clean_text
from blender.station import stamps
from blender.station.actor import Actor
from blender.station.analysing import calibration_of, measure
from blender.station.desk import Act, Station
from blender.station.fitness import AirTest, supply_gas
from blender.station.gates import STOP
from blender.station.numbers import ppm
from blender.units import bar_to_pa, parse_ambient, parse_number

_AMOUNT = re.compile(r"([\d.,]+)\s*(\S+)")


def analyse_supply(
    station: Station, actor: Actor, name: str, *, analyser: str, reading: str
) -> dict[str, Any]:
    """Enter what is in a supply, read before it is drawn from.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who reads it.
    name : str
        The supply.
    analyser, reading : str
        On which analyser, and what it showed [%].

    Raises
    ------
    InputError
        If a value cannot be read, or there is no such supply or analyser that is set.
    """
    with station.act(actor, "gauge") as act:
        row = search.supply(act.conn, name.strip())
        if row is None:
            raise InputError("supply", repr(name[:80]), "no such supply; see `supply list`")
        meter = _set_meter(act, analyser)
        ambient_pa = bar_to_pa(parse_ambient(meter.ambient_typed, "--ambient"))
        got = measure(reading, None, calibration_of(meter), ambient_pa)
        gate = supply_gas(row.name, got.o2, parse_gas(row.gas_typed, "supply"), act.rules)
        found = {"what": "supply-gas", "about": row.name, "ok": gate.answer != STOP,
                 "value": ppm(got.o2), "text": gate.reason}  # fmt: skip
        data = {"name": row.name, "analyser": meter.name, "findings": [found], **got.facts()}
        act.enter("supply.analysed", data, "supply analysed")
    return {"name": row.name, "o2": got.o2, "ok": found["ok"],
            "text": gate.reason}  # fmt: skip


def check_analyser(
    station: Station, actor: Actor, name: str, *, gas: str, reading: str
) -> dict[str, Any]:
    """Enter what a set analyser shows of a known gas, before anybody sets it again.

    Raises
    ------
    InputError
        If a value cannot be read, or the analyser is not set.
    """
    known = parse_gas(gas, "--gas").o2
    with station.act(actor, "calibrate") as act:
        meter = _set_meter(act, name)
        ambient_pa = bar_to_pa(parse_ambient(meter.ambient_typed, "--ambient"))
        got = measure(reading, None, calibration_of(meter), ambient_pa)
        off = (got.o2 - known) * 100.0
        ok = abs(off) <= act.rules.drift_points + 1e-9
        told = f"shows {gas.strip()} off by {off:+.2f} points"
        found = {"what": "drift", "about": meter.name, "ok": ok, "value": round(off * 1e4),
                 "text": told}  # fmt: skip
        data = {"name": meter.name, "gas_typed": gas.strip(), "findings": [found], **got.facts()}
        act.enter("analyser.checked", data, "analyser checked")
    return {"name": meter.name, "off_points": off, "ok": ok, "text": f"{meter.name} {told}"}


def _set_meter(act: Act, name: str) -> AnalyserRow:
    """Return an analyser that was set and not too long ago."""
    meter = read.analyser(act.conn, name)
    if meter.retired or not meter.calibrated_us:
        told = f"it was retired: {meter.retired}" if meter.retired else "it was never calibrated"
        raise InputError("--analyser", repr(name), told)
    hours = stamps.hours_since(meter, act.now) or 0.0
    if hours > act.rules.calibration_hours:
        raise InputError("--analyser", repr(name), f"it was set {hours:.0f} h ago: calibrate it")
    return meter


def read_co(
    station: Station, actor: Actor, *, reading: str, meter: str = "", compressor: str = ""
) -> dict[str, Any]:
    """Enter the carbon monoxide of the air as it leaves the compressor.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who reads it.
    reading : str
        Such as ``1.5ppm``.
    meter : str
        On which instrument.
    compressor : str
        Whose air; needed where there are several.

    Raises
    ------
    InputError
        If it cannot be read, or nobody says which of several compressors is meant.
    """
    parts = amount(reading, "--reading", "ppm")
    on = clean_text(meter, "--meter", 60, empty=True)
    with station.act(actor, "air") as act:
        about = _compressor(act, compressor)
        ok = parts <= act.rules.co_ppm
        told = f"{parts:g} ppm carbon monoxide, limit {act.rules.co_ppm:g} ppm"
        found = {"what": "co", "about": about, "ok": ok, "value": round(parts * 1000.0),
                 "text": told}  # fmt: skip
        data = {"typed": reading.strip(), "meter": on, "findings": [found]}
        act.enter("air.read", data, "air read")
    return {"co_ppm": parts, "ok": ok, "text": told, "compressor": about or None}


def _compressor(act: Act, named: str) -> str:
    """Return whose air was measured; empty where no compressor is on record."""
    known = [row.name for row in read.compressors(act.conn)]
    if named.strip():
        if named.strip() not in known:
            told = f"compressors in use are {', '.join(known) or 'none'}"
            raise InputError("--compressor", repr(named[:80]), told)
        return named.strip()
    if len(known) > 1:
        raise InputError("--compressor", "nothing", f"say whose air it is: {', '.join(known)}")
    return known[0] if known else ""


def enter_air_test(
    station: Station,
    actor: Actor,
    *,
    sampled: str,
    co: str,
    co2: str,
    oil: str,
    water: str,
    by: str,
    compressor: str = "",
) -> dict[str, Any]:
    """Enter a test of the compressor's air.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who enters it.
    sampled : str
        The day of the sample, ``2026-10-12``.
    co, co2 : str
        Such as ``1ppm``.
    oil, water : str
        Such as ``0.05mg/m3``.
    by : str
        Who tested it, and the number of their report.
    compressor : str
        Whose air; needed where there are several.

    Raises
    ------
    InputError
        If a value cannot be read, the day lies in the future, or nobody says which of several
        compressors is meant.
    """
    day, lab = _day(sampled), clean_text(by, "--by", 120)
    found = AirTest(
        0.0,
        amount(co, "--co", "ppm"),
        amount(co2, "--co2", "ppm"),
        amount(oil, "--oil", "mg/m3"),
        amount(water, "--water", "mg/m3"),
    )
    with station.act(actor, "air") as act:
        if day > act.now.local.date():
            raise InputError("--sampled", sampled, "it lies in the future")
        about, over = _compressor(act, compressor), found.over(act.rules)
        kept = {"sampled": day.isoformat(), "co_ppb": round(found.co_ppm * 1000.0),
                "co2_ppb": round(found.co2_ppm * 1000.0), "oil_ug": round(found.oil_mg * 1000.0),
                "water_ug": round(found.water_mg * 1000.0), "by": lab}  # fmt: skip
        line = {"what": "air-test", "about": about, "ok": not over, "value": kept["oil_ug"],
                "text": json.dumps(kept, separators=(",", ":"), ensure_ascii=False)}  # fmt: skip
        data = {"typed": [sampled, co, co2, oil, water], "by": lab, "findings": [line]}
        act.enter("air.tested", data, "air test entered")
        compatible = found.is_compatible(act.rules)
    told = "; ".join(over) if over else "within the limits of breathing air"
    suits = "oxygen-compatible" if compatible else "ordinary air: it ends oxygen service"
    return {"sampled": kept["sampled"], "ok": not over, "oxygen_compatible": compatible,
            "compressor": about or None, "rules": act.rules.name,
            "text": f"{told}; {suits}"}  # fmt: skip


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        allowed = "write the day of the sample as 2026-10-12"
        raise InputError("--sampled", repr(text[:40]), allowed) from None


def amount(text: str, field: str, unit: str) -> float:
    """Return an amount typed with its unit, ``ppm`` or ``mg/m3``.

    Raises
    ------
    InputError
        If it is not written that way.

    Examples
    --------
    >>> amount("0.05 mg/m3", "--oil", "mg/m3"), amount("3ppm", "--co", "ppm")
    (0.05, 3.0)
    """
    found = _AMOUNT.fullmatch(text.strip())
    if found is None or found[2].lower() != unit:
        raise InputError(field, repr(text[:40]), f"write it with its unit, such as 1{unit}")
    return parse_number(found[1], field)
