"""Reading the record: the list of fills, and one fill's whole story."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection

from blender.gas import mix, name_of
from blender.planning.supplies import plain_name
from blender.record import read, search
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.record.moment import Moment
from blender.station import step_words
from blender.station.contents import analysed_text, contents, holds_text
from blender.station.doubts import WAY_OUT, gas_lost
from blender.station.marks import in_a_list, marks
from blender.station.numbers import bar, celsius, fraction
from blender.station.other_site import site_lines
from blender.station.states import NEXT, do_not_breathe
from blender.station.steps import gas_of
from blender.station.story_facts import (
    amendments,
    holds,
    planned_stops,
    plans,
    refusals,
    signatures,
    statement_text,
)
from blender.station.wording import residual_text


def fills(record: Record) -> dict[str, Any]:
    """Return every fill as a JSON-ready line, oldest first."""
    with record.read() as conn:
        names = {row.person: read.called(row) for row in read.people(conn)}
        return {"fills": [fill_facts(row, names, gas_lost(conn, row)) for row in read.fills(conn)]}


def fill_facts(fill: FillRow, names: dict[str, str], lost: str = "") -> dict[str, Any]:
    """Return a fill as a JSON-ready line of the list; `lost` says that its gas was lost."""
    analysed = None
    if fill.o2_ppm >= 0:
        helium = None if fill.he_ppm < 0 else fraction(fill.he_ppm)
        analysed = {"o2": fraction(fill.o2_ppm), "he": helium}
    return {
        "fill": fill.fill,
        "state": fill.state,
        "cylinder": fill.serial,
        "customer": names.get(fill.customer, fill.customer),
        "wanted": {
            "o2": fraction(fill.want_o2_ppm),
            "he": fraction(fill.want_he_ppm),
            "pressure_bar": bar(fill.want_mbar),
        },
        "analysed": analysed,
        "pressure_bar": bar(fill.gauge_mbar),
        "blender": names.get(fill.blender, fill.blender) or None,
        "requested_at": when(fill.requested_us, fill.offset_min),
        "accepted_at": when(fill.accepted_us, fill.offset_min) or None,
        **in_a_list(fill.state, fill.amended_by),
        **({"gas_lost": lost} if lost else {}),
        **danger(fill),
    }


def danger(fill: FillRow) -> dict[str, Any]:
    """Return what must be said of a cylinder that nobody may breathe from, or not yet."""
    if not do_not_breathe(fill.state, has_gas=fill.has_gas):
        return {"do_not_breathe": False}
    o2, he, *rest = json.loads(fill.contents_umol)
    total = o2 + he + sum(rest)
    helium = f" He {he / total * 100:.1f} %" if he else ""
    said = f"O2 {o2 / total * 100:.1f} %{helium} (calculated) - DO NOT BREATHE"
    return {"do_not_breathe": True, "holds_text": said}


def when(us: int, offset_min: int) -> str:
    """Return a stored time in the station's zone, empty if it is not there."""
    return Moment(us, offset_min).iso if us else ""


def story(record: Record, number: int) -> dict[str, Any]:
    """Return one fill's whole story: plan against readings, analyses, exceptions, entries.

    Raises
    ------
    InputError
        If there is no such fill.
    """
    with record.read() as conn:
        fill = read.fill(conn, number)
        names = _names(conn, fill)
        entries = read.entries_of_fill(conn, record.station, number)
        inside = contents(fill, read.cylinder(conn, fill.serial))
        times = {entry.seq: entry.at.iso for entry in entries}  # each in its own entry's zone
        lost = gas_lost(conn, fill)
        line = fill_facts(fill, names, lost)
        return {
            **line,
            "accepted_at": times.get(fill.accepted_seq, line["accepted_at"]),
            "next": WAY_OUT if lost else NEXT[fill.state],
            "marks": [*filter(None, [lost]), *marks(read.exceptions(conn, number))],
            "holds_text": line.get(
                "holds_text", analysed_text(fill) or _holds(fill, holds_text(inside))
            ),
            "have": fill.have_typed,
            "have_text": residual_text(fill),
            "residual": fill.residual,
            "method": fill.method or None,
            "step": fill.step,
            "steps": [_step(row) for row in read.steps(conn, number)],
            "plans": plans(entries),
            "readings": _readings(conn, fill, names, planned_stops(entries), times),
            "analyses": _analyses(conn, fill, names),
            "holds": holds(entries),
            "refusals": refusals(entries),
            "exceptions": _exceptions(conn, fill, names, times),
            "amendments": amendments(conn, entries),
            "accepted_by": fill.accepted_name,
            "signatures": signatures(conn, entries),
            "other_sites": site_lines(conn, number),
            "entries": [_entry(entry) for entry in entries],
        }


