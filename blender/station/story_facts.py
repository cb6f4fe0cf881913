"""What a fill's story takes from its entries: plans, stops, refusals, holds, signatures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import zip_longest
from typing import Any

from sqlalchemy import Connection

from blender.gas import Mix
from blender.planning.supplies import plain_name
from blender.record import private, search
from blender.record.entry import Entry
from blender.rounding import deeper, shallower
from blender.station.numbers import bar, celsius, fraction

Facts = dict[str, Any]
_READ = ("fill.reading", "fill.reading-corrected")


def planned_stops(entries: Iterable[Entry]) -> dict[int, Facts]:
    """Return, by the entry of each reading, the stop of the plan that was in force then.

    A reading of a step that has no stop of its own gets none.
    """
    steps: list[Mapping[str, Any]] = []
    found: dict[int, Facts] = {}
    for entry in entries:
        if entry.kind == "fill.planned":
            steps = entry.data["steps"]
        if entry.kind in _READ and "shown_mbar" in entry.data:
            shown = {"shown_bar": bar(entry.data["shown_mbar"])}
            found[entry.seq] = shown | {"correction": entry.data["correction"]}
        if entry.kind in _READ and 0 <= entry.data["step"] < len(steps):
            step = steps[entry.data["step"]]
            if step.get("to_mbar", -1) >= 0:
                stop = {"plan_to_bar": bar(step["to_mbar"])}
                stop |= {"plan_temperature_c": celsius(step["temp_mk"])}
                if "stop_mbar" in entry.data:  # the same amount of gas at the reading's warmth
                    stop |= {"stop_here_bar": bar(entry.data["stop_mbar"])}
                found[entry.seq] = found.get(entry.seq, {}) | stop
    return found


def refusals(entries: Iterable[Entry]) -> list[Facts]:
    """Return each act that the gates refused, with what every gate answered."""
    return [
        {**_who(entry), "action": entry.data["action"], "gates": entry.data["gates"]}
        for entry in entries
        if entry.kind == "fill.refused"
    ]


def holds(entries: Iterable[Entry]) -> list[Facts]:
    """Return each time the fill was stopped part-way, and when it went on."""
    found: list[Facts] = []
    for entry in entries:
        if entry.kind == "fill.held":
            found.append({**_who(entry), "reason": entry.data["reason"], "resumed_at": None})
        elif entry.kind == "fill.resumed" and found:
            found[-1]["resumed_at"] = entry.at.iso
    return found


def amendments(conn: Connection, entries: Iterable[Entry]) -> list[Facts]:
    """Return what was put right later: who, why, what it said and what it should have said.

    Of a fill that was voided ``field`` is ``void``, ``old`` where it stood and ``new`` empty.
    """
    found = [entry for entry in entries if entry.kind in ("fill.amended", "fill.voided")]
    of_people = [entry.data for entry in found if entry.data.get("field") == "customer"]
    ids = {str(data[which]) for data in of_people for which in ("old", "new")}
    names = search.names(conn, ids) if ids else {}
    return [{**_who(entry), **_put_right(entry.data, names)} for entry in found]


def _put_right(data: Mapping[str, Any], names: Mapping[str, str]) -> Facts:
    if "field" not in data:
        return {"field": "void", "old": data["was"], "new": "", "reason": data["reason"],
                "notes": []}  # fmt: skip
    old, new = (names.get(data[which], data[which]) for which in ("old", "new"))
    kept = {"field": data["field"], "old": old, "new": new, "reason": data["reason"]}
    return kept | {"notes": list(data["notes"])}


def signatures(conn: Connection, entries: Iterable[Entry]) -> list[Facts]:
    """Return who signed what and when: staff with their keys, the diver by the printed name.

    The diver's has ``signed`` with what was signed for, ``drawn``: whether by hand, and
    ``representative``: whether by the name it was somebody else than the customer.
    """
    found = []
    for entry in entries:
        if entry.kind == "fill.accepted":
            signed = private.get(conn, entry.data["private"]) or {}
            name = signed.get("name", "(erased)")
            facts: Facts = {"role": "customer", "meaning": "accepted", "kind": entry.kind}
            facts |= {"drawn": bool(signed.get("strokes")), "signed": _statement(entry)}
            facts["representative"] = bool(entry.data.get("representative"))
            found.append({**_who(entry), "by": name, **facts})
        if entry.sig is not None:
            facts = {name: entry.sig[name] for name in ("role", "meaning")}
            found.append({**_who(entry), **facts, "kind": entry.kind})
    return found


def _statement(entry: Entry) -> Facts:
    """Return what a diver signed for: the label's figures and the own reading."""
    label, own = entry.data["label"], entry.data
    return {
        "serial": own["serial"],
        "o2": fraction(label["o2_ppm"]),
        "he": _helium(label["he_ppm"]),
        "pressure_bar": bar(label["gauge_mbar"]),
        "temperature_c": celsius(label["temp_mk"]),
        "mod_m": label["mod_mm"] / 1000.0,
        "mod_ppo2_bar": bar(label.get("agreed_mbar", 1400)),  # first format: the usual one
        "floor_m": label["floor_mm"] / 1000.0,
        "own_o2": fraction(own["o2_ppm"]),
        "own_he": _helium(own["he_ppm"]),
        "decision": own["decision"],
    }


def _helium(he_ppm: int) -> float | None:
    return None if he_ppm < 0 else fraction(he_ppm)


def statement_text(signed: Mapping[str, Any]) -> str:
    """Return what a diver signed for in a sentence."""
    helium = "" if signed["he"] is None else f", He {signed['he'] * 100:.1f} %"
    where = f"{signed['pressure_bar']:.1f} bar at {signed['temperature_c']:.1f} degC"
    depth = f"MOD {shallower(signed['mod_m'])} m at ppO2 {signed['mod_ppo2_bar']:g} bar"
    floor = f", floor {deeper(signed['floor_m'])} m" if signed["floor_m"] > 0.0 else ""
    own = f"own reading O2 {signed['own_o2'] * 100:.1f} %"
    gas = f"O2 {signed['o2'] * 100:.1f} %{helium}"
    return f"{signed['serial']}: {gas}, {where}, {depth}{floor}; {own}"


def plans(entries: Iterable[Entry]) -> list[Facts]:
    """Return every plan that was made, oldest first; ``superseded_by`` is the entry of the next."""
    made = [entry for entry in entries if entry.kind == "fill.planned"]
    after = [entry.seq for entry in made[1:]]
    return [
        {**_who(entry), "method": entry.data["method"], "superseded_by": later,
         "steps": [_planned_step(n, step) for n, step in enumerate(entry.data["steps"])]}
        for entry, later in zip_longest(made, after)
    ]  # fmt: skip


def _planned_step(number: int, step: Mapping[str, Any]) -> Facts:
    """Return a step of an entered plan as the story has those of the plan in force."""
    kept: Facts = {"step": number, "action": step["action"], "supply": step.get("supply") or None}
    if step["action"] in ("add", "purge") and (gas := step.get("gas_ppm")):
        o2, he, n2, ar = (part / sum(gas) for part in gas)
        kept["gas"] = plain_name(Mix(o2, he, n2, ar))
    if step.get("to_mbar", -1) >= 0:
        kept |= {"to_bar": bar(step["to_mbar"]), "temperature_c": celsius(step["temp_mk"])}
    return kept


def _who(entry: Entry) -> Facts:
    signed = entry.sig or {}
    return {"seq": entry.seq, "at": entry.at.iso, "by": signed.get("name")}
