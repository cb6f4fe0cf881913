"""A mistyped analysis or residual of an open fill, corrected by whoever entered it.

A new entry names the one it corrects and holds what that should have been; the mistaken one
stays in the record.  It must be the last thing the fill rests on: once a plan was started, or
the diver has read or signed, an analysis anew or an amendment is the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from blender.errors import InputError
from blender.planning.request import parse_gas_at
from blender.record import read
from blender.record.entry import Entry
from blender.record.models import FillRow
from blender.station import requesting
from blender.station.actor import Actor
from blender.station.analysing import Measured, enter_product, enter_residual, have_typed, raw
from blender.station.answer import Answer
from blender.station.contents import ambient_bar
from blender.station.desk import Act, Station
from blender.station.gates import PASS, STOP, Gate
from blender.station.printing import PRINTED
from blender.station.recomputing import measured, raw_of
from blender.station.resting import RESTED, caution, with_caution
from blender.station.states import NEXT

MIX = ("fill.analysed", "fill.analysis-corrected")
RESIDUAL = ("fill.residual", "fill.residual-corrected")
_ASKED = "fill.requested"
# What may lie between an entry and its correction, by what was entered.
_HARMLESS = ("fill.refused", "fill.allowed", "fill.looked", *PRINTED)
_BEFORE_GAS = (*_HARMLESS, "fill.planned", "fill.quarantined", "fill.released")
_OPEN = {"mix": ("analysed", "recheck"), "residual": ("requested", "planned", "held")}


def correct_analysis(
    station: Station, actor: Actor, number: int, *, reading: str = "", helium: str | None = None
) -> Answer:
    """Correct the last analysis of a fill, of the residual or of the mix, which was mistyped.

    It is worked out with the setting the analyser had then, and judged again.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who entered it; nobody else corrects it.
    number : int
        The fill.
    reading, helium : str
        What the analyser showed [%]; what is not given stays as it was typed.

    Raises
    ------
    InputError
        If a value cannot be read, nothing changes, or there is no such fill.
    """
    with station.act(actor, "analyse") as held:
        act = replace(held, name="correct_analysis")
        fill = read.fill(act.conn, number)
        last = _last(act, fill)
        asked = _may_correct(act, fill, last, is_analysis=True)
        if refused := act.refused(fill, asked, {"reading": reading, "helium": helium or ""}):
            return refused
        assert last is not None
        typed, was = _typed(last, reading, helium), last.data["typed"]
        if typed == was:
            raise InputError("--reading", typed["reading"], "that is what was entered already")
        settings, seq, ambient = raw_of(act.conn, act.unit.station, last.seq)
        got = measured(settings, seq, ambient, typed)
        if fill.has_helium and got.he is None:
            raise InputError("--helium", "nothing", "residual or plan has helium: give it too")
        more = {name: last.data[name] for name in ("serial", "analyser")}
        more |= {"corrects": last.seq, "was": was, **raw(ambient, seq)}
        more |= {name: last.data[name] for name in RESTED if name in last.data}
        answer = _entered(act, fill, last, got, more, asked)
        if "rested_min" in more:  # it was read then, and is judged as of then
            said = caution(more["rested_min"], more["advised_min"])
            answer = with_caution(answer, said)
    return _told(answer, last.seq, _words(was))


def _entered(
    act: Act,
    fill: FillRow,
    last: Entry,
    got: Measured,
    more: dict[str, Any],
    asked: Sequence[Gate],
) -> Answer:
    if last.kind in RESIDUAL:
        return enter_residual(act, fill, got, "fill.residual-corrected", more, asked)
    earlier = read.analyses(act.conn, fill.fill, valid_only=True)
    standing = [row for row in earlier if row.seq != last.seq]
    more |= {"set_aside": []}
    return enter_product(act, fill, got, "fill.analysis-corrected", more, (asked, standing))


def correct_residual(
    station: Station, actor: Actor, number: int, *, have: str, residual: str = ""
) -> Answer:
    """Correct what was said to be left in a cylinder, which was mistyped; then plan again.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who took it in.
    number : int
        The fill, into which no gas was let yet.
    have : str
        What is left, as ``60bar@20C:EAN28``; where the gas was analysed, ``60bar@20C`` alone.
    residual : str
        How that is known; as before if empty.

    Raises
    ------
    InputError
        If a value cannot be read, or there is no such fill.
    """
    with station.act(actor, "request") as held:
        act = replace(held, name="correct_residual")
        fill = read.fill(act.conn, number)
        last = _last(act, fill)
        asked = _may_correct(act, fill, last, is_analysis=False)
        if refused := act.refused(fill, asked, {"have": have, "residual": residual}):
            return refused
        assert last is not None
        data = _left(act, fill, have, residual, is_analysed="typed" in last.data)
        data |= {"corrects": last.seq, "was": {"have": fill.have_typed, "residual": fill.residual}}
        act.enter("fill.residual-corrected", data, "requested")
        told = f"Left in it: {data['have_typed']} ({data['residual']}). Plan again from this."
        answer = Answer(number, "requested", asked, text=told)
    return _told(answer, last.seq, fill.have_typed)


def mends(conn: Any, station: str, fill: FillRow) -> str:
    """Say what can be corrected here: ``analysis``, ``residual``, or nothing."""
    last = _basis(read.entries_of_fill(conn, station, fill.fill))
    if last is None or fill.state not in _OPEN["mix" if last.kind in MIX else "residual"]:
        return ""
    return "analysis" if "typed" in last.data else "residual"


def _last(act: Act, fill: FillRow) -> Entry | None:
    return _basis(read.entries_of_fill(act.conn, act.unit.station, fill.fill))


def _basis(entries: Sequence[Entry]) -> Entry | None:
    """Return the entry that what is known of the gas rests on, if nothing was done since."""
    for place, entry in reversed([*enumerate(entries)]):
        if entry.kind in (*MIX, *RESIDUAL, _ASKED):
            harmless = _HARMLESS if entry.kind in MIX else _BEFORE_GAS
            later = entries[place + 1 :]
            return entry if all(one.kind in harmless for one in later) else None
    return None


def _may_correct(act: Act, fill: FillRow, last: Entry | None, *, is_analysis: bool) -> list[Gate]:
    """Can this still be corrected, and by whom?"""
    next_is = NEXT[fill.state]
    if last is None:
        why = f"something was done since what was entered last; next: {next_is}"
        return [Gate("order", STOP, why)]
    if fill.state not in _OPEN["mix" if last.kind in MIX else "residual"]:
        return [Gate("order", STOP, f"it is not corrected while {fill.state}; next: {next_is}")]
    if is_analysis and "typed" not in last.data:
        why = f"nothing was analysed; what is left was stated (entry {last.seq}): correct that"
        return [Gate("order", STOP, why)]
    if not is_analysis and last.kind in MIX:
        return [Gate("order", STOP, "gas was let in: what was left before is no longer corrected")]
    if aside := last.data.get("set_aside"):
        why = f"it decided against entry {aside[0]}: analyse once more, on an analyser set afresh"
        return [Gate("order", STOP, why)]
    passed = Gate("order", PASS, f"nothing rests on entry {last.seq} yet")
    return [passed, _same_person(act.actor, last)]


def _same_person(actor: Actor, last: Entry) -> Gate:
    signed = last.sig or {}
    if signed.get("person") == actor.person:
        return Gate("same-person", PASS, f"{actor.name} entered it")
    why = (
        f"entry {last.seq} is {signed.get('name', 'nobody')}'s: they correct it, or it is analysed "
        "anew"
    )
    return Gate("same-person", STOP, why)


def _typed(last: Entry, reading: str, helium: str | None) -> dict[str, str]:
    """Return what should have been typed; what was not given stays."""
    was = last.data["typed"]
    if not reading.strip() and not (helium or "").strip():
        raise InputError("--reading", "nothing", "give what the analyser showed")
    return {
        "reading": reading.strip() or was["reading"],
        "helium": (helium or "").strip() or was["helium"],
    }


def _left(
    act: Act, fill: FillRow, have: str, residual: str, *, is_analysed: bool
) -> dict[str, Any]:
    """Return what a request would have entered of what is left."""
    if is_analysed and ":" in have:
        told = "its gas was analysed: give pressure and temperature alone, such as 60bar@20C"
        raise InputError("--have", ascii(have[:40]), told)
    known = parse_gas_at(fill.have_typed, "--have")
    if is_analysed:
        typed = parse_gas_at(f"{have.strip()}:air", "--have")
        at_c = requesting.DEFAULT_RESIDUAL_C if typed.temperature_c is None else typed.temperature_c
        have = have_typed(typed.gauge_bar, at_c, known.mix)
    taken = requesting.TakenIn.typed(
        fill.serial,
        fill.customer,
        have,
        residual or fill.residual,
        fill.want_typed,
        fill.ambient_typed,
    )
    vessel = read.cylinder(act.conn, fill.serial)
    facts = requesting.understood(taken.left, taken.wanted, vessel.size_ml / 1e6, ambient_bar(fill))
    names = ("gauge_mbar", "temp_mk", "contents_umol", "has_helium")
    source = requesting.known_by(act, fill.serial, taken.residual)
    said = {"fill": fill.fill, "state": "requested", "have_typed": have, "residual": source}
    return said | {name: facts[name] for name in names}


def _words(typed: dict[str, str]) -> str:
    return " and ".join(filter(None, (typed["reading"], typed["helium"])))


def _told(answer: Answer, seq: int, was: str) -> Answer:
    """Return an answer that says what it corrects."""
    text = f"{answer.text} Corrected: {was} (entry {seq}) was a slip."
    return replace(answer, text=text, facts=answer.facts | {"corrects": seq})