def _holds(fill: FillRow, text: str) -> str:
    return f"{text} ({'as an earlier book has it' if fill.state == 'imported' else 'calculated'})"


def _names(conn: Connection, fill: FillRow) -> dict[str, str]:
    """Return the names of everybody who had to do with a fill."""
    people = {fill.customer, fill.blender}
    people |= {row.person for row in read.readings(conn, fill.fill)}
    people |= {row.person for row in read.analyses(conn, fill.fill)}
    people |= {row.person for row in read.exceptions(conn, fill.fill)}
    return search.names(conn, people - {""})


def _step(row: Any) -> dict[str, Any]:
    kept = {"step": row.number, "action": row.action, "supply": row.supply or None}
    kept |= {"seq": row.seq}
    if row.action in ("add", "purge"):
        kept["gas"] = plain_name(gas_of(row))
    if also := step_words.tag_notes(row):
        kept["also"] = list(also)
    kept |= {"holds": {"o2": fraction(row.holds_o2_ppm), "he": fraction(row.holds_he_ppm)}}
    if row.to_mbar >= 0:
        kept |= {"to_bar": bar(row.to_mbar), "temperature_c": celsius(row.temp_mk)}
    return kept


def drawn_text(step: dict[str, Any]) -> str:
    """Return the gas of a step and, where that says more, the supply it comes from."""
    gas, supply = step.get("gas", ""), step["supply"] or ""
    if not gas or supply in ("", "top", gas):
        return gas or supply
    return f"{gas} from {supply}"


def _readings(
    conn: Connection,
    fill: FillRow,
    names: dict[str, str],
    stops: dict[int, dict[str, Any]],
    times: dict[int, str],
) -> list[dict[str, Any]]:
    return [
        {
            "step": row.number,
            "pressure_bar": bar(row.gauge_mbar),
            "temperature_c": celsius(row.temp_mk),
            "kind": row.kind,
            "gauge": row.gauge or None,
            "typed": f"{row.typed_at} {row.typed_temperature}".strip(),
            "closes": row.closes,
            **stops.get(row.seq, {}),
            "corrected_by": row.corrected_by or None,
            "by": names.get(row.person, row.person),
            "at": times.get(row.seq, when(row.at_us, fill.offset_min)),
            "seq": row.seq,
        }
        for row in read.readings(conn, fill.fill)
    ]


def _analyses(conn: Connection, fill: FillRow, names: dict[str, str]) -> list[dict[str, Any]]:
    return [
        {
            "party": row.party,
            "serial": row.serial,
            "analyser": row.analyser or None,
            "typed": f"{row.typed_reading} {row.typed_helium}".strip(),
            "o2": fraction(row.o2_ppm),
            "o2_uncertainty": fraction(row.o2_u_ppm),
            "he": None if row.he_ppm < 0 else fraction(row.he_ppm),
            "decision": row.decision or None,
            "stands": row.valid,
            "by": names.get(row.person, row.person),
            "at": when(row.at_us, row.offset_min),
            "seq": row.seq,
        }
        for row in read.analyses(conn, fill.fill)
    ]


def _exceptions(
    conn: Connection, fill: FillRow, names: dict[str, str], times: dict[int, str]
) -> list[dict[str, Any]]:
    return [
        {
            "kind": row.kind,
            "text": row.text,
            "by": names.get(row.person, row.person),
            "at": times.get(row.seq, when(row.at_us, fill.offset_min)),
            "seq": row.seq,
        }
        for row in read.exceptions(conn, fill.fill)
    ]


def _entry(entry: Entry) -> dict[str, Any]:
    signed = entry.sig or {}
    return {
        "seq": entry.seq,
        "kind": entry.kind,
        "at": entry.at.iso,
        "signed_by": signed.get("name"),
        "role": signed.get("role"),
        "meaning": signed.get("meaning"),
        "sealed": entry.seal is not None,
        "digest": entry.digest.hex(),
        **({"gates": entry.data["gates"]} if "gates" in entry.data else {}),
    }


def journal(record: Record) -> Iterator[dict[str, Any]]:
    """Give every entry, whole, with its digests: the machine-readable copy of the record."""
    with record.read() as conn:
        for entry in read.entries(conn, record.station):
            yield {
                "seq": entry.seq,
                "prev": entry.prev.hex(),
                "digest": entry.digest.hex(),
                "body": entry.content,
            }


