"""What was entered wrongly and found later: amended or voided by a new entry, never edited."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from blender import decision
from blender.errors import InputError
from blender.record import read
from blender.record.models import AnalysisRow, FillRow
from blender.record.text import clean_text
from blender.station import gates
from blender.station.actor import Actor
from blender.station.analysing import limits_of, raw, wanted_mix
from blender.station.answer import Answer
from blender.station.contents import ambient_bar, contents
from blender.station.desk import Act, Station
from blender.station.equipment import serial_of
from blender.station.gates import PASS, STOP, Gate
from blender.station.handover import analysis_mix
from blender.station.outdone import reading_of
from blender.station.planning import pressure_gates
from blender.station.recomputing import measured, raw_of

_SIGNED = ("accepted", "collected")
_WHERE = {
    "cylinder": (*_SIGNED, "rejected", "imported"),
    "reading": _SIGNED,
    "helium": _SIGNED,
}
_INSTEAD = {
    "cylinder": "give this fill up and take in the right cylinder, whose limits count",
    "reading": "analyse it again instead",
    "helium": "analyse it again instead",
}


@dataclass(frozen=True, slots=True)
class _Change:
    """One thing put right: what was entered, what it should have been, what that means."""

    old: str
    new: str
    data: dict[str, Any]
    notes: Sequence[str] = ()


def amend(
    station: Station,
    actor: Actor,
    number: int,
    *,
    field: str,
    to: str,
    reason: str,
    post: str = "",
) -> Answer:
    """Amend what was entered wrongly with a fill: a new entry names the old value and the new.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager.
    number : int
        The fill.
    field : str
        ``customer``, ``cylinder``, or the station's own ``reading`` or ``helium`` reading.
    to : str
        What it should have been: a name or id, a serial, or percent as the analyser showed it.
    reason : str
        Why; it stays for ever, so it names nobody.
    post : str
        Which post's reading, of a set.

    Raises
    ------
    InputError
        If a value cannot be read, nothing changes, or no reason is given.
    """
    why = clean_text(reason, "--reason", 300)
    if field not in _CHANGES:
        raise InputError("--field", repr(field[:40]), "allowed are " + ", ".join(_CHANGES))
    with station.act(actor, "amend") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where, _open_to(field, fill)], {"field": field}):
            return refused
        change = _CHANGES[field](act, fill, to, post)
        if change.old == change.new:
            raise InputError("--to", repr(to[:80]), f"that is what fill {number} says already")
        data = {"fill": number, "field": field, "old": change.old, "new": change.new}
        data |= {"reason": why, "notes": list(change.notes), **change.data}
        if fill.state == "accepted" and "analysis" in change.data:
            data["state"] = _unsigned(change.data["analysis"]["decision"])
        entry = act.enter("fill.amended", data, "amended")
    mind = "".join(f" Mind: {note}." for note in change.notes)
    told = f"Amended by entry {entry.seq}: {field} {change.old} -> {change.new}.{mind}"
    if fill.state == "collected":
        told += " The cylinder is out with its label: call the customer."
    if "state" in data:
        told += " What was signed for no longer holds: take the label off, have it signed for anew."
    return Answer(
        number, str(data.get("state", fill.state)), [where], text=told, facts={"seq": entry.seq}
    )


def _unsigned(outcome: str) -> str:
    """Return where a fill goes back to when the analysis that was signed for is amended."""
    return "recheck" if outcome == "recheck" else "analysed"


def _open_to(field: str, fill: FillRow) -> Gate:
    """May this be amended where the fill stands?"""
    states = _WHERE.get(field)
    if states is None or fill.state in states:
        return Gate("amendable", PASS, f"{field} may be amended while {fill.state}")
    why = f"{field} is not amended while {fill.state}: {_INSTEAD[field]}"
    return Gate("amendable", STOP, why)


def _customer(act: Act, fill: FillRow, to: str, post: str) -> _Change:  # noqa: ARG001 - one signature for all
    person = read.customer(act.conn, to, "--to")
    standing = read.analyses(act.conn, fill.fill, valid_only=True)
    notes = []
    if standing:
        gas = analysis_mix(max(row.o2_ppm for row in standing) / 1e6, standing)
        notes = _objections([gates.certification(person.certified, gas)])
    return _Change(fill.customer, person.person, {"customer": person.person}, notes)


def _cylinder(act: Act, fill: FillRow, to: str, post: str) -> _Change:  # noqa: ARG001 - one signature for all
    old = read.cylinder(act.conn, fill.serial)
    new = read.cylinder(act.conn, serial_of(to))
    if fill.state == "imported":  # nobody here reckoned with either
        return _Change(fill.serial, new.serial, {"serial": new.serial})
    if (old.size_ml, old.posts) != (new.size_ml, new.posts):
        size = f"{new.serial} is {new.size_typed}, the fill was reckoned for {old.size_typed}"
        raise InputError("--to", repr(to[:80]), f"{size}: void this fill and enter it again")
    asked = pressure_gates(act, new, contents(fill, new), ambient_bar(fill))
    if not new.clean and fill.o2_ppm / 1e6 > act.rules.clean_above_o2:
        why = f"{new.serial} is not in oxygen service and held {fill.o2_ppm / 1e4:.1f} % oxygen"
        asked.append(Gate("oxygen-clean", STOP, why))
    return _Change(fill.serial, new.serial, {"serial": new.serial}, _objections(asked))


def _objections(asked: Sequence[Gate]) -> list[str]:
    return [f"{one.gate}: {one.reason}" for one in asked if one.answer != PASS]


def _oxygen(act: Act, fill: FillRow, to: str, post: str) -> _Change:
    row = _mistaken(act, fill, post)
    typed = {"reading": to.strip(), "helium": row.typed_helium}
    return _reading(act, fill, row, typed, (row.typed_reading, typed["reading"]))


def _helium(act: Act, fill: FillRow, to: str, post: str) -> _Change:
    row = _mistaken(act, fill, post)
    typed = {"reading": row.typed_reading, "helium": to.strip()}
    return _reading(act, fill, row, typed, (row.typed_helium or "not measured", typed["helium"]))


def _mistaken(act: Act, fill: FillRow, post: str) -> AnalysisRow:
    """Return the station's reading that stands, of a post if one is named."""
    standing = read.analyses(act.conn, fill.fill, valid_only=True)
    found = [r for r in standing if r.party == "staff" and post in ("", r.serial)]
    if not found:
        raise InputError("--post", repr(post[:40]), "no reading of the station's stands there")
    if len({row.serial for row in found}) > 1:
        posts = " or ".join(row.serial for row in found)
        raise InputError("--post", "nothing", f"say whose reading was mistyped: {posts}")
    return found[-1]


