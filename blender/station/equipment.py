"""Cylinders, supplies and analysers: what is added, changed and calibrated."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from blender import analysis
from blender.errors import InputError
from blender.gas import parse_gas
from blender.humidity import parse_air_state
from blender.planning.supplies import BOTTLE_TEMPERATURE_C, TOP_NAME
from blender.record import read
from blender.record.models import AnalyserRow
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.numbers import mbar, micromol, ppm
from blender.units import bar_to_pa, parse_ambient, parse_gauge_pressure, parse_percent, parse_size
from blender.vessel import amount_for_pressure

_MONTH = re.compile(r"(19|20)\d\d-(0[1-9]|1[0-2])")
_SERIAL = re.compile(r"[A-Za-z0-9][A-Za-z0-9./_-]{0,31}")


def serial_of(text: str) -> str:
    """Return a serial, or the joined serials of a set, checked.

    Raises
    ------
    InputError
        If a part has other characters than letters, digits and ``. / _ -``.
    """
    serial = text.strip()
    posts = serial.split("+")
    if len(posts) > 2 or not all(_SERIAL.fullmatch(post) for post in posts):
        raise InputError(
            "serial", repr(text[:80]), "letters, digits and . / _ -, up to 32; a set is A+B"
        )
    if len(set(posts)) != len(posts):
        raise InputError("serial", repr(text[:80]), "the two serials of a set differ")
    return serial


def month(text: str, field: str) -> str:
    """Return a year and month such as ``2025-03``, checked.

    Raises
    ------
    InputError
        If it is not written that way.
    """
    if not _MONTH.fullmatch(text.strip()):
        raise InputError(field, repr(text[:40]), "write year and month as stamped: 2025-03")
    return text.strip()


def stamped(text: str, field: str, today: str) -> str:
    """Return a stamped year and month, not one to come.

    Raises
    ------
    InputError
        If it is not written so, or lies in the future.

    Examples
    --------
    >>> stamped("2025-03", "--tested", "2026-11")
    '2025-03'
    """
    found = month(text, field)
    if found > today:
        raise InputError(field, repr(text[:40]), f"it lies in the future: this is {today}")
    return found


def yes_no(text: str, field: str) -> bool:
    """Return True for yes, False for no.

    Raises
    ------
    InputError
        For anything else.
    """
    if text not in ("yes", "no"):
        raise InputError(field, repr(text[:40]), "answer yes or no")
    return text == "yes"


def add_cylinder(
    station: Station,
    actor: Actor,
    *,
    serial: str,
    size: str,
    wp: str,
    tp: str,
    tested: str,
    inspected: str,
    clean: str,
) -> dict[str, Any]:
    """Add a cylinder or set with its stamps, as typed.

    Raises
    ------
    InputError
        If a stamp cannot be read, or the serial is in the record already.
    """
    typed = {"size": size, "serial": serial, "wp": wp, "tp": tp}
    typed |= {"tested": tested, "inspected": inspected, "clean": clean}
    data = check_typed(typed)
    with station.act(actor, "cylinder") as act:
        if read.has_cylinder(act.conn, data["serial"]):
            raise InputError("serial", repr(serial), "this serial is in the record already")
        act.enter("cylinder.added", data, "cylinder added")
    return data


def check_typed(typed: Mapping[str, str]) -> dict[str, Any]:
    """Return the stamps of a cylinder as the journal keeps them, checked together.

    Raises
    ------
    InputError
        If one cannot be read, or they contradict each other.
    """
    data: dict[str, Any] = {}
    for name, text in typed.items():
        data |= cylinder_field(name, text)
    check_stamps(data)
    return data


def cylinder_field(name: str, text: str) -> dict[str, Any]:
    """Return one stamp of a cylinder as the journal keeps it.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    field = name if name == "serial" else f"--{name}"
    if name == "size":
        size = parse_size(text, field)
        typed = {"size_typed": size.typed, "posts": size.count}
        return {"size_ml": round(size.litres * 1000.0), **typed}
    if name in ("wp", "tp"):
        return {f"{name}_mbar": mbar(parse_gauge_pressure(text, field))}
    if name in ("tested", "inspected"):
        return {name: month(text, field)}
    return {name: yes_no(text, field) if name == "clean" else serial_of(text)}


