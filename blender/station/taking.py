"""Taking a gauge reading: what it means where the fill stands, what is entered, what is told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from blender.record import read
from blender.record.models import CylinderRow, FillRow, ReadingRow, StepRow
from blender.record.trouble import BEYOND, LOST
from blender.station import gates
from blender.station.ahead import ADDS, is_active, what_next
from blender.station.answer import Answer
from blender.station.contents import ambient_bar, as_umol, contents, stop_bar
from blender.station.desk import Act
from blender.station.doubts import WAY_OUT, gas_lost
from blender.station.drawing import drawn
from blender.station.gauge import GaugeReading, by_scale
from blender.station.gauges import as_corrected, correction_note, minded, swapped_since
from blender.station.judging import BELOW_CONTENTS, Outcome, understand
from blender.station.numbers import mbar, micromol
from blender.station.planning import pressure_gates
from blender.station.rules import Rules
from blender.station.wording import is_imperial, mass_text, pressure_text, temperature_text
from blender.vessel import Contents

MINUTE_US = 60_000_000


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading, the fill as it stood when it was taken, and what it means there."""

    fill: FillRow
    cylinder: CylinderRow
    steps: Sequence[StepRow]
    before: Contents
    typed: GaugeReading
    outcome: Outcome

    @property
    def state(self) -> str:
        """Where the fill stands after it: resting, once nothing more is let in or out."""
        if self.fill.state == "resting":
            return "resting"
        return "filling" if is_active(self.steps[self.outcome.step :]) else "resting"

    def facts(self) -> dict[str, Any]:
        """The reading in the journal's integers."""
        fill, outcome, step = self.fill, self.outcome, self.steps[self.fill.step]
        then, now = as_umol(self.before), as_umol(outcome.inside)
        gained = [new - old for new, old in zip(now, then, strict=True)]
        given = drawn(step, self.before, outcome, ambient_bar(fill))
        (supply, amount), *also = given or [("", 0.0)]
        return {
            "fill": fill.fill,
            "state": self.state,
            "step": fill.step,
            "next_step": outcome.step,
            "closes": outcome.closes,
            "counts": outcome.counts,
            "supply": supply,
            "drawn_umol": micromol(amount),
            **({"also": [[name, micromol(mol)] for name, mol in also]} if also else {}),
            "added_umol": gained if step.action in ADDS else [0, 0, 0, 0],
            "contents_umol": now,
            **self._stop_here(step),
            "notes": [[code, text] for code, text in outcome.notes if code != "rest-first"],
            **self.typed.facts(),
        }

    def _stop_here(self, step: StepRow) -> dict[str, int]:
        """Return the step's stop at the temperature just read, to set the reading beside."""
        if step.action not in (*ADDS, "drain") or not self.outcome.counts:
            return {}
        here = stop_bar(self.fill, self.before, step, self.typed.temperature_c)
        return {"stop_mbar": mbar(here)}


def take(
    act: Act, fill: FillRow, typed: GaugeReading, at_us: int, earlier: Sequence[ReadingRow]
) -> Taken:
    """Judge a reading where a fill stands.

    Parameters
    ----------
    act : Act
        The act it is taken in.
    fill : FillRow
        The fill as it stood when it was taken.
    typed : GaugeReading
        The reading.
    at_us : int
        When it was taken [us UTC].
    earlier : sequence of ReadingRow
        The readings before it that stand.
    """
    cylinder = read.cylinder(act.conn, fill.serial)
    steps = read.steps(act.conn, fill.fill)
    before = contents(fill, cylinder)
    if typed.scale_g is not None:
        typed = by_scale(fill, steps[fill.step], before, typed)
    typed = as_corrected(act.conn, steps[fill.step], typed)
    if _is_gas_temperature(act.rules, fill, typed.kind, at_us, earlier):
        outcome = understand(act.rules, fill, before, steps, typed.gauge_bar, typed.temperature_c)
    else:
        note = _not_gas(typed.kind)
        outcome = Outcome(before, fill.step, closes=False, notes=(note,), counts=False)
    is_first = all(row.gauge != typed.gauge for row in earlier)
    if is_first and (was := swapped_since(act.conn, typed.gauge, fill.started_us)):
        outcome = replace(outcome, notes=(*outcome.notes, _swapped(typed.gauge, was)))
    return Taken(fill, cylinder, steps, before, typed, outcome)


