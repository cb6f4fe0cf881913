"""What of a fill's story still stands: for a customer's paper, which is not the shop's diary.

Refused tries, plans nothing was done by, readings typed wrongly and gas that was put right are in
the audit, the cylinder's history and the fill's own story.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from blender.record.entry import Entry
from blender.record.models import AnalysisRow, ExceptionRow
from blender.record.trouble import LOST as LOST_GAS
from blender.station.marks import marks

# Whose signatures a certificate carries; those of the steps between are in the record.
_ALWAYS = ("fill.requested", "fill.brought", "fill.started")
_OF_READINGS = ("fill.analysed", "fill.analysis-corrected", "fill.amended")
_PLANNED, _READ = "fill.planned", "fill.reading"
_DONE_BY_A_PLAN = ("fill.started", "fill.resumed", _READ, "fill.reading-corrected")
# What is said of a reading or of the acceptance, and of nothing else.
_OF_THE_RESULT = ("recheck", "disputed", "relabel", "reject", "allowed", "representative")


def shown_readings(entries: Sequence[Entry], rows: Iterable[AnalysisRow]) -> set[int]:
    """Return the entries of the analyses that stand, and of those they were decided against.

    One that was set aside in a recheck explains why there is another; one that was amended, what
    it read.  One of gas that was changed since, or that was typed wrongly, explains nothing.
    """
    shown = {row.seq for row in rows if row.valid and row.party != "residual"}
    for entry in reversed(entries):  # whoever set aside comes after what it set aside
        if entry.seq in shown:
            shown |= set(entry.data.get("set_aside", ()))
            shown |= {entry.data["corrects"]} if entry.kind == "fill.amended" else set()
    return shown


def shown_signatures(
    entries: Sequence[Entry], readings: set[int], accepted_seq: int
) -> list[Entry]:
    """Return the entries whose signatures stand, oldest first."""
    accepted = next((one for one in entries if one.seq == accepted_seq), None)
    handed = accepted.data.get("tablet", 0) if accepted is not None else 0
    by_seq = {accepted_seq, handed}
    worked_by = _plans_worked_by(entries)
    return [
        entry
        for entry in entries
        if entry.sig is not None
        and (
            entry.kind in _ALWAYS
            or entry.seq in by_seq
            or entry.seq in worked_by
            or (entry.kind in _OF_READINGS and entry.seq in readings)
        )
    ]


def _plans_worked_by(entries: Sequence[Entry]) -> set[int]:
    """Return the plans something was done by, before the next was made or the fill went on."""
    found, last = set(), 0
    for entry in entries:
        if entry.kind == _PLANNED:
            last = entry.seq
        elif entry.kind in _DONE_BY_A_PLAN and last:
            found.add(last)
    return found


def shown_exceptions(
    entries: Sequence[Entry],
    noted: Iterable[ExceptionRow],
    readings: set[int],
    accepted_seq: int,
) -> list[ExceptionRow]:
    """Return what was out of the usual with what stands."""
    of_result = readings | {accepted_seq}
    last_let_in = max((one.seq for one in entries if one.kind == "fill.started"), default=0)
    return [
        row
        for row in noted
        if marks([row], accepted_seq)
        or (row.kind in _OF_THE_RESULT and row.seq in of_result)
        or (row.kind == LOST_GAS and row.seq > last_let_in and _stands(row))
    ]


def _stands(row: ExceptionRow) -> bool:
    return not row.text.startswith("corrected by entry ")
