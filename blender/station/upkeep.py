"""What is done to equipment: cleaned, calibrated, tested, swapped, run, serviced."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.record import read, search, upkeep
from blender.record.models import EquipmentActRow
from blender.record.moment import Moment
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.items import ACTS_OF, OTHERS, Facts, day_of, hours, in_use
from blender.station.numbers import mbar, millikelvin
from blender.units import parse_number, parse_temperature

_FIELDS = {
    "hours": "--hours",
    "temperature": "--temperature",
    "off": "--off",
    "by": "--by",
    "found": "--found",
}
# What an act may say beyond its day, and which of that it needs.
TAKES: dict[str, tuple[str, ...]] = {
    "ran": ("hours", "temperature"),
    "changed": ("hours",),
    "oil": ("hours",),
    "serviced": ("hours",),
    "calibrated": ("off", "found"),
    "cleaned": ("found",),
    "tested": ("found",),
    "swapped": ("by",),
}
NEEDS = {"ran": "hours", "swapped": "by"}
_USUAL_C = "20C"
_MH_PER_TENTH = 100  # readings of a meter were kept in tenths of an hour


def did(
    station: Station,
    actor: Actor,
    kind: str,
    name: str,
    act_name: str,
    *,
    on: str = "",
    note: str = "",
    **given: str | None,
) -> Facts:
    """Enter what was done to an item of equipment, a compressor or an analyser.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who did it, or enters it.
    kind, name : str
        What it was done to.
    act_name : str
        What: ``calibrated``, ``cleaned``, ``tested``, ``swapped``, ``changed``, ``ran``, ``oil``
        or ``serviced``, as the kind allows.
    on : str
        The day, today if not said.
    note : str
        What is to be said of it: who did it, the number of a certificate.
    **given : str or None
        As typed: what a compressor's meter shows (``hours``) and the ``temperature`` of the air
        drawn in, how far a gauge was ``off`` (``-0.5bar``: it shows less), ``found`` sound
        (``yes`` or ``no``), and what an item was swapped for (``by``).

    Raises
    ------
    InputError
        If that is not done to such an item, or a value is missing or cannot be read.
    """
    done = _allowed(kind, act_name)
    remark = clean_text(note, "--note", 200, empty=True)
    facts = _understood(done, {key: text for key, text in given.items() if text})
    with station.act(actor, "upkeep") as act:
        called = _known(act.conn, kind, name)
        _check(act, kind, called, done, facts)
        data = {"kind": kind, "name": called, "act": done, "day": day_of(act, on, "--on"),
                "ok": facts.get("found") != "no", "facts": facts, "note": remark}  # fmt: skip
        data["text"] = said(data)
        entry = act.enter("equipment.done", data, done)
    return {**data, "seq": entry.seq}


def _allowed(kind: str, act_name: str) -> str:
    if kind not in ACTS_OF:
        raise InputError("KIND", repr(kind[:40]), f"one of {', '.join(ACTS_OF)}")
    done = act_name.strip().lower()
    if done not in ACTS_OF[kind]:
        can = ", ".join(ACTS_OF[kind]) or "nothing but retired"
        raise InputError("ACT", repr(act_name[:40]), f"a {kind} is {can}")
    return done


def _understood(done: str, given: Mapping[str, str]) -> Facts:
    may = TAKES.get(done, ())
    for key, typed in given.items():
        if key not in may:
            told = ", ".join(_FIELDS[one] for one in may) or "nothing more"
            raise InputError(_FIELDS.get(key, key), repr(typed[:40]), f"{done} takes {told}")
    need = NEEDS.get(done)
    if need and need not in given:
        raise InputError(_FIELDS[need], "nothing", f"{done} needs it")
    facts: Facts = {}
    if "hours" in given:
        facts["hours_mh"] = hours(given["hours"], "--hours")
    if done == "ran":
        facts["temp_mk"] = _intake_mk(given.get("temperature", _USUAL_C))
    if "off" in given:
        facts["off_mbar"] = _off_mbar(given["off"])
    if "found" in given:
        facts["found"] = _found(given["found"])
    if "by" in given:
        facts["by"] = clean_text(given["by"], "--by", 40)
    return facts


def _intake_mk(typed: str) -> int:
    intake_c = parse_temperature(typed, "--temperature")
    if not -20.0 <= intake_c <= 50.0:
        raise InputError("--temperature", repr(typed[:40]), "air drawn in has -20 to 50 degC")
    return millikelvin(intake_c)


def _off_mbar(typed: str) -> int:
    text = typed.strip().lower().removesuffix("bar").strip()
    sign, digits = (-1.0, text[1:]) if text.startswith("-") else (1.0, text.removeprefix("+"))
    off_bar = sign * parse_number(digits, "--off")
    if abs(off_bar) > 50.0:
        raise InputError("--off", repr(typed[:40]), "within 50 bar, such as -0.5bar")
    return mbar(off_bar)


def _found(typed: str) -> str:
    answer = typed.strip().lower()
    if answer not in ("yes", "no"):
        raise InputError("--found", repr(typed[:40]), "found sound: yes or no")
    return answer


def _known(conn: Connection, kind: str, name: str) -> str:
    """Return the name of an item in use, whichever register it is in."""
    if kind not in OTHERS:
        return in_use(conn, kind, name).name
    rows = read.compressors(conn) if kind == "compressor" else read.analysers(conn)
    found = [row.name for row in rows]
    if name.strip() not in found:
        known = ", ".join(found) or "none"
        raise InputError("NAME", repr(name[:80]), f"of the kind {kind} there is in use: {known}")
    return name.strip()


def _check(act: Act, kind: str, name: str, done: str, facts: Facts) -> None:
    """Refuse a meter that ran backwards, and an item swapped for itself or for none."""
    if done == "ran":
        last = meter(act.conn, name)
        was_mh = last.hours_mh if last else 0
        if facts["hours_mh"] < was_mh:
            told = f"its meter showed {was_mh / 1000.0:g} h before; a new meter is a new compressor"
            raise InputError("--hours", f"{facts['hours_mh'] / 1000.0:g} h", told)
    if done == "swapped":
        if facts["by"] == name:
            raise InputError("--by", repr(name), "another one than it was swapped for")
        in_use(act.conn, kind, facts["by"])


@dataclass(frozen=True, slots=True)
class Meter:
    """A compressor's hour meter as it was read last: thousandths of an hour, and when."""

    hours_mh: int
    at: Moment


