"""A fill's story in words, section by section."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from textual.content import Content

from blender.gas import mix
from blender.planning.request import parse_gas_at
from blender.planning.supplies import plain_name
from blender.station.book import drawn_text
from blender.station.story_facts import statement_text
from tui.plain import plain
from tui.saying import said
from tui.shown import Units

Row = dict[str, Any]


def told(story: Row, units: Units) -> Content:
    """Return a story as `blender.station.book.story` gives it, in the units shown."""
    parts: list[Content] = [*_head(story, units)]
    for heading, lines in (
        *_amended(story["amendments"]),
        *([("AT OTHER STATIONS", story["other_sites"])] if story["other_sites"] else []),
        ("PLAN AGAINST READINGS", [*_plan(story, units)]),
        *_earlier(story["plans"], units),
        ("ANALYSES", [*map(_analysis, story["analyses"])]),
        ("WHAT THE DIVER SIGNED", [*_signed(story["signatures"], units)]),
        ("HOLDS, REFUSALS AND OTHER EXCEPTIONS", [*_exceptions(story, units)]),
        ("SIGNATURES", [*_signatures(story)]),
        ("ENTRIES AND THEIR DIGESTS", [*_entries(story)]),
    ):
        parts += [Content(""), plain(heading, "bold underline")]
        parts += [plain(part) for line in lines for part in line.split("\n")] or [plain("none")]
    return Content("\n").join(parts)


def when(iso: str | None) -> str:
    """Return a moment to the minute, as the station's clock showed it."""
    return str(iso or "-")[:16].replace("T", " ")


def _head(story: Row, units: Units) -> Iterator[Content]:
    number, cylinder, state = story["fill"], story["cylinder"], story["state"]
    yield Content.assemble(
        plain(f" {cylinder} ", "bold reverse"), plain(f" fill {number}  {state}", "bold"),
        plain(f"  {story['customer']}"),
    )  # fmt: skip
    for mark in story["marks"]:
        yield plain(f" {said(mark, units)} ", "bold reverse")
    if story["do_not_breathe"]:
        yield Content.styled(" ! DO NOT BREATHE ", "bold reverse $warning")
    holds = story["holds_text"].removesuffix(" - DO NOT BREATHE")
    yield plain(f"holds {said(holds, units, story['readings'])}")
    want = story["wanted"]
    wanted = plain_name(mix(want["o2"], want["he"]))
    yield plain(f"wanted {wanted} to {units.pressure(want['pressure_bar'], 0)}, asked for "
                f"{when(story['requested_at'])}")  # fmt: skip
    left = parse_gas_at(story["have"], "have")
    yield plain(f"left in it before: {said(story['have_text'], units, left)} ({story['residual']})")
    yield plain(f"made by {story['blender'] or '-'}, {story['method'] or 'no method yet'}")
    if story["accepted_at"]:
        yield plain(
            f"accepted {when(story['accepted_at'])} by {story['accepted_by'] or '(erased)'}"
        )
    yield plain(f"next: {said(story['next'], units)}")


def _amended(amendments: list[Row]) -> Iterator[tuple[str, list[str]]]:
    """Give what was put right later, if anything was: the old, the new, why, who and when."""
    if amendments:
        yield "PUT RIGHT LATER", [line for row in amendments for line in _put_right(row)]


def _put_right(row: Row) -> Iterator[str]:
    if row["field"] == "void":
        yield f"VOID: entered by mistake; it was {row['old']}"
    else:
        yield f"{row['field']}: it said {row['old']}, it should have said {row['new']}"
    yield f"   why: {row['reason']}"
    yield from (f"   mind: {note}" for note in row["notes"])
    yield f"   {_by(row)}"


def _plan(story: Row, units: Units) -> Iterator[str]:
    """Put each reading under the step it was made for; those of an earlier plan come first."""
    since = min((step["seq"] for step in story["steps"]), default=0)
    earlier = [row for row in story["readings"] if row["seq"] < since]
    if earlier:
        yield "Readings of an earlier plan"
        yield from (_reading(row, None, units) for row in earlier)
    now = [row for row in story["readings"] if row["seq"] >= since]
    for step in story["steps"]:
        yield _step(step, units)
        yield from (_reading(r, step, units) for r in now if r["step"] == step["step"])
    known = {step["step"] for step in story["steps"]}
    rest = [row for row in now if row["step"] not in known]
    if rest:
        yield "After the last step"
        yield from (_reading(row, None, units) for row in rest)


def _earlier(plans: list[Row], units: Units) -> Iterator[tuple[str, list[str]]]:
    """Give the plans that were made before the one in force, if there were any."""
    before = [plan for plan in plans if plan["superseded_by"] is not None]
    if before:
        yield "PLANS BEFORE IT", [line for plan in before for line in _superseded(plan, units)]


def _superseded(plan: Row, units: Units) -> Iterator[str]:
    yield (f"{plan['method']}, made by {plan['by']}, {when(plan['at'])}, entry {plan['seq']}; "
           f"another plan in entry {plan['superseded_by']}")  # fmt: skip
    yield from (f"   {_step(step, units)}" for step in plan["steps"])


