"""Numbers as people read and type them here: bar, °C and m, or psi, °F and ft."""

from __future__ import annotations

import re
from dataclasses import dataclass

from blender.errors import InputError
from blender.units import (
    bar_to_psi,
    c_to_f,
    m_to_ft,
    parse_gauge_pressure,
    parse_number,
    parse_temperature,
)

_KINDS = {"g": "gas", "w": "wall", "r": "room", "gas": "gas", "wall": "wall", "room": "room"}
_HAS_UNIT = re.compile(r"[A-Za-z°]")


@dataclass(frozen=True, slots=True)
class Units:
    """How quantities are shown; a bare number typed is in the same units."""

    imperial: bool = False

    @property
    def names(self) -> str:
        """The units in force, for the top line."""
        return "psi °F ft" if self.imperial else "bar °C m"

    def pressure(self, bar: float, decimals: int = 1) -> str:
        """Return a gauge pressure [bar]."""
        if self.imperial:
            return f"{bar_to_psi(max(bar, 0.0)):.0f} psi"
        return f"{max(bar, 0.0):.{decimals}f} bar"

    def temperature(self, celsius: float) -> str:
        """Return a temperature [degC]."""
        if self.imperial:
            return f"{c_to_f(celsius):.0f} °F"
        return f"{celsius:.1f} °C".replace(".0 ", " ")

    def depth(self, metres: float) -> str:
        """Return a depth [m] that was rounded already to the safe side in metres."""
        if self.imperial:
            return f"{m_to_ft(metres):.0f} ft"
        return f"{metres:.0f} m"

    def typed_pressure(self, text: str) -> str:
        """Return a pressure as typed, with its unit."""
        if _HAS_UNIT.search(text):
            return text
        parse_number(text, "pressure")
        return f"{text}{'psi' if self.imperial else 'bar'}"

    def typed_temperature(self, text: str) -> str:
        """Return a temperature as typed, with its unit."""
        if _HAS_UNIT.search(text):
            return text
        parse_number(text, "temperature")
        return f"{text}{'F' if self.imperial else 'C'}"


@dataclass(frozen=True, slots=True)
class Typed:
    """A gauge reading as typed in one field: pressure, temperature, what that is of."""

    at: str
    temperature: str
    kind: str


def reading(text: str, units: Units, kind: str) -> Typed:
    """Understand ``74,5 31`` or ``1080psi 88F wall``.

    Parameters
    ----------
    text : str
        Pressure, temperature and perhaps whose temperature, with blanks between them.
    units : Units
        What a bare number is in.
    kind : str
        What the temperature is of unless said.

    Raises
    ------
    InputError
        If it cannot be read so; a temperature is never guessed.

    Examples
    --------
    >>> reading("74,5 31", Units(), "gas")
    Typed(at='74,5bar', temperature='31C', kind='gas')
    """
    words = text.split()
    if words and words[-1].lower() in _KINDS:
        kind = _KINDS[words.pop().lower()]
    if len(words) != 2:
        given = text.strip() or "nothing"
        raise InputError("reading", given, "type pressure and temperature: 74,5 31")
    at = units.typed_pressure(words[0])
    temperature = units.typed_temperature(words[1])
    parse_gauge_pressure(at, "pressure")
    parse_temperature(temperature, "temperature")
    return Typed(at, temperature, kind)


def echo(typed: Typed, units: Units) -> str:
    """Return how a reading was understood, in the units shown."""
    pressure = units.pressure(parse_gauge_pressure(typed.at))
    return f"{pressure} at {units.temperature(parse_temperature(typed.temperature))} ({typed.kind})"
