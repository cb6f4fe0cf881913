"""What is calculated to be in the cylinder of a fill: between the record and the physics."""

from __future__ import annotations

import json
from collections.abc import Iterable

from blender.gas import Mix
from blender.record.models import CylinderRow, FillRow, StepRow
from blender.station.numbers import bar, celsius, micromol, mol
from blender.station.steps import gas_of, moved_of
from blender.units import parse_ambient
from blender.vessel import STANDARD_AMBIENT_BAR, Contents, added_to_reach, amount_for_pressure


def ambient_bar(fill: FillRow) -> float:
    """Return the ambient pressure the gauges of this fill count from [bar]."""
    return parse_ambient(fill.ambient_typed) if fill.ambient_typed else STANDARD_AMBIENT_BAR


def contents(fill: FillRow, cylinder: CylinderRow) -> Contents:
    """Return what is calculated to be in the cylinder now."""
    o2, he, n2, ar = (mol(amount) for amount in json.loads(fill.contents_umol))
    return Contents((o2, he, n2, ar), cylinder.size_ml / 1e6)


def as_umol(inside: Contents) -> list[int]:
    """Return contents as the journal keeps them [umol]: O2, He, N2, Ar."""
    return [micromol(amount) for amount in inside.amounts_mol]


def gases_let_in(steps: Iterable[StepRow]) -> list[Mix]:
    """Return every gas that meets the cylinder in a plan, as pure as it comes.

    A continuous-flow stream counts as the stream: the oxygen is mixed before it.
    """
    return [gas_of(step) for step in steps if step.action in ("add", "flow", "purge")]


def stop_bar(fill: FillRow, inside: Contents, step: StepRow, temperature_c: float) -> float:
    """Return what the gauge should show when a step is done, at the gas's temperature now.

    The plan's stop counts at the plan's temperature; the same amount of gas shows another
    pressure when the gas is warmer or colder.
    """
    around = ambient_bar(fill)
    target, planned_c = bar(step.to_mbar), celsius(step.temp_mk)
    if step.action in ("add", "flow"):
        gas = moved_of(step)
        if inside.gauge_bar(planned_c, around) >= target:
            return inside.gauge_bar(temperature_c, around)
        amount = added_to_reach(inside, gas, target, planned_c, around)
        return inside.with_gas(gas, amount).gauge_bar(temperature_c, around)
    now = inside.gauge_bar(planned_c, around)
    if now <= target:
        return inside.gauge_bar(temperature_c, around)
    return drained(inside, target, planned_c, around).gauge_bar(temperature_c, around)


def drained(inside: Contents, gauge_bar: float, temperature_c: float, around: float) -> Contents:
    """Return what is left when mixed gas was let out down to a gauge pressure."""
    left = amount_for_pressure(inside.mix, gauge_bar, temperature_c, inside.volume_m3, around)
    return inside.kept(left / inside.total_mol)


def outlook(fill: FillRow, inside: Contents, steps: Iterable[StepRow]) -> Contents:
    """Return what the cylinder will hold if the remaining stops are hit exactly."""
    around = ambient_bar(fill)
    for step in steps:
        if step.action in ("add", "flow"):
            target, planned_c = bar(step.to_mbar), celsius(step.temp_mk)
            if inside.gauge_bar(planned_c, around) < target:
                gas = moved_of(step)
                amount = added_to_reach(inside, gas, target, planned_c, around)
                inside = inside.with_gas(gas, amount)
        elif step.action == "drain":
            target, planned_c = bar(step.to_mbar), celsius(step.temp_mk)
            if inside.gauge_bar(planned_c, around) > target:
                inside = drained(inside, target, planned_c, around)
    return inside


def holds_text(inside: Contents) -> str:
    """Return what is in the cylinder, in words for a tag: ``O2 49.1 % He 0.0 %``."""
    mix = inside.mix
    helium = f" He {mix.he * 100:.1f} %" if mix.he > 0.0005 else ""
    return f"O2 {mix.o2 * 100:.1f} %{helium}"


_MEASURED = ("analysed", "accepted", "collected")


def analysed_text(fill: FillRow) -> str:
    """Return what was analysed to be in it, empty before it was or where that is in doubt."""
    if fill.state not in _MEASURED or fill.o2_ppm < 0:
        return ""
    helium = f" He {fill.he_ppm / 1e4:.1f} %" if fill.he_ppm > 0 else ""
    return f"O2 {fill.o2_ppm / 1e4:.1f} %{helium} (analysed)"
