"""The station's sentences in other units: bar, °C, m and kg, or psi, °F, ft and lb.

A sentence has its figures rounded, in bar to a tenth or to a whole one; turned into psi that
would be up to seven off.  So whoever has the sentence gives what it was made from along, and
the figure that this one was rounded from is converted instead.  What people typed has no blank
before its unit and is left as it was typed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass

from blender.rounding import half_up
from blender.units import (
    KG_PER_LB,
    PA_PER_PSI,
    bar_to_psi,
    c_to_f,
    f_to_c,
    k_to_c,
    m_to_ft,
    pa_to_bar,
)

_GIVE_OR_TAKE = re.compile(r"\+- (?=\d)")
_N = r"-?\d+(?:\.\d+)?"
_BOTH_PRESSURES = re.compile(rf"({_N}) bar \(({_N}) psi\)")
_PRESSURE = re.compile(rf"(?<![\w.])(?:({_N})( to |-| ± ))?({_N}) (bar|psi)\b")
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

    An entry's whole numbers, ``_mbar`` and ``_mk``, are taken too.

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
    elif isinstance(known, int) and name.endswith("_mbar"):
        yield "_bar", known / 1000.0
    elif isinstance(known, int) and name.endswith("_mk"):
        yield "_c", k_to_c(known / 1000.0)
    elif isinstance(known, Mapping):
        for key, value in known.items():
            yield from _figures(str(key), value)
    elif isinstance(known, (list, tuple)):
        for value in known:
            yield from _figures(name, value)
    elif is_dataclass(known):
        for field in fields(known):
            yield from _figures(field.name, getattr(known, field.name))


def in_units(text: str, imperial: bool, figures: Exact = Exact()) -> str:
    """Return a sentence with its quantities in one system; partial pressures stay in bar.

    Parameters
    ----------
    text : str
        The sentence.
    imperial : bool
        Whether psi, degF, ft and lb are wanted.
    figures : Exact
        What its figures were rounded from, where that is known.

    Examples
    --------
    >>> in_units("207 bar were left", True, Exact((206.8427,)))
    '3000 psi were left'
    >>> in_units("+1.05 +- 0.80 bar (k = 2)", True, Exact((1.0534, 0.7986)))
    '+15.3 ± 11.6 psi (k = 2)'
    """
    wanted = "psi" if imperial else "bar"
    text = _GIVE_OR_TAKE.sub("± ", text)
    text = _BOTH_PRESSURES.sub(r"\2 psi" if imperial else r"\1 bar", text)
    text = _BOTH_TEMPERATURES.sub(r"\2F" if imperial else r"\1C", text)

    def pressure(found: re.Match[str]) -> str:
        low, joint, high, unit = found.groups()
        is_partial = "ppo2" in text[: found.start()].lower() and float(high) <= _MOST_PARTIAL_BAR
        if unit == wanted or is_partial:
            return found[0]
        before = f"{_pressure(low, unit, figures)}{joint}" if low else ""
        return f"{before}{_pressure(high, unit, figures)} {wanted}"

    def temperature(found: re.Match[str]) -> str:
        low, high, unit = found.groups()
        if (unit == "F") == imperial:
            return found[0].replace("deg", "°")
        before = f"{_temperature(low, unit, figures)} to " if low else ""
        return f"{before}{_temperature(high, unit, figures)} °{'F' if imperial else 'C'}"

    text = _BOTH_MASSES.sub(r"\2 lb" if imperial else r"\1 kg", text)
    text = _MASS.sub(_pounds, text) if imperial else text
    text = _TEMPERATURE.sub(temperature, _PRESSURE.sub(pressure, text))
    return _DEPTH.sub(_feet, text) if imperial else text


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