def check_stamps(data: dict[str, Any]) -> None:
    """Refuse stamps that contradict each other.

    Raises
    ------
    InputError
        Naming what does not go together.
    """
    posts = data["serial"].count("+") + 1
    if data["posts"] != posts:
        raise InputError(
            "serial",
            repr(data["serial"]),
            f"size {data['size_typed']} is {data['posts']} posts, the serial names {posts}; a set "
            "has a size such as 2x12L and both serials joined by +",
        )
    if data["tp_mbar"] <= data["wp_mbar"]:
        wp = f"{data['wp_mbar'] / 1000:g} bar"
        given = f"{data['tp_mbar'] / 1000:g} bar"
        raise InputError("--tp", given, f"test pressure lies above working pressure, {wp}")
    if data["wp_mbar"] < 1000:
        given = f"{data['wp_mbar'] / 1000:g} bar"
        raise InputError("--wp", given, "working pressure is at least 1 bar")


def change_cylinder(
    station: Station,
    actor: Actor,
    *,
    serial: str,
    tested: str | None = None,
    inspected: str | None = None,
    clean: str | None = None,
) -> dict[str, Any]:
    """Enter a new test, inspection or cleaning of a cylinder; the old one stays in the journal.

    Raises
    ------
    InputError
        If nothing changes, or the serial is not in the record.
    """
    new: dict[str, Any] = {}
    if tested is not None:
        new["tested"] = month(tested, "--tested")
    if inspected is not None:
        new["inspected"] = month(inspected, "--inspected")
    if clean is not None:
        new["clean"] = yes_no(clean, "--clean")
    if not new:
        raise InputError("cylinder", serial, "give --tested, --inspected or --clean")
    with station.act(actor, "cylinder") as act:
        row = read.cylinder(act.conn, serial_of(serial))
        old = {name: getattr(row, name) for name in new}
        act.enter("cylinder.changed", {"serial": row.serial, "old": old, "new": new}, "stamps read")
    return {"serial": row.serial, **new}


def add_supply(
    station: Station,
    actor: Actor,
    *,
    name: str,
    gas: str,
    size: str | None = None,
    at: str | None = None,
    lot: str | None = None,
    certificate: str | None = None,
) -> dict[str, Any]:
    """Add a supply; without size and pressure it is taken never to run out.

    `lot` and `certificate` are what bottle and note say, for a recall.

    Raises
    ------
    InputError
        If only one of size and pressure is given, or the name is taken.
    """
    mix = parse_gas(gas, "--gas")
    if name.strip().lower() == TOP_NAME:
        taken = "the name 'top' is taken by the top gas; use another"
        raise InputError("supply", repr(name), taken)
    if (size is None) != (at is None):
        raise InputError("supply", name, "give both --size and --at, or neither")
    litres = parse_size(size, "--size").litres if size else 0.0
    content = 0.0
    if at is not None:
        gauge_bar = parse_gauge_pressure(at, "--at")
        content = amount_for_pressure(mix, gauge_bar, BOTTLE_TEMPERATURE_C, litres / 1000.0)
    data = {
        "name": _name(name, "supply"),
        "gas_typed": gas.strip(),
        "o2_ppm": ppm(mix.o2),
        "he_ppm": ppm(mix.he),
        "size_ml": round(litres * 1000.0),
        "content_umol": micromol(content),
        "typed": {"size": size or "", "at": at or ""},
        **lot_of(lot, certificate),
    }
    with station.act(actor, "supply") as act:
        if any(row.name == data["name"] for row in read.supplies(act.conn)):
            raise InputError("supply", repr(name), "a supply of that name exists already")
        act.enter("supply.added", data, "supply added")
    return data


def lot_of(lot: str | None, certificate: str | None = None) -> dict[str, str]:
    """Return lot and certificate of a bottle as the journal keeps them, nothing for neither.

    Raises
    ------
    InputError
        If one is no plain text of up to 60 characters.
    """
    given = {"lot": lot, "certificate": certificate}
    kept = {
        name: clean_text(text or "", f"--{name}", 60, empty=True) for name, text in given.items()
    }
    return {name: text for name, text in kept.items() if text}


def _name(text: str, field: str) -> str:
    name = clean_text(text, field, 40)
    if "=" in name or "@" in name:
        raise InputError(field, repr(text), "a name has no '=' and no '@'")
    return name


