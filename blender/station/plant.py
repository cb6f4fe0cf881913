"""The compressor at work: its hours, and how its air stands."""

from __future__ import annotations

import json
from typing import Any

from blender.errors import InputError
from blender.record import read
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.station.rules import Rules
from blender.units import parse_number

MOST_HOURS = 200_000.0
_TENTHS = 10.0


def read_hours(station: Station, actor: Actor, *, name: str, hours: str) -> dict[str, Any]:
    """Enter what a compressor's hour counter shows.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who reads it.
    name : str
        The compressor.
    hours : str
        As the counter shows them [h].

    Raises
    ------
    InputError
        If it cannot be read, is less than was read before, or no such compressor is in use.
    """
    shown = parse_number(hours.strip().lower().removesuffix("h").strip(), "hours")
    if not 0.0 <= shown <= MOST_HOURS:
        raise InputError("hours", repr(hours[:40]), f"0 to {MOST_HOURS:g}")
    with station.act(actor, "air") as act:
        row = next((one for one in read.compressors(act.conn) if one.name == name.strip()), None)
        if row is None:
            raise InputError("compressor", repr(name[:80]), "none of that name is in use")
        before = read.finding(act.conn, "hours", row.name)
        if before is not None and round(shown * _TENTHS) < before.value:
            last = f"its last reading was {before.value / _TENTHS:g} h: a counter only goes up"
            raise InputError("hours", repr(hours[:40]), last)
        told = f"{shown:g} h on its counter"
        found = {"what": "hours", "about": row.name, "ok": True,
                 "value": round(shown * _TENTHS), "text": told}  # fmt: skip
        data = {"name": row.name, "typed": hours.strip(), "findings": [found]}
        act.enter("compressor.hours", data, "hours read")
    since = shown - before.value / _TENTHS if before else None
    return {"name": row.name, "hours": shown, "since_last": since}


def hours_of(record: Record) -> dict[str, dict[str, Any]]:
    """Return the last reading of each compressor in use: ``hours`` [h] and ``at``."""
    found = {}
    with record.read() as conn:
        for row in read.compressors(conn):
            if last := read.finding(conn, "hours", row.name):
                at = Moment(last.at_us, last.offset_min).iso
                found[row.name] = {"hours": last.value / _TENTHS, "at": at}
    return found


def air(record: Record) -> dict[str, Any]:
    """Return how the compressor's air stands: the last test and the last carbon monoxide.

    Returns
    -------
    dict
        ``test``: None, or the day of the sample, figures [ppm], [mg/m3], who tested it and
        whether it is fit to breathe; ``co``: None, or ``ppm``, ``at``, ``at_us`` and ``ok``.
    """
    with record.read() as conn:
        test, co = read.finding(conn, "air-test"), read.finding(conn, "co")
    return {
        "test": None if test is None else {**_figures(test.text), "ok": test.ok},
        "co": None if co is None else {
            "ppm": co.value / 1000.0, "at": Moment(co.at_us, co.offset_min).iso,
            "at_us": co.at_us, "ok": co.ok,
        },
    }  # fmt: skip


def _figures(kept: str) -> dict[str, Any]:
    found = json.loads(kept)
    return {
        "sampled": found["sampled"],
        "by": found["by"],
        "co_ppm": found["co_ppb"] / 1000.0,
        "co2_ppm": found["co2_ppb"] / 1000.0,
        "oil_mg": found["oil_ug"] / 1000.0,
        "water_mg": found["water_ug"] / 1000.0,
    }


def air_words(test: dict[str, Any] | None, rules: Rules) -> str:
    """Return an air test in words."""
    if test is None:
        return "no test on record"
    fit = "within the limits" if test["ok"] else "NOT FIT TO BREATHE"
    suits = "oxygen-compatible" if test["oil_mg"] <= rules.compatible_oil_mg else "ordinary air"
    return f"sampled {test['sampled']}, {fit}, {suits}, oil {test['oil_mg']:g} mg/m3"