def _step(step: Row, units: Units) -> str:
    drawn = drawn_text(step)
    source = f" {drawn}" if drawn else ""
    to = ""
    if "to_bar" in step:
        at = units.temperature(step["temperature_c"])
        to = f" to {units.pressure(step['to_bar'])} at {at}"
    also = "".join(f"; {said(note, units)}" for note in step.get("also", ()))
    then = f", then {_mix(step['holds'])}" if "holds" in step else ""
    return f"{step['step'] + 1}. {step['action']}{source}{to}{also}{then}"


def _mix(holds: Row) -> str:
    helium = f" He {holds['he'] * 100:.1f} %" if holds["he"] else ""
    return f"O2 {holds['o2'] * 100:.1f} %{helium}"


def _reading(row: Row, step: Row | None, units: Units) -> str:
    at = units.temperature(row["temperature_c"])
    line = f"   read {units.pressure(row['pressure_bar'])} at {at} ({row['kind']})"
    if row["gauge"]:
        line += f" on {row['gauge']}"
    if row["closes"] and (stop_bar := _stop_here(row, step)) is not None:
        line += f", stop {_off(row['pressure_bar'] - stop_bar, units)}"
    if "shown_bar" in row:
        shown = units.pressure(row["shown_bar"])
        line += f"; the dial showed {shown}, corrected by entry {row['correction']}"
    if row["corrected_by"]:
        line += f", MISTYPED, corrected by entry {row['corrected_by']}"
    return f"{line}\n      typed '{row['typed'].strip()}', {_by(row)}"


def _stop_here(row: Row, step: Row | None) -> float | None:
    """Return a reading's stop at its own temperature, None where that is not known."""
    if "stop_here_bar" in row:
        return float(row["stop_here_bar"])
    if step is None or "to_bar" not in step:
        return None
    is_alike = abs(step["temperature_c"] - row["temperature_c"]) < 0.5
    return float(step["to_bar"]) if is_alike else None


def _by(row: Row) -> str:
    return f"entered by {row['by']}, {when(row['at'])}, entry {row['seq']}"


def _off(bar: float, units: Units) -> str:
    """Return how far a reading lies from its stop, both at the reading's temperature."""
    if abs(bar) < 0.05:
        return "met"
    return f"{'passed' if bar > 0 else 'short'} by {units.pressure(abs(bar))} on the gauge"


def _analysis(row: Row) -> str:
    helium = "helium not measured" if row["he"] is None else f"He {row['he'] * 100:.2f} %"
    sure = f" ± {row['o2_uncertainty'] * 100:.2f}" if row["o2_uncertainty"] > 0 else ""
    stands = "" if row["stands"] or row["party"] == "residual" else ", SET ASIDE"
    return (
        f"{row['party']}: O2 {row['o2'] * 100:.2f}{sure} %, {helium}, "
        f"{row['decision'] or 'no decision'}{stands}\n"
        f"   analyser {row['analyser'] or 'of the diver'}, cylinder {row['serial']}, "
        f"typed '{row['typed']}'\n   {_by(row)}"
    )


def _exceptions(story: Row, units: Units) -> Iterator[str]:
    """Name each; a refusal with every gate that did not pass."""
    known = (story["readings"], story["steps"], story["plans"])
    gates = {entry["seq"]: entry.get("gates", []) for entry in story["entries"]}
    for row in story["exceptions"]:
        against = [gate for gate in gates.get(row["seq"], []) if gate["answer"] != "pass"]
        is_refusal = row["kind"] == "refused" and against
        text = row["text"].partition(":")[0] if is_refusal else row["text"]
        yield f"{row['kind']}: {said(text, units, *known)}"
        if is_refusal:
            for gate in against:
                reason = said(gate["reason"], units, *known)
                yield f"   gate {gate['gate']}: {gate['answer']}: {reason}"
        yield f"   {_by(row)}"


def _signed(signatures: list[Row], units: Units) -> Iterator[str]:
    """Give the statement a diver signed, their own reading, their name, when, and what it means."""
    for row in signatures:
        if (signed := row.get("signed")) is None:
            continue
        how = "drawn by hand" if row["drawn"] else "typed"
        role = "for the customer, as representative" if row["representative"] else row["role"]
        yield (f"{row['by']}, {role}: {row['meaning']}, {how}, {when(row['at'])}, "
               f"entry {row['seq']}")  # fmt: skip
        statement = statement_text(signed).partition("; own reading")[0]
        yield f"   for {said(statement, units, signed)}"
        helium = "" if signed["own_he"] is None else f", He {signed['own_he'] * 100:.1f} %"
        decided = f": {signed['decision']}" if signed["decision"] else ""
        yield f"   own reading O2 {signed['own_o2'] * 100:.1f} %{helium}{decided}"


def _signatures(story: Row) -> Iterator[str]:
    for row in story["entries"]:
        if row["signed_by"]:
            sealed = ", sealed with the station's key" if row["sealed"] else ""
            yield (f"{row['signed_by']}, {row['role']}: {row['meaning']}{sealed}, "
                   f"{when(row['at'])}, entry {row['seq']}")  # fmt: skip
        elif row["sealed"]:
            yield f"sealed with the station's key, {when(row['at'])}, entry {row['seq']}"


def _entries(story: Row) -> Iterator[str]:
    for row in story["entries"]:
        yield f"{row['seq']:>7}  {when(row['at'])}  {row['kind']}"
        yield f"         {row['digest']}"