def add_analyser(station: Station, actor: Actor, *, name: str) -> dict[str, Any]:
    """Add an analyser by name.

    Raises
    ------
    InputError
        If the name is taken.
    """
    data = {"name": _name(name, "analyser")}
    with station.act(actor, "analyser") as act:
        try:
            read.analyser(act.conn, data["name"])
        except InputError:
            act.enter("analyser.added", data, "analyser added")
            return data
    raise InputError("analyser", repr(name), "an analyser of that name exists already")


def retire_analyser(station: Station, actor: Actor, *, name: str, reason: str) -> dict[str, Any]:
    """Take an analyser out of use; what it read stays in the record.

    Raises
    ------
    InputError
        If no reason is given, or no such analyser is in use.
    """
    why = clean_text(reason, "--reason", 200)
    with station.act(actor, "analyser") as act:
        row = _in_use(act, name)
        act.enter("analyser.retired", {"name": row.name, "reason": why}, "analyser retired")
    return {"name": row.name, "retired": True, "reason": why}


def _in_use(act: Act, name: str) -> AnalyserRow:
    row = read.analyser(act.conn, name)
    if row.retired:
        told = f"it was retired: {row.retired}; add the new one under a name of its own"
        raise InputError("analyser", repr(name), told)
    return row


def _check_setting(gas: str, reading: str) -> None:
    """Refuse a setting no analyser can be set to: every later reading hangs on it."""
    o2, shown = parse_gas(gas, "--gas").o2, parse_percent(reading, "--reading") / 100.0
    if o2 < 0.01:
        raise InputError("--gas", repr(gas), "an analyser is set on a gas with oxygen, mostly air")
    if not 0.9 <= shown / o2 <= 1.1:
        allowed = f"set it to within a tenth of the gas's oxygen, {o2 * 100:.1f} %"
        raise InputError("--reading", repr(reading), allowed)


def calibrate(
    station: Station,
    actor: Actor,
    *,
    name: str,
    gas: str,
    reading: str,
    ambient: str = "1.01325bar",
    air: str = "",
    found: str = "",
) -> dict[str, Any]:
    """Enter that an analyser was set: on which gas, to what, in which air.

    `found` is what it showed of that gas before it was set [%], as it was set before: how far
    it had drifted.

    Raises
    ------
    InputError
        If a value cannot be read, or there is no such analyser.
    """
    _check_setting(gas, reading)
    parse_ambient(ambient, "--ambient")
    if air.strip():
        parse_air_state(air, "--air")
    data = {
        "analyser": name,
        "gas_typed": gas.strip(),
        "reading_typed": reading.strip(),
        "ambient_typed": ambient.strip(),
        "air_typed": air.strip(),
    }
    with station.act(actor, "calibrate") as act:
        meter = _in_use(act, name)
        if found.strip():
            data |= _as_found(act, meter, gas, found, ambient)
        act.enter("analyser.calibrated", data, "analyser calibrated")
    return data


def _as_found(act: Act, meter: AnalyserRow, gas: str, found: str, ambient: str) -> dict[str, Any]:
    """Return how far off an analyser had drifted by the setting it still had.

    Raises
    ------
    InputError
        If it was never set, or the reading cannot be read.
    """
    if not meter.calibrated_us:
        raise InputError("--found", repr(found[:40]), "it was never set before: nothing to compare")
    set_to = analysis.Calibration(
        parse_gas(meter.gas_typed),
        parse_percent(meter.reading_typed, "--reading"),
        bar_to_pa(parse_ambient(meter.ambient_typed)),
        parse_air_state(meter.air_typed) if meter.air_typed else None,
    )
    around_pa = bar_to_pa(parse_ambient(ambient, "--ambient"))
    o2 = analysis.correct(parse_percent(found, "--found"), set_to, around_pa, "--found")
    off = (o2 - parse_gas(gas, "--gas").o2) * 100.0
    ok = abs(off) <= act.rules.drift_points + 1e-9
    told = f"was found to show {gas.strip()} off by {off:+.2f} points before it was set"
    line = {"what": "as-found", "about": meter.name, "ok": ok, "value": round(off * 1e4),
            "text": told}  # fmt: skip
    return {"found_typed": found.strip(), "findings": [line]}