def fill_line(row: dict[str, Any]) -> str:
    """Return a fill as a line of the list."""
    analysed = row["analysed"]
    made = f"{analysed['o2'] * 100:.1f} %" if analysed else "-"
    gas = mix(row["wanted"]["o2"], row["wanted"]["he"])
    wanted = f"{name_of(gas)} {row['wanted']['pressure_bar']:.0f} bar"
    where = f"{row['fill']:>5} {row['requested_at'][:10]} {row['state']:11} {row['cylinder']:15}"
    line = f"{where} {wanted:14} {made:>6} {row['customer']}"
    if row["amended_by"]:
        line += f"  AMENDED by entry {row['amended_by']}"
    if row["imported"]:
        line += "  NOT SIGNED: from an earlier book"
    line = f"{line}\n      {row['holds_text']}" if row["do_not_breathe"] else line
    return f"{line}\n      {row['gas_lost']}" if "gas_lost" in row else line


def story_lines(story: dict[str, Any]) -> list[str]:
    """Return a fill's story as lines for people."""
    return [
        fill_line(story).splitlines()[0],
        *story["marks"],
        *story["other_sites"],
        f"in it before: {story['have_text']} ({story['residual']}), by {story['method'] or '-'}",
        f"in it: {story['holds_text']}",
        f"next: {story['next']}",
        "plan:",
        *(_step_line(step) for step in story["steps"]),
        *_earlier_plans(story["plans"]),
        "readings:",
        *(_reading_line(row) for row in story["readings"]),
        "analyses:",
        *(_analysis_line(row) for row in story["analyses"]),
        "exceptions:",
        *(
            f"  {row['at']} {row['kind']}: {row['text']} ({row['by'] or 'the station'})"
            for row in story["exceptions"]
        ),
        *(line for row in story["refusals"] for line in _refusal_lines(row)),
        "signatures:",
        *(_signature_line(row) for row in story["signatures"]),
        "entries:",
        *(_entry_line(row) for row in story["entries"]),
    ]


def _earlier_plans(plans: list[dict[str, Any]]) -> Iterator[str]:
    """Give the plans that were made before the one in force."""
    for plan in plans:
        if plan["superseded_by"] is not None:
            made = f"by {plan['by']} {plan['at']} (entry {plan['seq']})"
            yield f"plan before, {plan['method']}, {made}:"
            yield from map(_step_line, plan["steps"])


def _step_line(step: dict[str, Any]) -> str:
    to = (
        f" to {step['to_bar']:.1f} bar at {step['temperature_c']:.1f} degC"
        if "to_bar" in step
        else ""
    )
    also = "".join(f"; {note}" for note in step.get("also", ()))
    line = f"{step['step'] + 1}. {step['action']} {drawn_text(step)}{to}".replace("  ", " ")
    return f"  {line}{also}"


def _reading_line(row: dict[str, Any]) -> str:
    shown = f"{row['pressure_bar']:.1f} bar {row['temperature_c']:.1f} degC {row['kind']}"
    closes = "closes the step" if row["closes"] else "on the way"
    stop = ""
    if "plan_to_bar" in row:
        stop = f", plan {row['plan_to_bar']:.1f} bar at {row['plan_temperature_c']:.1f} degC"
    if "stop_here_bar" in row and row["temperature_c"] != row["plan_temperature_c"]:
        stop += f" ({row['stop_here_bar']:.1f} bar at the reading's)"
    if "shown_bar" in row:
        shown += (
            f" (the dial showed {row['shown_bar']:.1f}, corrected by entry {row['correction']})"
        )
    return f"  {row['at']} step {row['step'] + 1}: {shown}{stop}, {closes} ({row['by']})"


def _analysis_line(row: dict[str, Any]) -> str:
    helium = "" if row["he"] is None else f", He {row['he'] * 100:.1f} %"
    stands = "" if row["stands"] or row["party"] == "residual" else " - set aside"
    on = f" on {row['analyser']}" if row["analyser"] else ""
    read_as = f"read {row['typed']}{on}, O2 {row['o2'] * 100:.2f} %{helium}"
    return f"  {row['at']} {row['party']}: {read_as} {row['decision'] or ''}{stands} ({row['by']})"


def _refusal_lines(row: dict[str, Any]) -> Iterator[str]:
    """Give what a refused act was, and each gate that did not let it pass."""
    yield f"  {row['at']} {row['action']} refused ({row['by']}):"
    for gate in row["gates"]:
        if gate["answer"] != "pass":
            yield f"    {gate['gate']}: {gate['answer']}: {gate['reason']}"


def _signature_line(row: dict[str, Any]) -> str:
    what = f"{row['meaning']} ({row['kind']}, entry {row['seq']})"
    line = f"  {row['at']} {row['by']}, {row['role']}: {what}"
    if "signed" not in row:
        return line
    how = "drawn by hand" if row["drawn"] else "typed"
    return f"{line}, {how}, for {statement_text(row['signed'])}"


def _entry_line(row: dict[str, Any]) -> str:
    signed = (
        f"{row['signed_by']}, {row['role']}: {row['meaning']}" if row["signed_by"] else "sealed"
    )
    return f"  {row['seq']:>6} {row['at']} {row['kind']:18} {signed}"
