"""Sums over a fill log: fills by state, and gas used in mol, litres and kilograms."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from blender.realgas.coefficients import coefficients
from blender.station.states import STATES
from blender.station.views import LogLine
from blender.units import KG_PER_LB, M3_PER_CUFT, PA_PER_ATM, ZERO_C_K
from reports.in_units import in_units
from reports.wording import FIXED

REFERENCE = "ideal gas at 0 °C and 1.01325 bar"


@dataclass(frozen=True, slots=True)
class Totals:
    """What a range of fills adds up to; amounts in mol."""

    fills: int
    by_state: tuple[tuple[str, int], ...]
    exceptions: int
    oxygen_mol: float
    helium_mol: float
    top_mol: float


def totals(lines: tuple[LogLine, ...]) -> Totals:
    """Add up the lines of a log; states come in the order of a fill's life."""
    counted = Counter(line.state for line in lines)
    order = [state for state in STATES if state in counted]
    order += sorted(set(counted) - set(STATES))
    return Totals(
        fills=len(lines),
        by_state=tuple((state, counted[state]) for state in order),
        exceptions=sum(1 for line in lines if line.exceptions),
        oxygen_mol=math.fsum(line.oxygen_mol for line in lines),
        helium_mol=math.fsum(line.helium_mol for line in lines),
        top_mol=math.fsum(line.top_mol for line in lines),
    )


def litres(amount_mol: float) -> float:
    """Volume of an amount at the reference state [L]: V = n R T / p.

    Parameters
    ----------
    amount_mol : float
        Amount of gas [mol].

    Examples
    --------
    >>> round(litres(1.0), 3)
    22.414
    """
    return amount_mol * coefficients().gas_constant * ZERO_C_K / PA_PER_ATM * 1000.0


def volumes(imperial: bool) -> str:
    """Say at what state volumes are reckoned, for a paper's legend."""
    named = "Litres and cubic feet" if imperial else "Litres"
    return f"{named}: {in_units(REFERENCE, imperial)}"


def amount_text(amount_mol: float, gas: str, *, imperial: bool) -> str:
    """Word a gas total: mol and litres, and mass where the gas is pure (``O2``, ``He``)."""
    volume = litres(amount_mol)
    parts = [f"{amount_mol:.1f}{FIXED}mol", f"{volume:.0f}{FIXED}L"]
    if imperial:
        parts.append(f"{volume / 1000.0 / M3_PER_CUFT:.1f}{FIXED}cu ft")
    masses = {fluid.name: fluid.molar_mass_kg_mol for fluid in coefficients().fluids}
    if gas in masses:
        kilograms = amount_mol * masses[gas]
        parts.append(f"{kilograms:.2f}{FIXED}kg")
        if imperial:
            parts.append(f"{kilograms / KG_PER_LB:.2f}{FIXED}lb")
    return " = ".join(parts)