def meter(conn: Connection, name: str) -> Meter | None:
    """Return what a compressor's meter showed last, None if nobody read it.

    Early records have readings of it as findings of their own kind (`compressor.hours`).
    """
    act, found = upkeep.last_act(conn, "compressor", name, "ran"), read.finding(conn, "hours", name)
    if act is not None and (found is None or act.seq > found.seq):
        return Meter(json.loads(act.facts)["hours_mh"], Moment(act.at_us, act.offset_min))
    if found is None:
        return None
    return Meter(found.value * _MH_PER_TENTH, Moment(found.at_us, found.offset_min))


def said(data: Mapping[str, Any]) -> str:
    """Return what was done in words, from its entry."""
    facts, told = data["facts"], [f"{data['act']} {data['day']}"]
    if "hours_mh" in facts:
        told.append(f"at {facts['hours_mh'] / 1000.0:g} h")
    if "off_mbar" in facts:
        told.append(f"off by {facts['off_mbar'] / 1000.0:+g} bar")
    if "by" in facts:
        told.append(f"for {facts['by']}")
    if facts.get("found") == "no":
        told.append("NOT FOUND SOUND")
    return ", ".join([*told, *([data["note"]] if data.get("note") else [])])


def history(conn: Connection, station: str, kind: str, name: str) -> Facts:
    """Return everything that was done to an item, oldest first, JSON-ready.

    Raises
    ------
    InputError
        If nothing of that name was ever on record.
    """
    rows = upkeep.acts(conn, kind, name.strip())
    if not rows:
        _known(conn, kind, name)
    names = search.names(conn, {row.person for row in rows} - {""})
    return {"kind": kind, "name": name.strip(),
            "done": [_line(conn, station, row, names) for row in rows]}  # fmt: skip


def _line(conn: Connection, station: str, row: EquipmentActRow, names: dict[str, str]) -> Facts:
    entry = read.entry(conn, station, row.seq)
    text = entry.data["text"] if entry else row.act
    return {"act": row.act, "day": row.day, "ok": row.ok, "text": text, "seq": row.seq,
            "by": names.get(row.person, row.person)}  # fmt: skip
