"""The compressor at work: its hours, and how its air stands."""

from __future__ import annotations

import json
from typing import Any

from blender.record import read
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station import upkeep
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.station.rules import Rules

_MH = 1000.0  # thousandths of an hour


def read_hours(
    station: Station, actor: Actor, *, name: str, hours: str, temperature: str = ""
) -> dict[str, Any]:
    """Enter what a compressor's hour counter shows: filters and service count by it.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who reads it.
    name : str
        The compressor.
    hours, temperature : str
        As the counter shows them [h], and the air drawn in meanwhile; 20 degC if not said.

    Raises
    ------
    InputError
        If it cannot be read, is less than was read before, or no such compressor is in use.
    """
    with station.record.read() as conn:
        before = upkeep.meter(conn, name.strip())
    made = upkeep.did(station, actor, "compressor", name, "ran", hours=hours,
                      temperature=temperature)  # fmt: skip
    shown_mh = int(made["facts"]["hours_mh"])
    since = (shown_mh - before.hours_mh) / _MH if before else None
    return {"name": made["name"], "hours": shown_mh / _MH, "since_last": since}


def hours_of(record: Record) -> dict[str, dict[str, Any]]:
    """Return the last reading of each compressor in use: ``hours`` [h] and ``at``."""
    with record.read() as conn:
        found = {row.name: upkeep.meter(conn, row.name) for row in read.compressors(conn)}
    return {
        name: {"hours": one.hours_mh / _MH, "at": one.at.iso} for name, one in found.items() if one
    }


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
