"""A mistyped gauge reading, corrected by a new entry: what was entered is never changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from blender.record import read
from blender.record.entry import Entry
from blender.record.models import FillRow, ReadingRow
from blender.record.projection import compact
from blender.station.actor import Actor
from blender.station.ahead import is_active
from blender.station.answer import Answer
from blender.station.desk import Act, Station
from blender.station.gates import PASS, STOP, Gate
from blender.station.gauge import typed_reading
from blender.station.printing import PRINTED
from blender.station.states import NEXT
from blender.station.taking import take, told

_OPEN = ("filling", "resting", "held")
_HARMLESS = (
    "fill.refused",
    "fill.held",
    *PRINTED,
)  # what may lie between a reading and its correction


def correct_reading(
    station: Station,
    actor: Actor,
    number: int,
    *,
    at: str = "",
    temperature: str = "",
    kind: str = "gas",
    gauge: str = "",
    scale: str = "",
) -> Answer:
    """Correct the last gauge reading of a fill, which was mistyped.

    It is judged again where the fill stood before the mistaken reading, so that nothing of
    that one's effect remains; the mistaken reading stays in the record, marked.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Whoever may enter a reading.
    number : int
        The fill.
    at, temperature : str
        What the gauge showed, and the temperature, with their units.
    kind : str
        Whether that temperature is of the ``gas``, the ``wall`` or the ``room``.
    gauge : str
        Which gauge, if it is named.
    scale : str
        By mass: what the scale showed instead.

    Raises
    ------
    InputError
        If a value cannot be read, or there is no such fill.
    """
    typed = typed_reading(at, temperature, kind, gauge, scale)
    with station.act(actor, "reading") as held:
        act = replace(held, name="correct_reading")  # who may read may correct
        fill = read.fill(act.conn, number)
        standing = read.readings(act.conn, number, standing_only=True)
        entries = read.entries_of_fill(act.conn, act.unit.station, number)
        where = _possible(fill, standing, entries)
        if refused := act.refused(fill, [where], typed.facts()):
            return refused
        mistaken, earlier = standing[-1], standing[:-1]
        first = _first_entered(entries, mistaken.seq)
        known = _known_before(entries, first.seq)
        was = _as_it_was(act, fill, mistaken, known)
        taken = take(act, was, typed, first.at.us, earlier)
        state = "held" if fill.state == "held" else taken.state
        act.enter("fill.reading-corrected", _entry(mistaken, taken.facts(), known, state), "read")
        slipped = f"{mistaken.typed_at} {mistaken.typed_temperature}".strip()
        slip = f"Corrected: {slipped} was a slip."
        answer = told(act, taken, [where], state, slip)
    return replace(answer, facts=answer.facts | {"corrects": mistaken.seq})


def _entry(
    mistaken: ReadingRow, facts: dict[str, Any], known: dict[str, Any], state: str
) -> dict[str, Any]:
    """Return what is entered: a reading, what it corrects, and the gauge as known before."""
    after = facts["state"]
    return {
        **facts,
        "state": state,
        "resumes_to": after if state == "held" else "",
        "corrects": mistaken.seq,
        "before": {name: known[name] for name in ("gauge_mbar", "temp_mk", "kind", "gauge")},
    }


def _possible(fill: FillRow, standing: Sequence[ReadingRow], entries: Sequence[Entry]) -> Gate:
    """Can the last reading still be corrected?"""
    if fill.state not in _OPEN:
        why = f"a reading is not corrected while {fill.state}; next: {NEXT[fill.state]}"
        return Gate("order", STOP, why)
    if not standing:
        why = f"there is no reading to correct; next: {NEXT[fill.state]}"
        return Gate("order", STOP, why)
    last = standing[-1]
    since = [e for e in entries if e.seq > last.seq and e.kind not in _HARMLESS]
    if since:
        then = f"{since[0].kind} (entry {since[0].seq})"
        why = (
            f"the last reading, {last.typed_at} {last.typed_temperature} (entry {last.seq}), was "
            f"followed by {then}: hold, let it rest, analyse what is in it, then plan again"
        )
        return Gate("order", STOP, why)
    return Gate("order", PASS, f"entry {last.seq} is the last thing that happened to this fill")


def _first_entered(entries: Sequence[Entry], seq: int) -> Entry:
    """Return the entry by which a reading was first taken, before any correction of it."""
    known = {entry.seq: entry for entry in entries}
    while (corrects := known[seq].data.get("corrects")) is not None:
        seq = corrects
    return known[seq]


def _known_before(entries: Sequence[Entry], seq: int) -> dict[str, Any]:
    """Return what was known of contents and gauge before an entry.

    Every correction of an earlier reading was entered before this one was taken, so the
    last that says something is the one that stands.
    """
    known: dict[str, Any] = {"kind": "gas", "gauge": ""}
    for entry in entries:
        if entry.seq >= seq:
            break
        data = entry.data
        if "contents_umol" in data:
            known["contents_umol"] = data["contents_umol"]
        if "gauge_mbar" in data:
            shown = data if data.get("counts", True) else data.get("before", {})
            names = ("gauge_mbar", "temp_mk", "kind", "gauge")
            known |= {name: shown[name] for name in names if name in shown}
    return known


def _as_it_was(act: Act, fill: FillRow, mistaken: ReadingRow, known: dict[str, Any]) -> FillRow:
    """Return the fill as it stood when the mistaken reading was taken."""
    steps = read.steps(act.conn, fill.fill)
    state = "filling" if is_active(steps[mistaken.number :]) else "resting"
    then = {
        "state": state,
        "step": mistaken.number,
        "contents_umol": compact(known["contents_umol"]),
        "gauge_mbar": known["gauge_mbar"],
        "temp_mk": known["temp_mk"],
        "temp_kind": known["kind"],
        "gauge": known["gauge"],
    }
    return FillRow(**fill.model_dump() | then)
