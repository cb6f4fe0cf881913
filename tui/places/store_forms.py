"""What is registered in the Store: a supply, an analyser, another bottle."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blender.errors import InputError
from blender.gas import parse_gas
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.station.equipment import add_analyser, add_supply
from blender.units import parse_gauge_pressure, parse_size
from tui.dialogs.form import Drafts, Field, Form
from tui.shown import Units

ADD = "Add a supply or an analyser"


def add_form(units: Units, drafts: Drafts) -> Form:
    """Return the form of a new supply; without a gas it is an analyser."""
    return Form(
        ADD,
        [
            Field("name", "Name", "o1 or bank 2; of an analyser A1", "",
                  lambda text: clean_text(text, "name", 40)),
            Field("gas", "Gas", "oxygen, EAN32, helium; empty: an analyser", "", _gas_or_none),
            *_bottle(units, "", "empty: it never runs out"),
        ],
        drafts,
    )  # fmt: skip


def change_title(name: str) -> str:
    """Return the title of the form of another bottle."""
    return f"Another bottle as {name}"


def change_form(known: Mapping[str, Any], units: Units, drafts: Drafts) -> Form:
    """Return the form of a swapped bottle, with what the one before it was."""
    size = f"{known['size_l']:g}L" if known["size_l"] else ""
    return Form(
        change_title(known["name"]),
        [Field("gas", "Gas", "oxygen", known["gas"], parse_gas), *_bottle(units, size, "50L")],
        drafts,
    )


def _bottle(units: Units, size: str, size_hint: str) -> list[Field]:
    at_hint = "2600" if units.imperial else "180"

    def pressure(text: str) -> object:
        return text.strip() and parse_gauge_pressure(units.typed_pressure(text.strip()), "pressure")

    def capacity(text: str) -> object:
        return text.strip() and parse_size(text.strip(), "size")

    return [
        Field("size", "Water capacity", f"50L; {size_hint}", size, capacity),
        Field("at", f"Gauge at {units.temperature(20.0)}", at_hint, "", pressure),
    ]


def _gas_or_none(text: str) -> object:
    return text.strip() and parse_gas(text.strip(), "gas")


def bottle(answers: Mapping[str, str], units: Units) -> dict[str, str | None]:
    """Return size and pressure as the use case takes them, None for what was left empty."""
    size, at = answers["size"].strip(), answers["at"].strip()
    return {"size": size or None, "at": units.typed_pressure(at) if at else None}


def add(station: Station, actor: Actor, answers: Mapping[str, str], units: Units) -> dict[str, Any]:
    """Add what the form says: a supply, or an analyser where no gas is named.

    Raises
    ------
    InputError
        If an analyser was given a size or pressure, or the use case refuses a value.
    """
    name, gas, given = answers["name"], answers["gas"].strip(), bottle(answers, units)
    if gas:
        return add_supply(station, actor, name=name, gas=gas, **given)
    if any(given.values()):
        raise InputError("gas", "nothing", "a supply with a size needs its gas; an analyser none")
    return add_analyser(station, actor, name=name)
