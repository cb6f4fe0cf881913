"""`fillwright heat`: the stop of a warm cylinder, as a pure function of what was typed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from blender.errors import InputError, ModelRangeError
from blender.gas import Mix, parse_gas
from blender.heat.filling import Feed
from blender.heat.fitting import FIRST_GUESS_W_K, Fit, fit
from blender.heat.panel import check_bank, check_panel
from blender.heat.readings import parse_readings
from blender.heat.state import Warm
from blender.heat.stop import HeatedFill, hot_stop
from blender.heat.wall import Wall, parse_conductance, parse_wall
from blender.planning.request import GasAt, parse_gas_at
from blender.planning.supplies import check_argon
from blender.units import (
    bar_to_pa,
    c_to_k,
    k_to_c,
    parse_ambient,
    parse_gauge_pressure,
    parse_number,
    parse_size,
    parse_temperature,
)
from blender.vessel import contents_at
from tui.commands.heat_figures import figures, fitted, sure
from tui.commands.heat_text import lines, warnings

__all__ = ["answer", "lines"]

MIN_MINUTES, MAX_MINUTES = 0.1, 240.0
_RANGE = (
    "somewhere on the way or at rest the gas would be beyond 500 bar or outside 230 to 500 K, the "
    "range of the equation of state: ask for less, or fill slower"
)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What was understood, before the conductances are known."""

    litres: float
    have: GasAt
    gas: Mix
    ambient_bar: float
    bank_pa: float | None
    capacity_j_k: float


def answer(
    cylinder: str,
    have: str,
    want: str,
    minutes: str,
    wall: str,
    fill_gas: str = "air",
    inside: str | None = None,
    outside: str | None = None,
    readings: str | None = None,
    room: str = "20C",
    settle_at: str = "20C",
    ambient: str = "1.01325bar",
    panel_max: str | None = None,
    bank: str | None = None,
) -> dict[str, Any]:
    """Answer from what was typed; `readings` is the text of the table.

    Raises
    ------
    InputError
        If something cannot be read, or does not go together.
    NoFillError
        If the hot stop is above the panel's maximum or the bank.
    """
    around = parse_ambient(ambient, "--ambient")
    bank_pa = None if bank is None else bar_to_pa(parse_gauge_pressure(bank, "--bank") + around)
    capacity, gas = parse_wall(wall, "--wall"), _gas(fill_gas)
    held = parse_gas_at(have, "--have")
    asked = _Asked(parse_size(cylinder, "--cylinder").litres, held, gas, around, bank_pa, capacity)
    metal, basis, fit_found = _conductances(asked, inside, outside, readings)
    room_c = parse_temperature(room, "--room")
    want_pa = bar_to_pa(parse_gauge_pressure(want, "--want") + around)
    settle_k = c_to_k(parse_temperature(settle_at, "--settle-at"))
    filling = HeatedFill(
        _start(asked, room_c),
        Feed(gas, c_to_k(room_c), bank_pa),
        metal,
        c_to_k(room_c),
        _minutes(minutes) * 60.0,
        want_pa,
        settle_k,
    )
    highest = None if panel_max is None else parse_gauge_pressure(panel_max, "--panel-max")
    try:
        told = _checked(filling, highest, around, fit_found)
    except ModelRangeError as error:
        if error.field.startswith("--"):
            raise
        raise ModelRangeError("--want", repr(want), _RANGE) from None
    found = {"request": _request(asked, filling, basis, highest), **told}
    if fit_found is not None:
        found |= {"fit": fitted(fit_found)}
    return found | {"warnings": warnings(found)}


def _checked(
    filling: HeatedFill, highest: float | None, around: float, fit_found: Fit | None
) -> dict[str, Any]:
    """Return the figures, or refuse what panel or bank cannot do."""
    way = hot_stop(filling)
    if highest is not None:
        check_panel(filling, way[-1], highest, around)
    check_bank(filling, way[-1], around)
    told = figures(filling, way, around)
    if fit_found is not None:
        told["stop"] |= sure(filling, way[-1], fit_found)
    return told


def _gas(typed: str) -> Mix:
    gas = parse_gas(typed, "--fill-gas")
    check_argon(gas, typed, "--fill-gas")
    return gas


def _minutes(typed: str) -> float:
    value = parse_number(re.sub(r"\s*min\s*$", "", typed), "--minutes")
    if not MIN_MINUTES <= value <= MAX_MINUTES:
        allowed = f"a fill takes {MIN_MINUTES:g} to {MAX_MINUTES:g} minutes"
        raise InputError("--minutes", repr(typed), allowed)
    return value


def _start(asked: _Asked, room_c: float) -> Warm:
    held = asked.have
    at_c = room_c if held.temperature_c is None else held.temperature_c
    inside = contents_at(held.mix, held.gauge_bar, at_c, asked.litres / 1000.0, asked.ambient_bar)
    return Warm(inside, c_to_k(at_c), c_to_k(at_c))


def _conductances(
    asked: _Asked, inside: str | None, outside: str | None, readings: str | None
) -> tuple[Wall, str, Fit | None]:
    """Return the metal, whether its conductances are given, assumed or fitted, and the fit."""
    if readings is not None:
        if inside is not None or outside is not None:
            allowed = "give the conductances, or readings to find them from, not both"
            raise InputError("--readings", "with --inside or --outside", allowed)
        found = fit(
            parse_readings(readings, "--readings"),
            asked.capacity_j_k,
            asked.have.mix,
            asked.gas,
            asked.litres / 1000.0,
            asked.ambient_bar,
            asked.bank_pa,
        )
        return found.wall, "fitted", found
    typed = ((inside, "--inside"), (outside, "--outside"))
    values = [
        assumed if text is None else parse_conductance(text, field)
        for (text, field), assumed in zip(typed, FIRST_GUESS_W_K, strict=True)
    ]
    basis = "assumed" if inside is None or outside is None else "given"
    return Wall(asked.capacity_j_k, *values), basis, None


def _request(
    asked: _Asked, filling: HeatedFill, basis: str, highest: float | None
) -> dict[str, Any]:
    start, around = filling.start, asked.ambient_bar
    understood: dict[str, Any] = {
        "cylinder_l": asked.litres,
        "have": {
            "pressure_bar": asked.have.gauge_bar,
            "temperature_c": start.gas_c,
            "gas": asked.have.mix.as_dict(),
        },
        "fill_gas": asked.gas.as_dict(),
        "want_bar": filling.want_pa / 1e5 - around,
        "settle_at_c": k_to_c(filling.settle_k),
        "minutes": filling.seconds / 60.0,
        "room_c": k_to_c(filling.room_k),
        "ambient_bar": around,
        "wall_j_k": asked.capacity_j_k,
        "inside_w_k": filling.wall.inside_w_k,
        "outside_w_k": filling.wall.outside_w_k,
        "conductances": basis,
        "pairs": start.contents.pairs,
    }
    if asked.bank_pa is not None:
        understood["bank_bar"] = asked.bank_pa / 1e5 - around
    return understood if highest is None else understood | {"panel_max_bar": highest}
