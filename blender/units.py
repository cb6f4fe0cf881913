"""Every unit conversion there is, and the reading of quantities as people type them.

Inside the program all is SI: pascal (absolute), cubic metre, kelvin, mole, metre.  A
quantity keeps what was typed beside what was understood.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from blender.errors import InputError

# Exact by definition (SI brochure; NIST SP 811, appendix B).
PA_PER_BAR = 1e5
PA_PER_MPA = 1e6
PA_PER_PSI = 4.4482216152605 / 0.0254**2
PA_PER_ATM = 101325.0
PA_PER_MMHG = 133.322387415
M_PER_FT = 0.3048
M3_PER_CUFT = 0.3048**3
KG_PER_LB = 0.45359237
ZERO_C_K = 273.15
GAS_CONSTANT_J_MOL_K = 8.314462618  # exact to ten digits, SI 2019
PSI_ATM = 14.7  # the rounded atmosphere of published cylinder tables

STANDARD_AMBIENT_PA = PA_PER_ATM
TYPED_MIN_C, TYPED_MAX_C = -20.0, 60.0
MAX_GAUGE_BAR = 499.0
MIN_AMBIENT_BAR, MAX_AMBIENT_BAR = 0.5, 1.1


def bar_to_pa(bar: float) -> float:
    """Convert a pressure [bar] to [Pa]."""
    return bar * PA_PER_BAR


def pa_to_bar(pa: float) -> float:
    """Convert a pressure [Pa] to [bar]."""
    return pa / PA_PER_BAR


def pa_to_psi(pa: float) -> float:
    """Convert a pressure [Pa] to [psi]."""
    return pa / PA_PER_PSI


def bar_to_psi(bar: float) -> float:
    """Convert a pressure [bar] to [psi]."""
    return bar * PA_PER_BAR / PA_PER_PSI


def c_to_k(celsius: float) -> float:
    """Convert a temperature [degC] to [K]."""
    return celsius + ZERO_C_K


def k_to_c(kelvin: float) -> float:
    """Convert a temperature [K] to [degC]."""
    return kelvin - ZERO_C_K


def c_to_f(celsius: float) -> float:
    """Convert a temperature [degC] to [degF]."""
    return celsius * 1.8 + 32.0


def f_to_c(fahrenheit: float) -> float:
    """Convert a temperature [degF] to [degC]."""
    return (fahrenheit - 32.0) / 1.8


def m_to_ft(metre: float) -> float:
    """Convert a length [m] to [ft]."""
    return metre / M_PER_FT


def rated_volume_m3(cubic_feet: float, working_pressure_psi: float) -> float:
    """Water capacity of a cylinder named by its rated free-air volume.

    V = rated / ((WP + 14.7) / 14.7), the way published specification tables are made.

    Parameters
    ----------
    cubic_feet : float
        Rated free air at working pressure [ft3].
    working_pressure_psi : float
        Working pressure [psi].

    Examples
    --------
    >>> round(rated_volume_m3(80.0, 3000.0) * 1000, 3)
    11.046
    """
    return cubic_feet * M3_PER_CUFT * PSI_ATM / (working_pressure_psi + PSI_ATM)


_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)")
_AMBIGUOUS = re.compile(r"[+-]?\d{1,3},\d{3}")


def parse_number(text: str, field: str) -> float:
    """Read a decimal number; a point is decimal, a comma too unless it is ambiguous.

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        The field's name, for the error message.

    Raises
    ------
    InputError
        If it is not a number, or a comma is followed by exactly three digits, which may
        be a thousands mark.

    Examples
    --------
    >>> parse_number("12,5", "reading")
    12.5
    """
    typed = text.strip()
    if not typed.isascii() or len(typed) > 40 or not _NUMBER.fullmatch(typed):
        raise InputError(field, repr(text), "give a plain number such as 74.5 or 74,5")
    if _AMBIGUOUS.fullmatch(typed):
        raise InputError(
            field, repr(text), "a comma before exactly three digits is ambiguous; use a point"
        )
    value = float(typed.replace(",", "."))
    if not math.isfinite(value):
        raise InputError(field, repr(text), "give a finite number")
    return value


_QUANTITY = re.compile(r"\s*([+-]?[\d.,]+)\s*([^\d\s.,+-][^\d]*?)?\s*")


def _parse(text: str, field: str, factors: dict[str, float], example: str) -> tuple[float, str]:
    """Return the number typed and its unit, both as typed in lower case."""
    found = _QUANTITY.fullmatch(text) if len(text) <= 60 else None
    unit = (found[2] or "").lower().strip() if found else ""
    if found is None or unit not in factors:
        units = ", ".join(sorted(u for u in factors if u))
        raise InputError(
            field, repr(text), f"give a number with its unit ({units}), such as {example}"
        )
    return parse_number(found[1], field), unit


_PRESSURE = {"bar": PA_PER_BAR, "psi": PA_PER_PSI, "psig": PA_PER_PSI, "mpa": PA_PER_MPA}


def parse_gauge_pressure(text: str, field: str = "pressure") -> float:
    """Read a gauge pressure with its unit and return it in [bar].

    Raises
    ------
    InputError
        If it cannot be read, is negative, or is above 499 bar.

    Examples
    --------
    >>> round(parse_gauge_pressure("3000psi"), 3)
    206.843
    """
    number, unit = _parse(text, field, _PRESSURE, "230bar")
    bar = number if unit == "bar" else number * _PRESSURE[unit] / PA_PER_BAR
    if not 0.0 <= bar <= MAX_GAUGE_BAR:
        raise InputError(field, repr(text), f"gauge pressures are 0 to {MAX_GAUGE_BAR:.0f} bar")
    return bar


_MASS = {"g": 1.0, "kg": 1000.0, "lb": KG_PER_LB * 1000.0}
_MASS_TEXT = re.compile(r"\s*([+-]?[\d.,]+)\s*(g|kg|lb)\s*", re.ASCII | re.IGNORECASE)


def is_mass(text: str) -> bool:
    """Tell whether a text reads as a mass with its unit, rather than as a pressure.

    Examples
    --------
    >>> is_mass("1.234kg"), is_mass("74.5bar")
    (True, False)
    """
    return len(text) <= 40 and _MASS_TEXT.fullmatch(text) is not None


def parse_mass(text: str, field: str = "mass") -> float:
    """Read what a scale shows, with its unit, and return it in [g]; it may be negative.

    Raises
    ------
    InputError
        If it cannot be read, or is more than 10 t.

    Examples
    --------
    >>> parse_mass("1.234kg"), parse_mass("-40 g")
    (1234.0, -40.0)
    """
    found = _MASS_TEXT.fullmatch(text) if len(text) <= 40 else None
    if found is None:
        raise InputError(field, repr(text[:40]), "give what the scale shows, such as 1.234kg")
    grams = round(parse_number(found[1], field) * _MASS[found[2].lower()], 6)
    if abs(grams) > 1e7:
        raise InputError(field, repr(text), "a scale here shows at most 10 t")
    return grams


_AMBIENT = {**_PRESSURE, "mbar": 100.0, "hpa": 100.0, "mmhg": PA_PER_MMHG, "pa": 1.0, "kpa": 1e3}
_AMBIENT["atm"] = PA_PER_ATM


def parse_ambient(text: str, field: str = "ambient") -> float:
    """Read an ambient (absolute) pressure with its unit and return it in [bar].

    Raises
    ------
    InputError
        If it cannot be read or is outside 0.5 to 1.1 bar.

    Examples
    --------
    >>> parse_ambient("795mbar")
    0.795
    """
    number, unit = _parse(text, field, _AMBIENT, "1.01325bar")
    bar = number if unit == "bar" else number * _AMBIENT[unit] / PA_PER_BAR
    if not MIN_AMBIENT_BAR <= bar <= MAX_AMBIENT_BAR:
        raise InputError(
            field, repr(text), f"ambient pressure is {MIN_AMBIENT_BAR} to {MAX_AMBIENT_BAR} bar"
        )
    return bar


_TEMPERATURE = {"c": 1.0, "°c": 1.0, "degc": 1.0, "f": 1.8, "°f": 1.8, "degf": 1.8, "k": 1.0}


def parse_temperature(text: str, field: str = "temperature") -> float:
    """Read a temperature with its unit and return it in [degC].

    Raises
    ------
    InputError
        If it cannot be read or is outside -20 to 60 degC.

    Examples
    --------
    >>> parse_temperature("68F")
    20.0
    """
    number, unit = _parse(text, field, _TEMPERATURE, "20C")
    celsius = number
    if "f" in unit:
        celsius = round(f_to_c(number), 12)
    elif unit == "k":
        celsius = number - ZERO_C_K
    if not TYPED_MIN_C <= celsius <= TYPED_MAX_C:
        raise InputError(field, repr(text), "temperatures are -20 to 60 degC (-4 to 140 degF)")
    return celsius


_LENGTH = {"m": 1.0, "ft": M_PER_FT, "msw": 1.0, "fsw": M_PER_FT}


def parse_length(text: str, field: str, low_m: float, high_m: float) -> tuple[float, str]:
    """Read a depth or altitude; return it in [m] and the unit typed (``m`` or ``ft``).

    Raises
    ------
    InputError
        If it cannot be read or is outside `low_m` to `high_m` [m].

    Examples
    --------
    >>> parse_length("30m", "at", 0.0, 350.0)
    (30.0, 'm')
    """
    number, unit = _parse(text, field, _LENGTH, "30m")
    metre = number * _LENGTH[unit]
    if not low_m <= metre <= high_m:
        raise InputError(field, repr(text), f"allowed is {low_m:g} to {high_m:g} m")
    return metre, "ft" if unit in ("ft", "fsw") else "m"


_PERCENT = {"%": 1.0, "": 1.0, "percent": 1.0}


def parse_percent(text: str, field: str) -> float:
    """Read a percentage (the sign may be left out) and return it in [%].

    Raises
    ------
    InputError
        If it cannot be read or is outside 0 to 100.

    Examples
    --------
    >>> parse_percent("40%", "rated-intake")
    40.0
    """
    number, _ = _parse(text, field, _PERCENT, "40%")
    if not 0.0 <= number <= 100.0:
        raise InputError(field, repr(text), "a percentage is 0 to 100")
    return number


_FLOW = {"l/min": 1.0, "lpm": 1.0, "m3/h": 1000.0 / 60.0, "cfm": M3_PER_CUFT * 1000.0}


def parse_flow(text: str, field: str = "delivery") -> float:
    """Read a compressor's delivery with its unit and return it in [L/min].

    Raises
    ------
    InputError
        If it cannot be read or is not positive.

    Examples
    --------
    >>> parse_flow("200L/min")
    200.0
    """
    found = re.fullmatch(r"\s*([+-]?[\d.,]+)\s*(\S+)\s*", text) if len(text) <= 60 else None
    factor = _FLOW.get(found[2].lower()) if found else None
    if found is None or factor is None:
        raise InputError(field, repr(text), "give a flow such as 200L/min or 7cfm")
    value = parse_number(found[1], field) * factor
    if not 0.0 < value <= 1e5:
        raise InputError(field, repr(text), "a delivery is more than 0 and at most 100000 L/min")
    return value


@dataclass(frozen=True, slots=True)
class Size:
    """The size of a cylinder or set.

    Parameters
    ----------
    count : int
        How many cylinders share one gas space.
    each_l : float
        Water capacity of each [L].
    typed : str
        As typed.
    """

    count: int
    each_l: float
    typed: str

    @property
    def litres(self) -> float:
        """Water capacity of the whole gas space [L]."""
        return self.count * self.each_l

    @property
    def volume_m3(self) -> float:
        """Water capacity of the whole gas space [m3]."""
        return self.litres / 1000.0


_SIZE = re.compile(r"\s*(?:(\d{1,2})\s*[xX]\s*)?([\d.,]+)\s*(?:l|L|litres?)\s*", re.ASCII)
_RATED = re.compile(
    r"\s*(?:(\d{1,2})\s*[xX]\s*)?([\d.,]+)\s*(?:cuft|cu ft|ft3)\s*@\s*([\d.,]+)\s*(psi|bar|MPa)\s*",
    re.IGNORECASE | re.ASCII,
)
MIN_SIZE_L, MAX_SIZE_L = 0.2, 1000.0


def parse_size(text: str, field: str = "cylinder") -> Size:
    """Read the size of a cylinder or set: ``12L``, ``2x12L``, ``80cuft@3000psi``.

    Raises
    ------
    InputError
        If it cannot be read, or the gas space is not 0.2 to 1000 L.

    Examples
    --------
    >>> parse_size("2x12L").litres
    24.0
    """
    if len(text) <= 60 and (found := _SIZE.fullmatch(text)):
        each = parse_number(found[2], field)
    elif len(text) <= 60 and (found := _RATED.fullmatch(text)):
        psi = parse_number(found[3], field) * _PRESSURE[found[4].lower()] / PA_PER_PSI
        each = rated_volume_m3(parse_number(found[2], field), psi) * 1000.0
    else:
        raise InputError(field, repr(text), "give a size such as 12L, 2x12L or 80cuft@3000psi")
    size = Size(int(found[1] or 1), each, text.strip())
    if size.count < 1 or not MIN_SIZE_L <= size.litres <= MAX_SIZE_L:
        raise InputError(field, repr(text), "a gas space is 0.2 to 1000 L")
    return size
