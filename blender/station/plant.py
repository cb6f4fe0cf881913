"""The compressor at work: its hours, and how its air stands."""

from __future__ import annotations

import json
from typing import Any

from blender.record import read, upkeep
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.station.rules import Rules
from blender.station.upkeep import did


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
    with station.record.read() as conn:
        before = upkeep.last_act(conn, "compressor", name.strip(), "ran")
    done = did(station, actor, "compressor", name, "ran", hours=hours)
    shown = _shown(done["facts"])
    since = shown - _shown(json.loads(before.facts)) if before else None
    return {"name": done["name"], "hours": shown, "since_last": since}


def _shown(facts: dict[str, Any]) -> float:
    """Return the hours of an act [h]."""
    return float(facts["hours_mh"]) / 1000.0


def hours_of(record: Record) -> dict[str, dict[str, Any]]:
    """Return the last reading of each compressor in use: ``hours`` [h] and ``at``."""
    found = {}
    with record.read() as conn:
        for row in read.compressors(conn):
            if last := upkeep.last_act(conn, "compressor", row.name, "ran"):
                at = Moment(last.at_us, last.offset_min).iso
                found[row.name] = {"hours": _shown(json.loads(last.facts)), "at": at}
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
