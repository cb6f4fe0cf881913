"""Has a cylinder rested: after a drain before it is read again, after a fill before analysis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from blender.record import read
from blender.record.models import FillRow, ReadingRow, StepRow
from blender.record.text import clean_text
from blender.station import gates
from blender.station.answer import Answer
from blender.station.desk import Act

MINUTE_US = 60_000_000
RESTED = ("rested_min", "advised_min")  # kept with an analysis made too soon


def waits_for_rest(fill: FillRow, steps: Sequence[StepRow]) -> bool:
    """Return whether the next reading is the second: of a drained or a filled cylinder."""
    if fill.state == "resting":
        return True
    here = fill.step
    is_rest = 0 < here < len(steps) and steps[here].action == "rest"
    return is_rest and steps[here - 1].action == "drain"


def gas_stopped_us(
    fill: FillRow, readings: Sequence[ReadingRow], held_us: Sequence[int] = ()
) -> int:
    """Return when gas last went in or out of a resting or held cylinder [us UTC].

    Parameters
    ----------
    fill : FillRow
        The fill.
    readings : sequence of ReadingRow
        All its readings; a corrected one counts from when it was first entered.
    held_us : sequence of int
        When it was stopped part-way or set apart [us UTC].
    """
    done = [row for row in readings if row.number < fill.step and not row.corrected_by]
    stops = [first_us(row, readings) for row in done]
    if fill.state == "held" and fill.resumes_to != "resting":
        stops += held_us
    return max([*stops, fill.started_us])


def first_us(row: ReadingRow, readings: Sequence[ReadingRow]) -> int:
    """Return when a reading was first entered, before any correction of it [us UTC]."""
    corrected = {before.corrected_by: before for before in readings if before.corrected_by}
    while row.seq in corrected:
        row = corrected[row.seq]
    return row.at_us


def rest_gate(act: Act, fill: FillRow, waive: str) -> tuple[gates.Gate, str]:
    """Ask whether it has rested; return the answer, and a caution where nothing is asked.

    Parameters
    ----------
    act : Act
        The reading or analysis.
    fill : FillRow
        The fill, in which gas went in or out.
    waive : str
        Why it shall not have to rest; empty if it shall.

    Raises
    ------
    InputError
        If the reason cannot be kept.
    """
    why = clean_text(waive, "--waive", 200, empty=True)
    minutes = rested_minutes(act, fill)
    return gates.rested(minutes, act.rules, why), caution(minutes, act.rules.advised_rest_minutes)


def rested_minutes(act: Act, fill: FillRow) -> float:
    """Return how long it is since gas went in or out [min]."""
    noted = read.exceptions(act.conn, fill.fill)
    held = [row.at_us for row in noted if row.kind in ("held", "quarantined")]
    readings = read.readings(act.conn, fill.fill)
    stopped = gas_stopped_us(fill, readings, held)
    if stopped > act.now.us and readings:  # the clock was set back since: what was entered last
        stopped = readings[-1].at_us
    return max(act.now.us - stopped, 0) / MINUTE_US


def unrested(act: Act, fill: FillRow) -> dict[str, int]:
    """Return what is kept with an analysis made sooner than advised after gas moved [min]."""
    minutes, advised = rested_minutes(act, fill), act.rules.advised_rest_minutes
    return {} if minutes >= advised else {"rested_min": int(minutes), "advised_min": advised}


def caution(minutes: float, advised: int) -> str:
    """Return what is said of a cylinder that rested for less than is advised [min]."""
    if minutes >= advised:
        return ""
    return (
        f"Only {int(minutes)} min since gas went in or out: let it rest {advised} min, "
        "or this may not be the mix."
    )


def with_caution(answer: Answer, said: str) -> Answer:
    """Return an answer that says a caution, too."""
    if not said:
        return answer
    warnings = [*answer.facts.get("warnings", []), {"code": "rest", "text": said}]
    facts = answer.facts | {"warnings": warnings}
    return replace(answer, text=f"{answer.text} {said}", facts=facts)
