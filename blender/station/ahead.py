"""What comes next in a fill, and where it leads from here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from blender.planning.supplies import plain_name
from blender.record.models import FillRow, StepRow
from blender.station.contents import holds_text, outlook, stop_bar
from blender.station.numbers import bar, celsius
from blender.station.rules import USUAL_REST_MINUTES
from blender.station.step_words import falls, notes, until, what
from blender.station.steps import gas_of, more_of
from blender.station.wording import is_imperial, mass_text, pressure_text, temperature_text
from blender.vessel import Contents

ADDS = ("add", "flow")


def is_active(steps: Sequence[StepRow]) -> bool:
    """Tell whether anything is still to be let in or out."""
    return any(step.action in (*ADDS, "drain", "purge") for step in steps)


def what_next(
    fill: FillRow,
    inside: Contents,
    steps: Sequence[StepRow],
    at: int,
    now_c: float | None = None,
    rest_min: int = USUAL_REST_MINUTES,
) -> dict[str, Any]:
    """Return what is in the cylinder, what comes next, and where it leads."""
    end_of = outlook(fill, inside, steps[at:])
    end, mix = end_of.mix, inside.mix
    facts: dict[str, Any] = {
        "holds": {"o2": mix.o2, "he": mix.he},
        "holds_text": f"{holds_text(inside)} - DO NOT BREATHE",
        "leads_to": {"o2": end.o2, "he": end.he},
    }
    step = steps[at] if at < len(steps) else None
    facts["next"] = {"step": at, "action": step.action if step else "analyse"}
    if step is None or step.action in ("rest", "analyse"):
        waits = f"let it rest {rest_min} min or more, then read a second time"
        if not is_active(steps[at:]):
            waits = f"let it settle and mix {rest_min} min or more, then analyse"
        facts["next_text"] = f"Next: {waits}."
        return facts
    stop, at_c = bar(step.to_mbar), celsius(step.temp_mk)
    here_c = at_c if now_c is None else now_c
    moves = here_c != at_c and step.action != "purge"
    here = stop_bar(fill, inside, step, here_c) if moves else stop
    facts["next"] |= {"supply": step.supply, "to_bar": stop, "temperature_c": at_c}
    facts["next"] |= {"to_bar_here": here, "here_c": here_c}
    facts["next_text"] = _next_text(fill, step, here, here_c)
    if step.action != "purge":
        facts["next_text"] += f" That leads to {holds_text(end_of)}."
    return facts


def _next_text(fill: FillRow, step: StepRow, here_bar: float, here_c: float) -> str:
    """Return the next act in words, its stop at the temperature just read."""
    stop, at_c, imperial = bar(step.to_mbar), celsius(step.temp_mk), is_imperial(fill)
    then = "".join(f"; {note}" for note in (*falls(step, imperial=imperial), *notes(step)))
    if step.action == "purge":
        up, down = pressure_text(fill, stop), pressure_text(fill, bar(step.from_mbar))
        gas, more = plain_name(gas_of(step)), more_of(step)
        if more.scale_g is not None and more.vented_g is not None:
            up += f" (scale {mass_text(more.scale_g, imperial=imperial)})"
            down += f" (scale {mass_text(more.vented_g, imperial=imperial)})"
        return f"Next: purge: let {gas} in to {up}, let it mix, vent to {down}, then read{then}."
    planned = f"{pressure_text(fill, stop)} at {temperature_text(fill, at_c)}"
    if here_c == at_c:
        return f"Next: {what(step)} {until(step, planned, imperial=imperial)}{then}."
    now = f"{pressure_text(fill, here_bar)} at {temperature_text(fill, here_c)}"
    said = until(step, now, imperial=imperial)
    return f"Next: {what(step)} {said}; planned was {planned}{then}."