def _swapped(gauge: str, was: str) -> tuple[str, str]:
    return (
        "gauge-swapped",
        f"Gauge {gauge} took the place of {was} during this fill: their errors differ, so the "
        "mix is less sure than the plan says.",
    )


def _not_gas(kind: str) -> tuple[str, str]:
    return (
        "temperature-not-gas",
        f"The {kind}'s temperature is not the gas's while filling: kept, but no step is closed "
        "by it. Give the gas's temperature, or let it rest.",
    )


def _is_gas_temperature(
    rules: Rules, fill: FillRow, kind: str, at_us: int, earlier: Sequence[ReadingRow]
) -> bool:
    """A wall or room temperature stands for the gas's only after a rest."""
    if kind == "gas":
        return True
    done = [row.at_us for row in earlier if row.number < fill.step]
    last_us = max([*done, fill.started_us])
    return fill.state == "resting" and at_us - last_us >= rules.settle_minutes * MINUTE_US


def told(
    act: Act, taken: Taken, where: Sequence[gates.Gate], state: str | None = None, first: str = ""
) -> Answer:
    """Return the answer to a reading: its echo, what it means, what comes next.

    `state` stands for the state the reading itself leads to; `first` is said first.
    """
    fill, typed, outcome = taken.fill, taken.typed, taken.outcome
    checks = pressure_gates(act, taken.cylinder, outcome.inside, ambient_bar(fill))
    here_c = typed.temperature_c if outcome.counts else None
    facts = what_next(
        fill, outcome.inside, taken.steps, outcome.step, here_c, act.rules.advised_rest_minutes
    )
    facts = minded(act.conn, fill, taken.steps, facts)
    shown = {"pressure_bar": typed.gauge_bar, "temperature_c": typed.temperature_c}
    if typed.shown_bar is not None:
        shown |= {"shown_bar": typed.shown_bar}
    facts |= {"reading": {**shown, "kind": typed.kind}, "closes": outcome.closes}
    if typed.correction:
        facts["reading"] |= {"gauge": typed.gauge, "correction": typed.correction}
    facts |= {"warnings": [{"code": code, "text": text} for code, text in outcome.notes]}
    notes = " ".join(text for _, text in outcome.notes)
    if over := [gate.reason for gate in checks if gate.answer == gates.STOP]:
        notes = f"STOP, bleed down: {over[0]}. {notes}"
    is_doubted = any(code in (BELOW_CONTENTS, BEYOND) for code, _ in outcome.notes)
    if any(code == LOST for code, _ in outcome.notes) or gas_lost(act.conn, fill):
        facts["next_text"] = f"GAS LOST: {WAY_OUT}."
    then = "" if is_doubted else facts["next_text"]  # it would name a stop to let gas in to
    parts = (first, _echo(fill, typed), correction_note(typed), notes, then)
    text = " ".join(part for part in parts if part)
    return Answer(fill.fill, state or taken.state, [*where, *checks], text=text, facts=facts)


def _echo(fill: FillRow, typed: GaugeReading) -> str:
    shown = pressure_text(fill, typed.gauge_bar)
    if typed.scale_g is not None:
        weighs = mass_text(typed.scale_g, imperial=is_imperial(fill))
        at = temperature_text(fill, typed.temperature_c)
        return f"Scale {weighs}: the gauge should show {shown} at {at}."
    return f"Read {shown} at {temperature_text(fill, typed.temperature_c)} ({typed.kind})."
