"""What was asked before and may have changed since: asked again when a cylinder is handed out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from sqlalchemy import bindparam, or_

from blender.record import read, search, shop
from blender.record.entry import Entry
from blender.record.models import AnalysisRow, CylinderRow, FillRow, FindingRow
from blender.record.projection import table
from blender.station import fitness, gates
from blender.station.asking import HOUR_US
from blender.station.contents import ambient_bar, contents, gases_let_in
from blender.station.desk import Act
from blender.station.gates import ASK, PASS, STOP, Gate
from blender.station.other_site import hold_gate
from blender.station.planning import pressure_gates, stamp_gates
from blender.station.read_elsewhere import elsewhere_gate
from blender.station.set_apart import quarantine_gate

_of = table(FindingRow).c
_FOUND_OFF = read.by(
    FindingRow,
    or_(_of.what == "drift", _of.what == "as-found"),
    _of.about == bindparam("about"),
    _of.seq > bindparam("after"),
    _of.seq <= bindparam("before"),
    order=[_of.seq.desc()],
)


def before_signing(
    act: Act, fill: FillRow, cylinder: CylinderRow, standing: Sequence[AnalysisRow]
) -> list[Gate]:
    """Ask again about the cylinder's service, the analyser's setting and drift, and who filled."""
    entries = read.entries_of_fill(act.conn, act.unit.station, fill.fill)
    asked = [
        gates.oxygen_clean(
            cylinder.clean, gases_let_in(read.steps(act.conn, fill.fill)), act.rules
        ),
        *meters(act, standing, entries),
        *_filled_by(act, fill),
    ]
    return [_let_on(gate, entries) for gate in asked]


def _let_on(gate: Gate, entries: Iterable[Entry]) -> Gate:
    """Pass what a manager let on when it was asked first: that is in the record for ever."""
    if gate.answer != ASK:
        return gate
    for entry in entries:
        if any(text.startswith(f"{gate.gate}: ") for text in entry.data.get("allowed", ())):
            return replace(gate, answer=PASS, reason=f"{gate.reason}; let on by entry {entry.seq}")
    return gate


def meters(act: Act, standing: Sequence[AnalysisRow], entries: Sequence[Entry]) -> list[Gate]:
    """Ask whether each analyser was set when it was read, and not found off since it was."""
    last = {row.serial: row for row in standing if row.party == "staff"}
    by_seq = {entry.seq: entry for entry in entries}
    return [gate for row in last.values() for gate in _meter(act, row, by_seq.get(row.seq))]


def _meter(act: Act, row: AnalysisRow, entry: Entry | None) -> list[Gate]:
    data = {} if entry is None else entry.data.get("analysis", entry.data)
    set_by = read.entry(act.conn, act.unit.station, data.get("calibration", 0))
    if set_by is None:
        return []  # read before settings were kept with an analysis
    hours = (row.at_us - set_by.at.us) / HOUR_US
    now_set = read.analyser(act.conn, row.analyser).seq
    off = _found_off(act, row.analyser, set_by.seq, now_set if now_set > row.seq else 2**62)
    drift = fitness.drift(row.analyser, off, act.rules)
    if drift.answer == STOP:
        drift = replace(drift, reason=f"{drift.reason}, then analyse again")
    return [gates.calibrated(row.analyser, hours, act.rules), drift]


def _found_off(act: Act, analyser: str, after: int, before: int) -> float | None:
    """Return how far off an analyser was at its last check in a stretch of the record [points]."""
    values = {"about": analyser, "after": after, "before": before}
    found = read.asked(act.conn, FindingRow, _FOUND_OFF, values)
    return found[0].value / 1e4 if found else None


def _filled_by(act: Act, fill: FillRow) -> list[Gate]:
    """Ask whether whoever filled is qualified for the method, as they stand now."""
    if not fill.blender:
        return []
    standing = act.station.roll.of(fill.blender)
    name = search.names(act.conn, [fill.blender]).get(fill.blender, fill.blender)
    method = fill.method.rpartition(" + ")[2]
    methods = standing.qualified if standing else ()
    return [fitness.qualified(name, methods, method, act.rules)]


def set_apart(act: Act, fill: FillRow, *, at_hand: bool) -> list[Gate]:
    """Ask whether anybody set it apart, or read other gas in it, here or at another station."""
    asked = [quarantine_gate(act.conn, fill.serial)]
    if shop.analysed_away(act.conn, fill.fill):
        asked.append(elsewhere_gate(act.conn, fill, at_hand=at_hand))
    hold = hold_gate(act.conn, fill.serial, at_hand=at_hand, before="it is handed over")
    if hold.caution or hold.answer != PASS or shop.known_cylinders(act.conn, fill.serial):
        asked.append(hold)
    return asked


def before_handing_over(act: Act, fill: FillRow, *, at_hand: bool = False) -> list[Gate]:
    """Ask whether a signed-for cylinder may leave: today, as it is, by all that is known."""
    cylinder = read.cylinder(act.conn, fill.serial)
    standing = read.analyses(act.conn, fill.fill, valid_only=True)
    entries = read.entries_of_fill(act.conn, act.unit.station, fill.fill)
    asked = [
        _signed_for(fill, standing),
        *set_apart(act, fill, at_hand=at_hand),
        *stamp_gates(act, cylinder),
        *pressure_gates(act, cylinder, contents(fill, cylinder), ambient_bar(fill)),
        *_found_wrong(act, fill),
        *meters(act, standing, entries),
        _amended(fill, entries),
    ]
    return [_let_on(gate, entries) for gate in asked]


def _signed_for(fill: FillRow, standing: Sequence[AnalysisRow]) -> Gate:
    """Was it analysed by the station and signed for by the diver?"""
    if not any(row.party == "staff" for row in standing):
        return Gate("signed-for", STOP, "no analysis of the station's stands")
    if not fill.accepted_seq or fill.decision not in ("accept", "relabel"):
        return Gate("signed-for", STOP, f"nobody signed for it: {fill.decision or 'not analysed'}")
    return Gate("signed-for", PASS, f"analysed, and signed for by entry {fill.accepted_seq}")


def _found_wrong(act: Act, fill: FillRow) -> list[Gate]:
    """Return what was found wrong with the cylinder at this visit."""
    found = {what: read.finding(act.conn, what, number=fill.fill) for what in fitness.LOOKS}
    return [
        fitness.looked(what, row.ok, row.text, is_rule=False)
        for what, row in found.items()
        if row is not None and not row.ok
    ]


def _amended(fill: FillRow, entries: Iterable[Entry]) -> Gate:
    """Was what the label says amended since the diver signed?  Whose it is stands on no label."""
    since = [
        entry for entry in entries if entry.kind == "fill.amended" and entry.seq > fill.accepted_seq
    ]
    for entry in since:
        if (field := entry.data["field"]) != "customer":
            told = f"{field} amended by entry {entry.seq} since it was signed for"
            return Gate("amended", ASK, f"{told}: print the label anew")
    return Gate("amended", PASS, "nothing on the label amended since it was signed for")
