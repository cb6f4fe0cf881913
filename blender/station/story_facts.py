"""What a fill's story takes from its entries themselves: stops, refusals, holds, signatures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection

from blender.record import private
from blender.record.entry import Entry
from blender.station.numbers import bar, celsius

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
        if entry.kind in _READ and 0 <= entry.data["step"] < len(steps):
            step = steps[entry.data["step"]]
            if step.get("to_mbar", -1) >= 0:
                stop = {"plan_to_bar": bar(step["to_mbar"])}
                found[entry.seq] = stop | {"plan_temperature_c": celsius(step["temp_mk"])}
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


def signatures(conn: Connection, entries: Iterable[Entry]) -> list[Facts]:
    """Return who signed what and when: staff with their keys, the diver by the printed name."""
    found = []
    for entry in entries:
        if entry.kind == "fill.accepted":
            signed = private.get(conn, entry.data["private"]) or {}
            name = signed.get("name", "(erased)")
            facts = {"role": "customer", "meaning": "accepted", "kind": entry.kind}
            found.append({**_who(entry), "by": name, **facts})
        if entry.sig is not None:
            facts = {name: entry.sig[name] for name in ("role", "meaning")}
            found.append({**_who(entry), **facts, "kind": entry.kind})
    return found


def _who(entry: Entry) -> Facts:
    signed = entry.sig or {}
    return {"seq": entry.seq, "at": entry.at.iso, "by": signed.get("name")}
