"""A mix of oxygen, helium, nitrogen and argon, and the names the trade gives it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from blender.errors import InputError

# Dry air, mole fractions; carbon dioxide is counted with nitrogen.
# Source: IUPAC dry air, O2 20.946 %, Ar 0.934 %, rest as nitrogen.
AIR_O2, AIR_AR, AIR_N2 = 0.20946, 0.00934, 0.78120
_ARGON_SHARE = AIR_AR / (AIR_AR + AIR_N2)

GAS_HELP = (
    "allowed are air, oxygen, oxygen99.5, helium, argon, EAN32, 18/45 (percent O2/He), "
    "heliox 20/80, or fractions up to 1 with a point such as 0.32/0"
)


@dataclass(frozen=True, slots=True)
class Mix:
    """Mole fractions of a dry gas; they sum to one.

    Parameters
    ----------
    o2, he, n2, ar : float
        Mole fractions of oxygen, helium, nitrogen and argon [1].

    Examples
    --------
    >>> air = parse_gas("air")
    >>> air.o2
    0.20946
    """

    o2: float
    he: float
    n2: float
    ar: float

    @property
    def fractions(self) -> tuple[float, float, float, float]:
        """Mole fractions in the order O2, He, N2, Ar [1]."""
        return (self.o2, self.he, self.n2, self.ar)

    @property
    def breathable_kind(self) -> bool:
        """False for gas that nobody may breathe at any depth: argon for suits."""
        return self.ar <= 0.05

    def as_dict(self) -> dict[str, float]:
        """The mix as a JSON-ready dictionary of fractions."""
        return {"o2": self.o2, "he": self.he, "n2": self.n2, "ar": self.ar}


def mix(o2: float, he: float = 0.0) -> Mix:
    """Return the mix with the given oxygen and helium, the rest as in air.

    The rest is nitrogen and argon in air's ratio.

    Parameters
    ----------
    o2, he : float
        Mole fractions of oxygen and helium [1], each 0 to 1, together at most 1.

    Raises
    ------
    InputError
        If a fraction is outside 0 to 1 or they sum to more than 1.

    Examples
    --------
    >>> mix(0.32).he
    0.0
    """
    rest = 1.0 - o2 - he
    if not (0.0 <= o2 <= 1.0 and 0.0 <= he <= 1.0 and rest >= -1e-12):
        raise InputError("gas", f"O2 {o2:.6g}, He {he:.6g}", "fractions are 0 to 1, sum at most 1")
    rest = max(rest, 0.0)
    return Mix(o2, he, rest * (1.0 - _ARGON_SHARE), rest * _ARGON_SHARE)


AIR = Mix(AIR_O2, 0.0, AIR_N2, AIR_AR)
OXYGEN = Mix(1.0, 0.0, 0.0, 0.0)
HELIUM = Mix(0.0, 1.0, 0.0, 0.0)
ARGON = Mix(0.0, 0.0, 0.0, 1.0)
_NAMED = {
    "air": AIR,
    "oxygen": OXYGEN,
    "o2": OXYGEN,
    "helium": HELIUM,
    "he": HELIUM,
    "argon": ARGON,
}

_NUMBER = r"(?:\d+(?:\.\d+)?)"
_EAN = re.compile(rf"(?:eanx?|nitrox)\s*({_NUMBER})%?", re.IGNORECASE | re.ASCII)
_OXYGEN = re.compile(rf"oxygen\s*({_NUMBER})%?", re.IGNORECASE | re.ASCII)
_PAIR = re.compile(
    rf"(?:(trimix|tmx|heliox)\s*)?({_NUMBER})%?\s*/\s*({_NUMBER})%?", re.IGNORECASE | re.ASCII
)


def parse_gas(text: str, field: str = "gas") -> Mix:
    """Read the name of a gas.

    A number with a point and at most 1 is a fraction, every other number a percentage.
    ``oxygen99.5`` is 99.5 % oxygen and the rest argon, as industrial oxygen is.

    Parameters
    ----------
    text : str
        What was typed, for example ``EAN32``, ``18/45``, ``heliox 20/80``, ``oxygen99.5``.
    field : str
        The field's name, for the error message.

    Raises
    ------
    InputError
        If the name is not known or the numbers are impossible.

    Examples
    --------
    >>> parse_gas("18/45").he
    0.45
    >>> parse_gas("oxygen99.5").ar
    0.005
    """
    return _read(text, field)


@lru_cache(maxsize=128)  # the same few gases are named in every fill
def _read(text: str, field: str) -> Mix:
    name = " ".join(_decimal_point(text.strip(), field).split())
    if named := _NAMED.get(name.lower()):
        return named
    if found := _OXYGEN.fullmatch(name):
        o2 = _fraction(found[1], text, field)
        return Mix(o2, 0.0, 0.0, round(1.0 - o2, 12))
    if found := _EAN.fullmatch(name):
        return _checked(_fraction(found[1], text, field), 0.0, text, field)
    if found := _PAIR.fullmatch(name):
        return _pair(found, text, field)
    raise InputError(field, repr(text), GAS_HELP)


def _decimal_point(text: str, field: str) -> str:
    """Return the text with its decimal commas as points; an ambiguous comma is refused."""
    if re.search(r",\d{3}(?!\d)", text):
        raise InputError(field, repr(text), "a comma before exactly three digits is ambiguous")
    return text.replace(",", ".")


def _pair(found: re.Match[str], text: str, field: str) -> Mix:
    o2, he = _fraction(found[2], text, field), _fraction(found[3], text, field)
    is_heliox = (found[1] or "").lower() == "heliox"
    if is_heliox and abs(o2 + he - 1.0) > 1e-9:
        raise InputError(field, repr(text), "the two parts of a heliox sum to 100")
    return _checked(o2, he, text, field)


def _checked(o2: float, he: float, text: str, field: str) -> Mix:
    if o2 + he > 1.0 + 1e-9:
        raise InputError(field, repr(text), "oxygen and helium together are at most 100 %")
    return mix(o2, min(he, 1.0 - o2))


def _fraction(number: str, text: str, field: str) -> float:
    value = float(number)
    if "." in number and value <= 1.0:
        return value
    if value > 100.0:
        raise InputError(field, repr(text), "a percentage is at most 100")
    return round(value / 100.0, 12)


def name_of(gas: Mix, digits: int = 0) -> str:
    """Return the trade's name of a mix, its percentages rounded to `digits`.

    Parameters
    ----------
    gas : Mix
        The mix.
    digits : int
        Decimals of the percentages.

    Examples
    --------
    >>> name_of(mix(0.32)), name_of(mix(0.18, 0.45)), name_of(AIR)
    ('EAN32', '18/45', 'air')
    """
    o2, he = f"{gas.o2 * 100:.{digits}f}", f"{gas.he * 100:.{digits}f}"
    if not gas.breathable_kind:
        return "argon" if gas.ar > 0.99 else f"argon mix {gas.ar * 100:.0f} %"
    if gas.he < 0.0005:
        if abs(gas.o2 - AIR_O2) < 0.0005:
            return "air"
        if gas.o2 >= 0.9995:
            return "oxygen"
        return f"oxygen {gas.o2 * 100:.1f} %" if gas.o2 >= 0.985 else f"EAN{o2}"
    if gas.he > 0.9995:
        return "helium"
    return f"heliox {o2}/{he}" if gas.o2 + gas.he > 0.9995 else f"{o2}/{he}"
