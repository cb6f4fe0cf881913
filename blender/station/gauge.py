"""A gauge or scale reading as typed, and as understood."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from blender.errors import InputError
from blender.planning.mass import molar_mass_g_mol
from blender.record.models import FillRow, StepRow
from blender.record.text import clean_text
from blender.station.contents import ambient_bar
from blender.station.numbers import celsius, mbar, millikelvin
from blender.station.steps import more_of, moved_of
from blender.units import is_mass, parse_gauge_pressure, parse_mass, parse_temperature
from blender.vessel import Contents

KINDS = ("gas", "wall", "room")
_SCALE = "--scale"


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """A gauge reading as typed and as understood.

    Parameters
    ----------
    at, temperature : str
        As typed, with their units.
    kind : str
        Whether that temperature is of the ``gas``, the ``wall`` or the ``room``.
    gauge : str
        Which gauge, if it was named.
    gauge_bar : float
        Gauge pressure [bar].
    temperature_c : float
        Temperature [degC].
    scale_g : float or None
        What the scale shows, where it was read instead [g]; pressure and temperature follow.
    shown_bar : float or None
        What the dial shows, where a correction of that gauge is in force [bar].
    correction : int
        The entry in which that was signed, 0 without one.
    """

    at: str
    temperature: str
    kind: str
    gauge: str
    gauge_bar: float
    temperature_c: float
    scale_g: float | None = None
    shown_bar: float | None = None
    correction: int = 0

    def facts(self) -> dict[str, Any]:
        """The reading in the journal's integers, with what was typed."""
        more = {} if self.scale_g is None else {"scale_mg": round(self.scale_g * 1000.0)}
        if self.shown_bar is not None:
            more |= {"shown_mbar": mbar(self.shown_bar), "correction": self.correction}
        return {
            **more,
            "gauge_mbar": mbar(self.gauge_bar),
            "temp_mk": millikelvin(self.temperature_c),
            "kind": self.kind,
            "gauge": self.gauge,
            "typed": {"at": self.at, "temperature": self.temperature},
        }


def typed_reading(
    at: str, temperature: str, kind: str = "gas", gauge: str = "", scale: str = ""
) -> GaugeReading:
    """Understand a gauge or scale reading as it was typed.

    A mass under `at` is the scale's reading too.  What it means for the gauge is told where the
    fill is known; until then its pressure is 0.

    Raises
    ------
    InputError
        If a value cannot be read, or both were given, or neither.
    """
    if kind not in KINDS:
        raise InputError("--kind", repr(kind), "temperature of the gas, wall or room")
    if scale and at:
        raise InputError("--scale", repr(scale[:40]), "give the scale's reading or the gauge's")
    named = clean_text(gauge, "--gauge", 40, empty=True)
    if scale or is_mass(at):
        typed = (scale or at).strip()
        return GaugeReading(
            typed, "", "gas", named or "scale", 0.0, 20.0, parse_mass(typed, _SCALE)
        )
    if not (at and temperature):
        told = "give what it shows, such as --at 74.5bar --temperature 31C; by mass --scale 1.234kg"
        raise InputError("--temperature" if at else "--at", "nothing", told)
    return GaugeReading(
        at=at.strip(),
        temperature=temperature.strip(),
        kind=kind,
        gauge=named,
        gauge_bar=parse_gauge_pressure(at, "--at"),
        temperature_c=parse_temperature(temperature, "--temperature"),
    )


def by_scale(fill: FillRow, step: StepRow, before: Contents, typed: GaugeReading) -> GaugeReading:
    """Return a scale's reading with what the gauge would show at the stop's temperature.

    Parameters
    ----------
    fill : FillRow
        The fill.
    step : StepRow
        The step it was read in.
    before : Contents
        What was in the cylinder.
    typed : GaugeReading
        What the scale shows.

    Raises
    ------
    InputError
        If the step's plan is not by mass, it is a purge, or that would leave nothing.
    """
    zero_g, grams = more_of(step).zero_g, typed.scale_g or 0.0
    if zero_g is None:
        told = "this plan is not by mass: read the gauge and its temperature"
        raise InputError(_SCALE, repr(typed.at), told)
    if step.action == "purge":
        raise InputError(_SCALE, repr(typed.at), "after a purge read the gauge and its temperature")
    gained_g = zero_g + grams - before.mass_g
    if before.mass_g + gained_g <= 0.0:
        raise InputError(_SCALE, repr(typed.at), "the cylinder would hold less than nothing")
    if gained_g > 0.0 and step.action == "add":
        gas = moved_of(step)
        inside = before.with_gas(gas, gained_g / molar_mass_g_mol(gas))
    else:
        inside = before.kept(1.0 + gained_g / before.mass_g)
    at_c = celsius(step.temp_mk if step.temp_mk >= 0 else fill.settle_mk)
    return replace(typed, gauge_bar=inside.gauge_bar(at_c, ambient_bar(fill)), temperature_c=at_c)
