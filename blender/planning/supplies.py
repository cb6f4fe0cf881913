"""The gases a station can let in: bottles with a pressure, and unlimited sources."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from blender.errors import InputError
from blender.gas import HELIUM, OXYGEN, Mix, name_of, parse_gas
from blender.units import parse_gauge_pressure, parse_size
from blender.vessel import Contents, contents_at

BOTTLE_TEMPERATURE_C = 20.0
TOP_NAME = "top"
# Impure oxygen carries a few percent of argon; more than this is no gas for a blender.
MAX_ARGON = 0.10


@dataclass(frozen=True, slots=True)
class Supply:
    """A named source of gas.

    Parameters
    ----------
    name : str
        What the station calls it.
    gas : Mix
        What is in it.
    gauge_bar : float or None
        Gauge pressure at 20 degC [bar]; None means unlimited.
    volume_m3 : float or None
        Water capacity [m3]; None means unlimited.

    Examples
    --------
    >>> parse_supply("o1=oxygen@180barx50L").gauge_bar
    180.0
    """

    name: str
    gas: Mix
    gauge_bar: float | None = None
    volume_m3: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """The supply as understood, JSON-ready; an unlimited one has no pressure."""
        described: dict[str, Any] = {"name": self.name, "gas": self.gas.as_dict()}
        if self.gauge_bar is not None and self.volume_m3 is not None:
            described |= {"pressure_bar": self.gauge_bar, "volume_l": self.volume_m3 * 1000.0}
        return described


DEFAULT_SUPPLIES = (Supply("oxygen", OXYGEN), Supply("helium", HELIUM))

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,31}")
_HELP = "give NAME=GAS@PRESSURExVOLUME such as o1=oxygen@180barx50L, or NAME=GAS if unlimited"


def parse_supply(text: str, field: str = "--supply") -> Supply:
    """Read a supply as typed.

    Parameters
    ----------
    text : str
        ``NAME=GAS@PRESSURExVOLUME``, or ``NAME=GAS`` for an unlimited one.
    field : str
        The field's name, for the error message.

    Returns
    -------
    Supply
        What was understood.

    Raises
    ------
    InputError
        If it cannot be read.

    Examples
    --------
    >>> parse_supply("b2=EAN32@230barx2x50L").volume_m3
    0.1
    """
    name, equals, rest = text.strip().partition("=")
    name = name.strip()
    if not equals or not _NAME.fullmatch(name) or len(text) > 120:
        raise InputError(field, repr(text[:120]), _HELP)
    if name.lower() == TOP_NAME:
        raise InputError(field, repr(text), "the name 'top' is taken by the top gas; use another")
    gas_text, at, content = rest.partition("@")
    gas = parse_gas(gas_text, field)
    check_argon(gas, text, field)
    if not at:
        return Supply(name, gas)
    pressure, times, volume = content.partition("x")
    if not times:
        raise InputError(field, repr(text), _HELP)
    return Supply(
        name, gas, parse_gauge_pressure(pressure, field), parse_size(volume, field).volume_m3
    )


@lru_cache(maxsize=256)
def bottle_contents(supply: Supply, ambient_bar: float, pairs: str) -> Contents:
    """Return what a bottle holds; a plan that is tried again and again asks for the same ones.

    Parameters
    ----------
    supply : Supply
        A bottle, not an unlimited source.
    ambient_bar : float
        Ambient (absolute) pressure [bar].
    pairs : str
        Name of the set of pair parameters of the equation of state.

    Returns
    -------
    Contents
        The amounts.

    Examples
    --------
    >>> bottle = parse_supply("o1=oxygen@180barx50L")
    >>> round(bottle_contents(bottle, 1.01325, "published").total_mol, 1)
    396.4
    """
    assert supply.gauge_bar is not None
    assert supply.volume_m3 is not None
    size = supply.volume_m3
    at_c = BOTTLE_TEMPERATURE_C
    return contents_at(supply.gas, supply.gauge_bar, at_c, size, ambient_bar, pairs)


def plain_name(gas: Mix) -> str:
    """Return the trade's name of a gas, with a decimal only where it has one.

    Parameters
    ----------
    gas : Mix
        The gas.

    Returns
    -------
    str
        For example ``oxygen``, ``oxygen 99.5 %``, ``EAN32``, ``18.5/45.0``.

    Examples
    --------
    >>> plain_name(OXYGEN), plain_name(parse_gas("EAN32")), plain_name(parse_gas("EAN32.4"))
    ('oxygen', 'EAN32', 'EAN32.4')
    """
    if gas.o2 == 1.0:
        return "oxygen"
    is_whole = all(abs(x * 100.0 - round(x * 100.0)) < 1e-6 for x in (gas.o2, gas.he))
    return name_of(gas, 0 if is_whole else 1)


def check_argon(gas: Mix, given: str, field: str) -> None:
    """Refuse a gas with so much argon that the mix made of it could not be breathed.

    Parameters
    ----------
    gas : Mix
        The gas.
    given : str
        What was typed.
    field : str
        The field's name, for the error message.

    Raises
    ------
    InputError
        If it is more than a tenth argon.
    """
    if gas.ar > MAX_ARGON:
        raise InputError(
            field, repr(given), f"argon is not for breathing; at most {MAX_ARGON:.0%} is blended"
        )


def check_names(supplies: Iterable[Supply]) -> None:
    """Refuse two supplies of one name: steps name their supply.

    Parameters
    ----------
    supplies : iterable of Supply
        What there is.

    Raises
    ------
    InputError
        If two have the same name.
    """
    seen: set[str] = set()
    for supply in supplies:
        if supply.name in seen:
            raise InputError("--supply", repr(supply.name), "each supply needs a name of its own")
        seen.add(supply.name)
