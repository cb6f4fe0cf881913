"""What a gauge reading means for the step it was taken in; no record, no clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from blender.record.models import FillRow, StepRow
from blender.record.trouble import BEYOND, LOST
from blender.station.ahead import ADDS
from blender.station.contents import ambient_bar, drained, outlook, stop_bar
from blender.station.numbers import bar, celsius
from blender.station.rules import Rules
from blender.station.steps import gas_of, moved_of
from blender.station.wording import pressure_text, temperature_text
from blender.vessel import Contents, added_to_reach

# What to do where a gauge shows less than the gas that is in.
BELOW = "read it again; a leak, another cylinder, or misread? Let nothing in before it is explained"
BELOW_CONTENTS = "below-contents"
_LOST_SHARE = 0.1  # of the pressure: from here on gas is missing, not a temperature; own choice
_DRAIN_SLACK_BAR = 0.05  # no gauge shows less; above it the drain is not done


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a reading means for the step it was taken in."""

    inside: Contents
    step: int
    closes: bool
    notes: tuple[tuple[str, str], ...] = ()
    counts: bool = True


def understand(
    rules: Rules,
    fill: FillRow,
    before: Contents,
    steps: Sequence[StepRow],
    shown_bar: float,
    gas_c: float,
) -> Outcome:
    """Return what a reading at the gas's own temperature means."""
    step = steps[fill.step]
    tolerance, around = rules.pressure_tolerance_bar, ambient_bar(fill)
    if step.action in ADDS:
        return _added(fill, before, steps, shown_bar, gas_c, tolerance)
    if step.action == "drain":
        return _draining(rules, fill, before, step, shown_bar, gas_c)
    if step.action == "rest" and fill.step > 0 and steps[fill.step - 1].action == "drain":
        return _rested(rules, fill, before, steps, shown_bar, gas_c)
    if step.action == "purge":
        vented = bar(step.from_mbar)
        if shown_bar > vented + tolerance:
            return Outcome(before, fill.step, closes=False, notes=(_not_vented(vented),))
        purged = _purged(before, step, shown_bar, gas_c, around)
        return Outcome(purged, fill.step + 1, closes=True)
    return _settled(rules, before, fill, shown_bar, gas_c)


_REST_FIRST = (
    "rest-first",
    "A quick bleed cools the gas and the gauge will rise again: let it rest, then read a "
    "second time before anything goes in.",
)


def _not_vented(to_bar: float) -> tuple[str, str]:
    return "not-vented", f"Purge: let it mix, vent to {to_bar:.1f} bar, then read again."


def _draining(
    rules: Rules, fill: FillRow, before: Contents, step: StepRow, shown_bar: float, gas_c: float
) -> Outcome:
    """Judge a reading while mixed gas is let out."""
    if surplus := _surplus(rules, fill, before, before, shown_bar, gas_c):
        return surplus
    closes = shown_bar <= stop_bar(fill, before, step, gas_c) + _DRAIN_SLACK_BAR
    left = drained(before, shown_bar, gas_c, ambient_bar(fill))
    return Outcome(left, fill.step + closes, closes, (_REST_FIRST,) if closes else ())


def _surplus(
    rules: Rules, fill: FillRow, before: Contents, most: Contents, shown_bar: float, gas_c: float
) -> Outcome | None:
    """Conclude nothing from a gauge that shows more than there ever was."""
    limit = most.gauge_bar(gas_c, ambient_bar(fill))
    if shown_bar <= limit + rules.leak_tolerance_bar:
        return None
    shows = f"{pressure_text(fill, limit)} at {temperature_text(fill, gas_c)}"
    told = (
        f"All that was in shows {shows}: misread, or was gas let in? Kept, but not reckoned with."
    )
    note = ("above-contents", told)
    return Outcome(before, fill.step, closes=False, notes=(note,), counts=False)


