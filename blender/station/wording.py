"""A fill in words: pressures and temperatures in the units asked for in, gases by name."""

from __future__ import annotations

import re

from blender.gas import name_of
from blender.planning.request import parse_gas_at
from blender.record.models import FillRow
from blender.units import KG_PER_LB, bar_to_psi, c_to_f


def is_imperial(fill: FillRow) -> bool:
    """Return whether the fill was asked for in psi."""
    return "psi" in fill.want_typed.lower()


def pressure_text(fill: FillRow, gauge_bar: float) -> str:
    """Return a gauge pressure [bar], in psi too where the fill was asked for in psi."""
    return bar_text(gauge_bar, imperial=is_imperial(fill))


def bar_text(gauge_bar: float, *, imperial: bool = False) -> str:
    """Return a gauge pressure [bar], in psi too where that is asked for.

    Examples
    --------
    >>> bar_text(84.43, imperial=True)
    '84.4 bar (1225 psi)'
    """
    shown = max(gauge_bar, 0.0)
    psi = f" ({bar_to_psi(shown):.0f} psi)" if imperial else ""
    return f"{shown:.1f} bar{psi}"


def mass_text(grams: float, *, imperial: bool = False) -> str:
    """Return what a scale shows [g] in kilograms, in pounds too where that is asked for.

    Examples
    --------
    >>> mass_text(1234.0), mass_text(-0.25)
    ('1.234 kg', '-0.00025 kg')
    """
    kilograms = grams / 1000.0
    shown = f"{kilograms:.6f}".rstrip("0")
    shown = shown if len(shown.partition(".")[2]) > 3 else f"{kilograms:.3f}"
    return f"{shown} kg" + (f" ({kilograms / KG_PER_LB:.3f} lb)" if imperial else "")


def temperature_text(fill: FillRow, celsius: float) -> str:
    """Return a temperature [degC], in degF where what was left was told in degF."""
    if re.search(r"@\s*-?[\d.,]+\s*°?(?:deg)?f", fill.have_typed, re.IGNORECASE):
        return f"{c_to_f(celsius):.1f} degF"
    return f"{celsius:.1f} degC"


def gas_typed(typed: str) -> str:
    """Return the gas of a request as it was typed: ``230bar:EAN32`` gives EAN32."""
    return typed.partition(":")[2].strip()


def residual_text(fill: FillRow) -> str:
    """Return what was left in the cylinder, in words; an earlier book may not say."""
    if not fill.have_typed:
        return "not recorded"
    left = parse_gas_at(fill.have_typed, "--have")
    at_c = "" if left.temperature_c is None else f" at {left.temperature_c:.0f} °C"
    typed = gas_typed(fill.have_typed)
    gas = name_of(left.mix, 1) if fill.residual == "analysed" and "/" in typed else typed
    return f"{left.gauge_bar:.0f} bar{at_c} of {gas}"
