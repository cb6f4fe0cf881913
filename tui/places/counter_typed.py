"""What is typed at the Counter, understood: what is left in a cylinder, and what is wanted."""

from __future__ import annotations

import re
from dataclasses import dataclass

from blender.atmosphere import HANDBOOK
from blender.best_mix import DiveLimits, best_mix
from blender.depth import (
    MAX_DEPTH_M,
    MAX_PPO2,
    MIN_PPO2,
    NARCOTIC_LIMIT,
    best_o2,
    limits_from_readings,
)
from blender.errors import InputError
from blender.gas import AIR_O2, parse_gas
from blender.planning.options import Options
from blender.planning.request import parse_gas_at, parse_want
from blender.planning.supplies import plain_name
from blender.rounding import round_down, shallower
from blender.units import (
    M_PER_FT,
    parse_gauge_pressure,
    parse_length,
    parse_number,
    parse_percent,
    parse_temperature,
)
from tui import typed_options
from tui.shown import Units

_SOURCES = ("stated", "label", "unknown")
_NUMBER = re.compile(r"[+-]?[\d.,]+%?")
_PRESSURE = re.compile(r"[\d.,]+(bar|psi|psig|mpa)?", re.IGNORECASE)
_DEGREES = re.compile(r"[+-]?[\d.,]+°?[cfk]", re.IGNORECASE)
_OPTION_WORDS = (
    "flow", "at", "top", "from", "limit", "settle", "intake", "delivery", "ambient", "order",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Left:
    """What is left in a cylinder, as typed.

    Parameters
    ----------
    typed : str
        The whole line.
    pressure, temperature : str
        With their units; no temperature where none was typed.
    gas : str
        Its name.
    source : str
        ``analysed``, ``label``, ``stated`` or ``unknown``.
    analyser : str
        With what it was analysed, as typed.
    o2, he : str
        The analysis [%], as typed; empty where it was not measured.
    """

    typed: str
    pressure: str
    temperature: str
    gas: str
    source: str
    analyser: str = ""
    o2: str = ""
    he: str = ""

    @property
    def have(self) -> str:
        """The residual as a request takes it: ``60bar@18C:EAN28``."""
        at = f"@{self.temperature}" if self.temperature else ""
        return f"{self.pressure}{at}:{self.gas}"

    @property
    def is_analysed(self) -> bool:
        """Whether somebody read an analyser just now."""
        return self.source == "analysed"


def left(
    text: str, units: Units, label_gas: str, analyser: str, *, had_helium: bool = False
) -> Left:
    """Understand what is left in a cylinder.

    Parameters
    ----------
    text : str
        Such as ``60 28.1``, ``60 18C 21.2 34.8``, ``60 label``, ``60 EAN28 stated``, ``0``.
    units : Units
        What a bare number is in.
    label_gas : str
        The gas of the last label, empty if none counts.
    analyser : str
        The analyser used last.
    had_helium : bool
        Whether what was in it last had helium: then it is measured, never taken as none.

    Raises
    ------
    InputError
        If it cannot be read so; a pressure is never guessed.

    Examples
    --------
    >>> left("60 28.1", Units(), "", "A1").have
    '60bar:EAN28.1'
    """
    words = text.split()
    if not words or not words[0][0].isdigit():
        raise InputError("left", ascii(text[:40]) if words else "nothing", _how_left(units))
    pressure = units.typed_pressure(words.pop(0))
    gauge_bar = parse_gauge_pressure(pressure, "left")
    temperature = words.pop(0) if words and _DEGREES.fullmatch(words[0]) else ""
    if temperature:
        parse_temperature(temperature, "left")
    if not words and gauge_bar == 0.0:
        return Left(text, pressure, temperature, "air", "unknown")
    if not words or [word.lower() for word in words] == ["label"]:
        return Left(text, pressure, temperature, _of_label(label_gas, units), "label")
    if reading := _analysis(words, analyser):
        name, o2, he = reading
        if had_helium and not he:
            such = units.example("60 21.2 34.8", "870 21.2 34.8")
            raise InputError("left", text, f"its last gas had helium: type that too, {such}")
        gas = _gas_of(parse_percent(o2, "O2"), parse_percent(he, "helium") if he else 0.0)
        found = Left(text, pressure, temperature, gas, "analysed", name, o2, he)
    else:
        source = words.pop().lower() if words[-1].lower() in _SOURCES else "stated"
        gas = " ".join(words) or _unnamed(source, label_gas, text, units)
        found = Left(text, pressure, temperature, gas, source)
    parse_gas_at(found.have, "left")
    return found


def _how_left(units: Units) -> str:
    at = units.example("60", "870")
    return (
        f"type pressure and analysed O2: {at} 28.1 (a third number is helium); {at} alone is the "
        f"gas of the last label, {at} EAN28 what the diver says, 0 empty"
    )


def _unnamed(source: str, label_gas: str, text: str, units: Units) -> str:
    """Return the gas of a line that names none."""
    if source == "stated":
        such = units.example("60 EAN28 stated", "870 EAN28 stated")
        raise InputError("left", text, f"say what the diver says is in it: {such}")
    return "air" if source == "unknown" else _of_label(label_gas, units)


def _of_label(gas: str, units: Units) -> str:
    if not gas:
        at = units.example("60", "870")
        why = f"no label is known for what is in it now: analyse it, {at} 28.1, or say {at} EAN28"
        raise InputError("left", "the label's gas", why)
    return gas


def _analysis(words: list[str], analyser: str) -> tuple[str, str, str] | None:
    """Return analyser, oxygen and helium, or None where a gas was named."""
    name, numbers = analyser, words
    if not _NUMBER.fullmatch(words[0]):
        if words[0][0] in "0123456789+-.," or _is_gas(" ".join(words)):
            return None
        name, numbers = words[0], words[1:]
    if not 1 <= len(numbers) <= 2 or not all(_NUMBER.fullmatch(word) for word in numbers):
        return None
    return name, numbers[0], numbers[1] if len(numbers) == 2 else ""


def _is_gas(text: str) -> bool:
    try:
        parse_gas(text, "left")
    except InputError:
        return False
    return True


def _gas_of(o2: float, he: float) -> str:
    """Return an analysed gas as somebody would type it [%]."""
    if min(o2, he or o2) <= 1.0:  # a number up to 1 with a point is read as a fraction
        return f"{o2 / 100:.4f}/{he / 100:.4f}"
    return f"{o2:g}/{he:g}" if he else f"EAN{o2:g}"


def left_text(given: Left, units: Units) -> str:
    """Return how what is left was understood, with units."""
    bar = parse_gauge_pressure(given.pressure)
    if bar == 0.0:
        return f"empty: {units.pressure(0.0)}, taken as air"
    at = f"at {units.temperature(20.0)} (assumed)"
    if given.temperature:
        at = f"at {units.temperature(parse_temperature(given.temperature))}"
    if given.is_analysed:
        he = f"He {parse_percent(given.he, 'helium'):g} %" if given.he else "He not measured"
        o2 = parse_percent(given.o2, "O2")
        on = f"on {given.analyser}" if given.analyser else "(put the analyser's name before the O2)"
        said = f"O2 {o2:g} %, {he}, analysed now {on}"
    else:
        said = f"{given.gas}, {_KNOWN[given.source]}"
    return f"{units.pressure(bar)} {at}: {said}"


_KNOWN = {
    "label": "by the last label",
    "stated": "as the diver says",
    "unknown": "not known, reckoned as this",
}


@dataclass(frozen=True, slots=True)
class Want:
    """What is wanted, as typed.

    Parameters
    ----------
    want : str
        As a request takes it: ``230bar:EAN32``.
    options : str
        Planning options in words.
    whose : str
        A name or a part of one, if another customer was meant.
    """

    want: str
    options: str = ""
    whose: str = ""

    @property
    def plan_options(self) -> Options:
        """The options as the planner takes them."""
        return typed_options.options(self.options)


def want(text: str, units: Units) -> Want:
    """Understand what is wanted.

    Parameters
    ----------
    text : str
        ``230 EAN32``, ``230 best 32m 1.4``, ``200 18/45 for Kai``, ``230 EAN32 flow 40%``.
    units : Units
        What a bare number is in.

    Raises
    ------
    InputError
        If it cannot be read so.

    Examples
    --------
    >>> want("230 best 32m 1.4", Units()).want
    '230bar:EAN33'
    """
    words = text.replace(":", " ", 1).split()
    whose = ""
    if "for" in words:
        at = words.index("for")
        words, whose = words[:at], " ".join(words[at + 1 :])
        if not whose:
            raise InputError("want", "for", "say for whom: for Kai")
    if len(words) < 2:
        how = units.example("230 EAN32, or 230 best 32m 1.4", "3300 EAN32, or 3300 best 105ft 1.4")
        raise InputError("want", " ".join(words) or "nothing", f"type pressure and gas: {how}")
    if _PRESSURE.fullmatch(words[1]) and not _PRESSURE.fullmatch(words[0]):
        words[:2] = reversed(words[:2])  # said the other way round: EAN32 230
    pressure, rest = units.typed_pressure(words[0]), words[1:]
    at = next((i for i, word in enumerate(rest) if word in _OPTION_WORDS), len(rest))
    given, more = rest[:at], " ".join(rest[at:])
    gas = _best(given[1:], units) if given and given[0] == "best" else " ".join(given)
    found = Want(f"{pressure}:{gas}", more, whose)
    parse_want(found.want, "want")
    if more:
        typed_options.options(more)
    return found


def _best(words: list[str], units: Units) -> str:
    """Return the richest nitrox for a depth, to the whole percent below; deeper, a trimix."""
    if not 1 <= len(words) <= 2:
        raise InputError("want", "best", "give a depth and perhaps a ppO2: best 32m 1.4")
    depth = words[0]
    if not re.search(r"[A-Za-z]", depth):
        parse_number(depth, "depth")
        depth += "ft" if units.imperial else "m"
    metres, unit = parse_length(depth, "depth", 0.0, MAX_DEPTH_M)
    ppo2 = parse_number(words[1], "ppO2") if len(words) == 2 else 1.4
    if not MIN_PPO2 <= ppo2 <= MAX_PPO2:
        raise InputError("ppO2", words[1], f"allowed is {MIN_PPO2:g} to {MAX_PPO2:g} bar")
    column = HANDBOOK.imperial if unit == "ft" else HANDBOOK.metric
    deepest = metres / M_PER_FT if unit == "ft" else metres
    o2 = best_o2(ppo2, deepest, column)
    if o2 < AIR_O2:
        limits = DiveLimits(ppo2, NARCOTIC_LIMIT[unit])
        return plain_name(best_mix(deepest, column, limits).whole)
    return f"EAN{int(round_down(o2 * 100.0))}"


def want_text(given: Want, units: Units, customer: str, wp_bar: float) -> str:
    """Return how what is wanted was understood, with units."""
    asked = parse_want(given.want, "want")
    settled = units.temperature(parse_temperature(given.plan_options.settle_at, "settle"))
    said = f"{asked.gas_text} to {units.pressure(asked.gauge_bar)} at {settled}"
    if asked.mix.o2 < 1.0:
        limits = limits_from_readings([asked.mix.o2], 1.4)
        said += f", MOD {depth(limits['mod_m'], limits['mod_ft'], units)} at 1.4"
    said += f"; for {given.whose or customer or '?'}"
    if given.options:
        said += f"; {typed_options.options_text(given.options)}"
    if wp_bar and asked.gauge_bar > wp_bar:
        said += f" ! above WP {units.pressure(wp_bar, 0)}"
    return said


def depth(metres: float, feet: float, units: Units) -> str:
    """Return a maximum depth [m], [ft] in the units shown, rounded shallower in those."""
    return f"{shallower(feet)} ft" if units.imperial else f"{shallower(metres)} m"


def again(want_typed: str | None, units: Units) -> str:
    """Return what was wanted last time as it would be typed now.

    Examples
    --------
    >>> again("230bar:EAN32", Units()), again("3000psi:EAN32", Units())
    ('230 EAN32', '3000psi EAN32')
    """
    if not want_typed or ":" not in want_typed:
        return ""
    pressure, _, gas = want_typed.partition(":")
    unit = "psi" if units.imperial else "bar"
    return f"{pressure.strip().removesuffix(unit).strip()} {gas.strip()}"
