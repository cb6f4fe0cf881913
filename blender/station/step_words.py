"""What a blender does in a step, in words, beyond the gauge's stop."""

from __future__ import annotations

from blender.planning.supplies import TOP_NAME, plain_name
from blender.planning.tower import TOWER_NAME
from blender.record.models import StepRow
from blender.station.steps import More, gas_of, more_of
from blender.station.wording import bar_text, mass_text


def what(step: StepRow) -> str:
    """Return what a step does and from where: ``add oxygen from o1 through the booster``."""
    if step.action == "drain":
        return "drain"
    return f"{step.action} {gas_text(step)}{source(step)}{_through(more_of(step))}"


def gas_text(step: StepRow) -> str:
    """Return the gas of a step as the panel calls it; nothing where none goes in."""
    if step.action != "flow":
        return plain_name(gas_of(step)) if step.action in ("add", "purge") else ""
    return "air with helium and oxygen" if more_of(step).helium_supply else "air with oxygen"


def source(step: StepRow) -> str:
    """Return where a step's gas comes from: `` from o1``, or nothing for the top gas."""
    more = more_of(step)
    if step.action == "flow" and more.draws:
        names = [name for name, _ in more.draws if name != TOP_NAME]
        return f" from {' and '.join(reversed(names))}" if names else ""
    return f" from {step.supply}" if step.supply not in ("", TOP_NAME) else ""


def _through(more: More) -> str:
    return " through the booster" if more.boosted else ""


def until(step: StepRow, gauge: str, *, imperial: bool = False) -> str:
    """Return until when it goes on: to the gauge's stop, or until the scale reads so much."""
    scale_g = more_of(step).scale_g
    if scale_g is None:
        return f"to {gauge}"
    return f"until the scale reads {mass_text(scale_g, imperial=imperial)} (gauge about {gauge})"


def notes(step: StepRow) -> tuple[str, ...]:
    """Return what else must be held, watched and done in a step, a clause each."""
    more = more_of(step)
    return (*_intake(step, more), *(("then vent the whip",) if more.vents else ()))


def falls(step: StepRow, *, imperial: bool = False) -> tuple[str, ...]:
    """Return what the bottles drawn from fall to, a clause each; gauges at 20 degC."""
    return tuple(
        f"{name} falls to {bar_text(after, imperial=imperial)}"
        for name, _, after in more_of(step).bottles
    )


def tag_notes(step: StepRow) -> tuple[str, ...]:
    """Return all of a step that a tag's columns have no room for, a clause each."""
    more = more_of(step)
    told = ["through the booster"] if more.boosted else []
    if more.scale_g is not None:
        told.append(f"until the scale reads {mass_text(more.scale_g)}")
    return (*told, *notes(step), *falls(step))


def _intake(step: StepRow, more: More) -> list[str]:
    """Say what a run of the compressor is held at."""
    told = []
    if step.supply == TOWER_NAME:
        told.append(f"the filter tower's {plain_name(gas_of(step))} goes in first")
    if more.after_helium is not None and more.before_oxygen is not None:
        alone, both = _percent(more.before_oxygen), _percent(more.after_helium)
        told.append(f"helium on first, off last: meter behind it {alone}, with oxygen {both}")
    if step.reading_ppm >= 0:
        told.append(f"hold the intake meter at {_percent(step.reading_ppm / 1e6)}")
    flows = (("helium", more.helium_l_min), ("oxygen", more.oxygen_l_min))
    if known := [f"{gas} {flow:.1f}" for gas, flow in flows if flow is not None]:
        told.append(f"{', '.join(known)} L/min")
    return told


def _percent(fraction: float) -> str:
    return f"{fraction * 100:.1f} %"
