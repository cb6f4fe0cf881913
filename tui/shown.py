"""Numbers as people read and type them here: bar, °C and m, or psi, °F and ft."""

from __future__ import annotations

import re
from dataclasses import dataclass

from blender.errors import InputError
from blender.rounding import half_up
from blender.units import (
    KG_PER_LB,
    M3_PER_CUFT,
    bar_to_psi,
    c_to_f,
    is_mass,
    parse_gauge_pressure,
    parse_mass,
    parse_number,
    parse_temperature,
    rated_volume_m3,
)

_KINDS = {"g": "gas", "w": "wall", "r": "room", "gas": "gas", "wall": "wall", "room": "room"}
_HAS_UNIT = re.compile(r"[A-Za-z°]")


@dataclass(frozen=True, slots=True)
class Units:
    """How quantities are shown, halves rounded up; a bare number typed is in the same units."""

    imperial: bool = False

    @property
    def names(self) -> str:
        """The units in force, for the top line."""
        return "psi °F ft" if self.imperial else "bar °C m"

    @property
    def unit(self) -> str:
        """The unit of pressure."""
        return "psi" if self.imperial else "bar"

    def example(self, metric: str, imperial: str) -> str:
        """Return what one might type in the units in force."""
        return imperial if self.imperial else metric

    def pressure(self, bar: float, decimals: int = 1) -> str:
        """Return a gauge pressure [bar]."""
        if self.imperial:
            return f"{half_up(bar_to_psi(max(bar, 0.0))):.0f} psi"
        return f"{half_up(max(bar, 0.0), 10.0**-decimals):.{decimals}f} bar"

    def mass(self, grams: float) -> str:
        """Return what a scale shows [g]."""
        if self.imperial:
            return f"{half_up(grams / KG_PER_LB / 1000.0, 0.001):.3f} lb"
        return f"{half_up(grams / 1000.0, 0.001):.3f} kg"

    def temperature(self, celsius: float) -> str:
        """Return a temperature [degC]."""
        if self.imperial:
            return f"{half_up(c_to_f(celsius)):.0f} °F"
        return f"{half_up(celsius, 0.1):.1f} °C".replace(".0 ", " ")

    def volume(self, litres: float) -> str:
        """Return a water capacity [L]."""
        if self.imperial:
            return f"{litres / 1000.0 / M3_PER_CUFT:.3g} cu ft"
        return f"{litres:.4g} L"

    def size(self, typed: str, litres: float, posts: int, wp_bar: float) -> str:
        """Return a cylinder's size: as typed where that is in these units, else reckoned.

        Cubic feet are free air at working pressure, as `blender.units.rated_volume_m3` has it.
        """
        count, each_l = f"{posts}x" if posts > 1 else "", litres / posts
        if self.imperial == ("cu" in typed.lower() or "ft" in typed.lower()):
            return typed
        if not self.imperial:
            return f"{count}{each_l:.4g} L"
        wp_psi = bar_to_psi(wp_bar)
        rated = each_l / 1000.0 / rated_volume_m3(1.0, wp_psi)
        return f"{count}{half_up(rated):.0f} cu ft at {half_up(wp_psi):.0f} psi"

    def wanted(self, typed: str) -> str:
        """Return a request such as ``230bar:EAN32`` in words."""
        # The first picture must not wait for the planner.
        from blender.planning.request import parse_want

        asked = parse_want(typed, "want")
        return f"{asked.gas_text} to {self.pressure(asked.gauge_bar).replace('.0 ', ' ')}"

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


_SHORT = {"oxygen": "O2", "helium": "He"}


def short_gas(name: str) -> str:
    """Return a gas by the letters it has on a bottle, where a line has no room for its name.

    Examples
    --------
    >>> short_gas("oxygen 99.5 %"), short_gas("air")
    ('O2', 'air')
    """
    return _SHORT.get(name.partition(" ")[0], name)


@dataclass(frozen=True, slots=True)
class Typed:
    """A gauge reading as typed in one field: pressure, temperature, what that is of."""

    at: str
    temperature: str
    kind: str


def reading(text: str, units: Units, kind: str) -> Typed:
    """Understand ``74,5 31`` or ``1080psi 88F wall``, or a scale's ``1.234kg``.

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
    if is_mass(text):
        parse_mass(text, "scale")
        return Typed(text.strip(), "", kind)
    words = text.split()
    if words and words[-1].lower() in _KINDS:
        kind = _KINDS[words.pop().lower()]
    if len(words) != 2:
        given = text.strip() or "nothing"
        how = units.example("74,5 31", "1080 88")
        raise InputError("reading", given, f"type pressure and temperature: {how}")
    at = units.typed_pressure(words[0])
    temperature = units.typed_temperature(words[1])
    parse_gauge_pressure(at, "pressure")
    parse_temperature(temperature, "temperature")
    return Typed(at, temperature, kind)


def echo(typed: Typed, units: Units) -> str:
    """Return how a reading was understood, in the units shown."""
    if is_mass(typed.at):
        return f"the scale reads {units.mass(parse_mass(typed.at))}"
    pressure = units.pressure(parse_gauge_pressure(typed.at))
    return f"{pressure} at {units.temperature(parse_temperature(typed.temperature))} ({typed.kind})"
