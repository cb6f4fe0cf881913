"""The register of equipment: gauges, whips, panels, room monitors, filters, cells.

Cylinders, supplies, compressors and analysers have registers of their own; what was done to a
compressor or an analyser is entered like what was done to any other item, in
`blender.station.upkeep`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.planning.doubts import parse_gauge
from blender.record import read, upkeep
from blender.record.models import EquipmentRow
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.numbers import millikelvin
from blender.station.privacy import date_of
from blender.units import parse_number, parse_temperature

Facts = dict[str, Any]
SERVES = ("oxygen", "helium", "top", "all")
MOST_HOURS = 200_000.0


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of equipment.

    Parameters
    ----------
    meaning : str
        What it is.
    needs, may : tuple of str
        Facts it must have, and may have besides.
    acts : tuple of str
        What can be done to it.
    """

    meaning: str
    needs: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    acts: tuple[str, ...] = ()


KINDS: dict[str, Kind] = {
    "gauge": Kind("pressure gauge", ("range",), ("serves",), ("calibrated", "swapped")),
    "whip": Kind("filling whip", (), ("serves",), ("cleaned", "tested")),
    "panel": Kind("fill panel", (), ("serves",), ("cleaned", "tested")),
    "monitor": Kind("room oxygen monitor", (), (), ("calibrated", "tested")),
    "filter": Kind("compressor's filter", ("on", "life"), ("at",), ("changed",)),
    "cell": Kind("analyser's cell", ("on",), ("measures",), ()),
}
# Registered elsewhere; what is done to them is entered here.
OTHERS: dict[str, Kind] = {
    "compressor": Kind("compressor", acts=("ran", "oil", "serviced")),
    "analyser": Kind("analyser", acts=("serviced",)),
}
ACTS_OF: dict[str, tuple[str, ...]] = {k: one.acts for k, one in (KINDS | OTHERS).items()}


def hours(text: str, field: str) -> int:
    """Return hours as typed (``1234.5h``) in thousandths.

    Raises
    ------
    InputError
        If they cannot be read or are not 0 to 200000.

    Examples
    --------
    >>> hours("40h", "--life"), hours("12.5", "--hours")
    (40000, 12500)
    """
    number = parse_number(text.strip().removesuffix("h").strip(), field)
    if not 0.0 <= number <= MOST_HOURS:
        raise InputError(field, repr(text[:40]), f"0 to {MOST_HOURS:g} hours, such as 40h")
    return round(number * 1000.0)


def _range(text: str, field: str) -> str:
    parse_gauge(text, field)
    return text.strip()


def _one_of(allowed: tuple[str, ...]) -> Callable[[str, str], str]:
    def check(text: str, field: str) -> str:
        if text.strip().lower() not in allowed:
            raise InputError(field, repr(text[:40]), f"one of {', '.join(allowed)}")
        return text.strip().lower()

    return check


def _name(text: str, field: str) -> str:
    return clean_text(text, field, 40)


def _at(text: str, field: str) -> int:
    given_c = parse_temperature(text, field)
    if not -20.0 <= given_c <= 50.0:
        raise InputError(field, repr(text[:40]), "air drawn in has -20 to 50 degC")
    return millikelvin(given_c)


# How each fact is understood, and the name under which the journal keeps it.
FACTS: dict[str, tuple[str, Callable[[str, str], Any]]] = {
    "range": ("range", _range),
    "serves": ("serves", _one_of(SERVES)),
    "on": ("on", _name),
    "life": ("life_mh", hours),
    "at": ("at_mk", _at),
    "measures": ("measures", _one_of(("oxygen", "helium"))),
}


def add(
    station: Station,
    actor: Actor,
    kind: str,
    name: str,
    *,
    since: str = "",
    **given: str | None,
) -> Facts:
    """Add an item of equipment.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager.
    kind, name : str
        One of `KINDS`, and what it is called.
    since : str
        The day it was taken into use, ``2026-03-01``; today if not said.
    **given : str or None
        Its facts as typed: ``range`` of a gauge (``1.6@400bar``), what it ``serves``
        (``oxygen``, ``helium``, ``top``, ``all``), the compressor or analyser it is ``on``,
        the ``life`` of a filter (``40h``) and the intake temperature ``at`` which that counts,
        what a cell ``measures``.

    Raises
    ------
    InputError
        If a fact is missing, not one of its kind or cannot be read, or the name is taken.
    """
    facts, called = understood(kind, given), _name(name, "NAME")
    with station.act(actor, "equipment") as act:
        if upkeep.item(act.conn, kind, called) is not None:
            raise InputError("NAME", repr(name[:80]), f"a {kind} of that name is on record")
        _check_on(act.conn, kind, facts)
        day = day_of(act, since, "--since")
        data = {"kind": kind, "name": called, "facts": facts, "day": day}
        act.enter("equipment.added", data, "equipment added")
    return {**data, "meaning": KINDS[kind].meaning}