def _reading(
    act: Act, fill: FillRow, row: AnalysisRow, typed: dict[str, str], change: tuple[str, str]
) -> _Change:
    """Work a mistyped reading out again, with the setting the analyser had then."""
    settings, seq, ambient = raw_of(act.conn, act.unit.station, row.seq)
    got = measured(settings, seq, ambient, typed)
    standing = read.analyses(act.conn, fill.fill, valid_only=True)
    verdict = decision.decide(
        [
            decision.Reading(got.o2, got.he),
            *(reading_of(one) for one in standing if one.seq != row.seq),
        ],
        wanted_mix(fill),
        limits_of(act, read.cylinder(act.conn, fill.serial), fill),
        helium_expected=fill.has_helium,
    )
    outcome = verdict.decision or "reject"
    facts = {**got.facts(), **raw(ambient, seq), "serial": row.serial, "analyser": row.analyser}
    notes = _of_the_label(act, fill, got.facts()["o2_ppm"])
    if outcome not in ("accept", "relabel"):
        notes.append(f"by this reading it is '{outcome}'")
    data = {"corrects": row.seq, "analysis": {**facts, "decision": outcome}}
    return _Change(*change, data, notes)


def _of_the_label(act: Act, fill: FillRow, o2_ppm: int) -> list[str]:
    """Say where the depths somebody signed for do not hold any more."""
    entry = read.entry(act.conn, act.unit.station, fill.accepted_seq)
    label = entry.data["label"] if entry else {}
    if o2_ppm > label.get("mod_o2_ppm", label.get("o2_ppm", o2_ppm)):
        return [f"{o2_ppm / 1e4:.1f} % oxygen: the MOD on the label is TOO DEEP"]
    if o2_ppm < label.get("floor_o2_ppm", o2_ppm):
        return [f"{o2_ppm / 1e4:.1f} % oxygen: the floor on the label may be too shallow"]
    return []


_CHANGES: dict[str, Callable[[Act, FillRow, str, str], _Change]] = {
    "customer": _customer,
    "cylinder": _cylinder,
    "reading": _oxygen,
    "helium": _helium,
}


def void(station: Station, actor: Actor, number: int, *, reason: str) -> Answer:
    """Void a fill that was entered by mistake: nothing is deleted, and every view says so.

    Its supplies get back what it was thought to have drawn, unless their gauges were read
    since.  One with gas in it is given up or set apart first: the cylinder is still there.

    Raises
    ------
    InputError
        If no reason is given, or there is no such fill.
    """
    why = clean_text(reason, "--reason", 300)
    with station.act(actor, "void") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where]):
            return refused
        data = {"fill": number, "was": fill.state, "reason": why}
        entry = act.enter("fill.voided", data, "voided")
    told = f"Voided by entry {entry.seq}: fill {number} was entered by mistake."
    if fill.state in _SIGNED:
        told += " Its label is void: take it off the cylinder, which is analysed before use."
    return Answer(number, "voided", [where], text=told, facts={"seq": entry.seq})