def _rested(
    rules: Rules,
    fill: FillRow,
    before: Contents,
    steps: Sequence[StepRow],
    shown_bar: float,
    gas_c: float,
) -> Outcome:
    """Judge the second reading after a drain: only at or below the stop does it count."""
    drain, around = steps[fill.step - 1], ambient_bar(fill)
    planned_c = celsius(drain.temp_mk)
    most = drained(before, bar(drain.from_mbar), planned_c, around)
    if surplus := _surplus(rules, fill, before, most, shown_bar, gas_c):
        return surplus
    target = drained(before, bar(drain.to_mbar), planned_c, around)
    stop = target.gauge_bar(gas_c, around)
    now = drained(before, shown_bar, gas_c, around)
    if shown_bar <= stop + _DRAIN_SLACK_BAR:
        return Outcome(now, fill.step + 1, closes=True)
    rose, here = pressure_text(fill, shown_bar), pressure_text(fill, stop)
    told = f"It rose to {rose}, the stop is {here} here: bleed on, rest, read."
    return Outcome(now, fill.step - 1, closes=False, notes=(("rebound", told),))


def _purged(
    before: Contents, step: StepRow, shown_bar: float, gas_c: float, around: float
) -> Contents:
    """Return the contents after oxygen was let in to the purge's pressure and vented again."""
    gas, up_to, planned_c = gas_of(step), bar(step.to_mbar), celsius(step.temp_mk)
    filled = before.with_gas(gas, added_to_reach(before, gas, up_to, planned_c, around))
    return drained(filled, shown_bar, gas_c, around)


def _added(
    fill: FillRow,
    before: Contents,
    steps: Sequence[StepRow],
    shown_bar: float,
    gas_c: float,
    tolerance: float,
) -> Outcome:
    """Judge a reading while gas goes in."""
    step, around = steps[fill.step], ambient_bar(fill)
    floor = before.gauge_bar(gas_c, around)
    if shown_bar < floor - tolerance:
        shows = f"{pressure_text(fill, floor)} at {temperature_text(fill, gas_c)}"
        why = f"The gas already in shows {shows}: {BELOW}."
        return Outcome(before, fill.step, closes=False, notes=((BELOW_CONTENTS, why),))
    gas = moved_of(step)
    inside = before
    if shown_bar > floor:
        inside = before.with_gas(gas, added_to_reach(before, gas, shown_bar, gas_c, around))
    stop = stop_bar(fill, before, step, gas_c)
    # A small step is not closed by a reading taken before anything went in.
    tolerance = min(tolerance, 0.25 * max(bar(step.to_mbar - step.from_mbar), 0.0))
    if shown_bar < stop - tolerance:
        return Outcome(inside, fill.step, closes=False)
    notes: tuple[tuple[str, str], ...] = ()
    if shown_bar > stop + tolerance:
        notes = (_overshoot(fill, inside, steps, shown_bar, stop),)
    return Outcome(inside, fill.step + 1, closes=True, notes=notes)


def _overshoot(
    fill: FillRow, inside: Contents, steps: Sequence[StepRow], shown_bar: float, stop: float
) -> tuple[str, str]:
    end = outlook(fill, inside, steps[fill.step + 1 :]).mix
    beyond = f"{pressure_text(fill, shown_bar)} is beyond the stop of {pressure_text(fill, stop)}"
    told = f"going on as planned leads to O2 {end.o2 * 100:.2f} %. Plan again before more goes in."
    return BEYOND, f"{beyond}: {told}"


def _settled(
    rules: Rules, before: Contents, fill: FillRow, shown_bar: float, gas_c: float
) -> Outcome:
    """Judge a reading while the filled cylinder rests: the amount follows the gauge."""
    around = ambient_bar(fill)
    expected = before.gauge_bar(gas_c, around)
    notes: tuple[tuple[str, str], ...] = ()
    if abs(expected - shown_bar) > rules.leak_tolerance_bar:
        should = f"{pressure_text(fill, expected)} at {temperature_text(fill, gas_c)}"
        told = f"The gauge should show {should}: a leak, or a wrong temperature?"
        notes = (("unexpected-pressure", told),)
        if shown_bar < expected * (1.0 - _LOST_SHARE):
            shows = f"shows {pressure_text(fill, shown_bar)}"
            lost = f"the gauge should show {should}, {shows}: a leak, another cylinder, or misread?"
            notes = ((LOST, lost),)
    return Outcome(drained(before, shown_bar, gas_c, around), fill.step, False, notes)