def day_of(act: Act, typed: str, field: str) -> str:
    """Return a day as typed, today if none is; not one to come.

    Raises
    ------
    InputError
        If it is no day, or lies in the future.
    """
    today = act.now.local.date().isoformat()
    day = date_of(typed, field) if typed.strip() else today
    if day > today:
        raise InputError(field, repr(typed[:40]), f"it lies in the future: today is {today}")
    return day


def understood(kind: str, given: Mapping[str, str | None]) -> Facts:
    """Return the facts of an item in the journal's form.

    Raises
    ------
    InputError
        If one is missing, not one of this kind, or cannot be read.
    """
    if kind not in KINDS:
        raise InputError("KIND", repr(kind[:40]), f"one of {', '.join(KINDS)}")
    known, facts = KINDS[kind], Facts()
    for name, typed in given.items():
        if not typed:
            continue
        if name not in (*known.needs, *known.may):
            has = ", ".join(f"--{one}" for one in (*known.needs, *known.may)) or "no facts"
            raise InputError(f"--{name}", repr(typed[:40]), f"a {kind} has {has}")
        key, parse = FACTS[name]
        facts[key] = parse(typed, f"--{name}")
    for name in known.needs:
        if FACTS[name][0] not in facts:
            raise InputError(f"--{name}", "nothing", f"a {kind} needs it: {EXAMPLES[name]}")
    return facts


EXAMPLES = {
    "range": "its class and scale, 1.6@400bar",
    "on": "the compressor or analyser it is on",
    "life": "the hours its maker gives it, 40h",
}


def _check_on(conn: Connection, kind: str, facts: Facts) -> None:
    """Refuse a filter or cell on what the station does not have."""
    if "on" not in facts:
        return
    of_filter = kind == "filter"
    rows = read.compressors(conn) if of_filter else read.analysers(conn)
    names = [row.name for row in rows]
    if facts["on"] not in names:
        what = "compressors" if of_filter else "analysers"
        known = ", ".join(names) or "none yet"
        raise InputError("--on", repr(facts["on"]), f"{what} in use are {known}")


def retire(station: Station, actor: Actor, kind: str, name: str, *, reason: str) -> Facts:
    """Take an item out of use; what was done to it stays in the record.

    Raises
    ------
    InputError
        If no reason is given, or no such item is in use.
    """
    why = clean_text(reason, "--reason", 200)
    with station.act(actor, "equipment") as act:
        row = in_use(act.conn, kind, name)
        data = {"kind": row.kind, "name": row.name, "act": "retired", "ok": True,
                "day": day_of(act, "", "--on"), "facts": {"reason": why}, "text": why}  # fmt: skip
        act.enter("equipment.done", data, "equipment retired")
    return {"kind": row.kind, "name": row.name, "retired": True, "reason": why}


def in_use(conn: Connection, kind: str, name: str) -> EquipmentRow:
    """Return an item in use.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    row = upkeep.item(conn, kind, name.strip())
    if row is None or row.retired:
        known = ", ".join(one.name for one in upkeep.items(conn, kind)) or "none"
        raise InputError("NAME", repr(name[:80]), f"of the kind {kind} there is in use: {known}")
    return row


def facts_of(row: EquipmentRow) -> Facts:
    """Return what an item has, as the journal keeps it."""
    found: Facts = json.loads(row.facts)
    return found


def listing(conn: Connection, *, retired: bool = True) -> Facts:
    """Return the register, JSON-ready, retired items last."""
    rows = sorted(upkeep.items(conn, retired=retired), key=lambda row: bool(row.retired))
    return {"equipment": [shown(conn, row) for row in rows]}


def shown(conn: Connection, row: EquipmentRow) -> Facts:
    """Return an item with its facts and what was done to it last, JSON-ready."""
    done = upkeep.last_act(conn, row.kind, row.name)
    return {
        "kind": row.kind,
        "name": row.name,
        "since": row.day,
        **_plain(facts_of(row)),
        "last": {"act": done.act, "day": done.day, "ok": done.ok} if done else None,
        "retired": row.retired or None,
    }


def _plain(facts: Facts) -> Facts:
    """Return facts in the units people use."""
    plain: Facts = {
        name: facts[name] for name in ("range", "serves", "on", "measures") if name in facts
    }
    if "life_mh" in facts:
        plain["life_h"] = facts["life_mh"] / 1000.0
    if "at_mk" in facts:
        plain["at_c"] = facts["at_mk"] / 1000.0 - 273.15
    return plain


def line(one: Facts) -> str:
    """Return an item as a line."""
    told = [f"{one['kind']:10} {one['name']:12}"]
    told += [str(one[name]) for name in ("range", "measures") if name in one]
    told += [f"for {one['serves']}"] if "serves" in one else []
    told += [f"on {one['on']}"] if "on" in one else []
    told += [f"{one['life_h']:g} h"] if "life_h" in one else []
    if one["retired"]:
        return " ".join([*told, f"retired: {one['retired']}"])
    last = one["last"]
    told.append(f"{last['act']} {last['day']}" if last else f"in use since {one['since']}")
    return " ".join(told)
