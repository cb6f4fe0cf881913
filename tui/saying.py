"""The station's sentences as a screen says them: in its words and in the units shown.

The use cases speak to scripts, too: they name options and speak of bar and degC.  Here the
options become what the field is called, and every pressure, temperature and depth the unit
that is set.  What people typed has no blank before its unit and is left as it was typed.

A sentence has its figures rounded, in bar to a tenth or to a whole one; turned into psi that
would be up to seven off.  So whoever has the sentence gives what it was made from along, and
the figure that this one was rounded from is converted instead.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass

from blender.rounding import half_up
from blender.units import KG_PER_LB, PA_PER_PSI, bar_to_psi, c_to_f, f_to_c, m_to_ft, pa_to_bar
from tui.shown import Units

# What an option is called on the screens; one that is not here is its own words.
_FIELDS = {
    "ambient": "ambient pressure",
    "at": "pressure",
    "certified": "card shown",
    "clean": "oxygen clean",
    "delivery": "'delivery'",
    "draw": "'from'",
    "have": "what is left",
    "intake-air": "'intake'",
    "kind": "whose temperature",
    "limit": "'limit'",
    "order": "'order'",
    "qualified": "qualified for",
    "rated-intake": "'flow'",
    "residual": "how it is known",
    "settle-at": "'settle'",
    "supply": "'from'",
    "temperature": "temperature",
    "top": "'top'",
    "tp": "test pressure",
    "want": "what is wanted",
    "wp": "working pressure",
}
_OPTION = re.compile(r"--([a-z][a-z-]*[a-z])\b")
_GIVE_OR_TAKE = re.compile(r"\+- (?=\d)")
_N = r"-?\d+(?:\.\d+)?"
_BOTH_PRESSURES = re.compile(rf"({_N}) bar \(({_N}) psi\)")
_PRESSURE = re.compile(rf"(?<![\w.])(?:({_N})( to |-))?({_N}) (bar|psi)\b")
_BOTH_TEMPERATURES = re.compile(rf"({_N} to {_N} deg)C \(({_N} to {_N} deg)F\)")
_TEMPERATURE = re.compile(rf"(?<![\w.])(?:({_N}) to )?({_N}) (?:°|deg)([CF])\b")
_BOTH_MASSES = re.compile(rf"({_N}) kg \(({_N}) lb\)")
_MASS = re.compile(rf"(?<![\w.])({_N}) kg\b")
_DEPTH = re.compile(rf"(?<![\w.])(?:({_N}) to )?({_N}) m\b(?!/)")
_MOST_PARTIAL_BAR = 5.0  # after the word ppO2, a pressure up to this is a partial one


@dataclass(frozen=True, slots=True)
class Exact:
    """What a sentence was made from: pressures [bar] and temperatures [degC]."""

    pressures: tuple[float, ...] = ()
    temperatures: tuple[float, ...] = ()


def exact(*known: object) -> Exact:
    """Return every pressure and temperature in something: whatever is named ``_bar`` or ``_c``.

    Examples
    --------
    >>> exact({"steps": [{"to_bar": 84.43, "temperature_c": 20.0}]}, 7)
    Exact(pressures=(84.43,), temperatures=(20.0,))
    """
    found = [pair for one in known for pair in _figures("", one)]
    return Exact(
        tuple(value for name, value in found if name.endswith("_bar")),
        tuple(value for name, value in found if name.endswith("_c")),
    )


def _figures(name: str, known: object) -> Iterator[tuple[str, float]]:
    if isinstance(known, float):
        yield name, known
    elif isinstance(known, Mapping):
        for key, value in known.items():
            yield from _figures(str(key), value)
    elif isinstance(known, (list, tuple)):
        for value in known:
            yield from _figures(name, value)
    elif is_dataclass(known):
        for field in fields(known):
            yield from _figures(field.name, getattr(known, field.name))


def said(text: str, units: Units, *known: object) -> str:
    """Return a sentence of the station in the screen's words and the units shown.

    Parameters
    ----------
    text : str
        The sentence.
    units : Units
        What quantities are shown in.
    known : object
        What it was made from, as dicts or dataclasses with unrounded figures.

    Examples
    --------
    >>> said("--tp: 200 bar is not usable; give more than 232 bar", Units())
    'test pressure: 200 bar is not usable; give more than 232 bar'
    >>> said("add oxygen to 84.4 bar at 20.0 degC", Units(imperial=True))
    'add oxygen to 1224 psi at 68 °F'
    >>> said("207 bar were left", Units(imperial=True), {"left_bar": 206.8427})
    '3000 psi were left'
    """
    figures = exact(*known) if units.imperial else Exact()
    return in_units(_OPTION.sub(_field, text), units, figures)


def _field(found: re.Match[str]) -> str:
    return _FIELDS.get(found[1], found[1].replace("-", " "))


def in_units(text: str, units: Units, figures: Exact = Exact()) -> str:
    """Return a sentence with its quantities in the units shown; partial pressures stay in bar."""
    text = _GIVE_OR_TAKE.sub("± ", text)
    text = _BOTH_PRESSURES.sub(r"\2 psi" if units.imperial else r"\1 bar", text)
    text = _BOTH_TEMPERATURES.sub(r"\2F" if units.imperial else r"\1C", text)

    def pressure(found: re.Match[str]) -> str:
        low, joint, high, unit = found.groups()
        is_partial = "ppo2" in text[: found.start()].lower() and float(high) <= _MOST_PARTIAL_BAR
        if unit == units.unit or is_partial:
            return found[0]
        before = f"{_pressure(low, unit, figures)}{joint}" if low else ""
        return f"{before}{_pressure(high, unit, figures)} {units.unit}"

    def temperature(found: re.Match[str]) -> str:
        low, high, unit = found.groups()
        if (unit == "F") == units.imperial:
            return found[0].replace("deg", "°")
        before = f"{_temperature(low, unit, figures)} to " if low else ""
        return f"{before}{_temperature(high, unit, figures)} °{'F' if units.imperial else 'C'}"

    text = _BOTH_MASSES.sub(r"\2 lb" if units.imperial else r"\1 kg", text)
    text = _MASS.sub(_pounds, text) if units.imperial else text
    text = _TEMPERATURE.sub(temperature, _PRESSURE.sub(pressure, text))
    return _DEPTH.sub(_feet, text) if units.imperial else text


def _pressure(number: str, unit: str, figures: Exact) -> str:
    """Return a pressure of one unit as a number of the other."""
    if unit == "psi":
        return f"{half_up(pa_to_bar(float(number) * PA_PER_PSI), 0.1):.1f}"
    return _of_one(number, figures.pressures, _psi)


def _psi(bar: float) -> str:
    psi = bar_to_psi(bar)
    return f"{half_up(psi, 1.0 if abs(psi) >= 100.0 else 0.1):g}"


def _of_one(number: str, known: Sequence[float], shown: Callable[[float], str]) -> str:
    """Return what a number was rounded from as it is shown; the number's own if that is unsure."""
    half = 0.5 * 10.0 ** -len(number.partition(".")[2]) + 1e-9
    fits = {shown(value) for value in known if abs(value - float(number)) <= half}
    return fits.pop() if len(fits) == 1 else shown(float(number))


def _temperature(number: str, unit: str, figures: Exact) -> str:
    """Return a temperature of one unit as a number of the other."""
    if unit == "F":
        return f"{half_up(f_to_c(float(number)), 0.1):g}"
    return _of_one(number, figures.temperatures, lambda c: f"{half_up(c_to_f(c)):.0f}")


def _pounds(found: re.Match[str]) -> str:
    return f"{half_up(float(found[1]) / KG_PER_LB, 0.001):.3f} lb"


def _feet(found: re.Match[str]) -> str:
    shown = [f"{half_up(m_to_ft(float(metre))):g}" for metre in found.groups() if metre]
    return f"{' to '.join(shown)} ft"
