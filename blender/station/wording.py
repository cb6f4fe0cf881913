"""Pressures and temperatures in the units a fill was asked for in."""

from __future__ import annotations

import re

from blender.record.models import FillRow
from blender.units import bar_to_psi, c_to_f


def is_imperial(fill: FillRow) -> bool:
    """Return whether the fill was asked for in psi."""
    return "psi" in fill.want_typed.lower()


def pressure_text(fill: FillRow, gauge_bar: float) -> str:
    """Return a gauge pressure [bar], in psi too where the fill was asked for in psi."""
    shown = max(gauge_bar, 0.0)
    psi = f" ({bar_to_psi(shown):.0f} psi)" if is_imperial(fill) else ""
    return f"{shown:.1f} bar{psi}"


def temperature_text(fill: FillRow, celsius: float) -> str:
    """Return a temperature [degC], in degF where what was left was told in degF."""
    if re.search(r"@\s*-?[\d.,]+\s*°?(?:deg)?f", fill.have_typed, re.IGNORECASE):
        return f"{c_to_f(celsius):.1f} degF"
    return f"{celsius:.1f} degC"
