"""`fillwright wall`: a table of stops over residual pressure and wanted mix."""

from __future__ import annotations

import math
from typing import Any

from blender.errors import InputError
from blender.gas import Mix, parse_gas
from blender.planning.supplies import check_argon, plain_name
from blender.planning.wall_table import WallRequest, WallTable, wall_table
from blender.rounding import round_down
from blender.units import (
    bar_to_psi,
    parse_ambient,
    parse_gauge_pressure,
    parse_temperature,
)
from blender.vessel import STANDARD_AMBIENT_BAR

MIXES = ("EAN28", "EAN30", "EAN32", "EAN34", "EAN36", "EAN40", "EAN50")
_MOST_ROWS = 1000
_COLUMNS, _WIDTH = 7, 10  # of a terminal's 80


def request(
    want: str,
    mixes: tuple[str, ...] = (),
    residual: str = "air",
    from_: str = "0bar",
    to: str | None = None,
    step: str = "10bar",
    oxygen: str = "oxygen",
    helium: str = "helium",
    top: str = "air",
    temperature: str = "20C",
    settle_at: str = "20C",
    ambient: str | None = None,
) -> WallRequest:
    """Return what is asked, from the options as typed."""
    want_bar = parse_gauge_pressure(want, "--want")
    if want_bar <= 0.0:
        raise InputError("--want", repr(want), "more than 0 bar is wanted")
    named = [text.strip() for typed in mixes or MIXES for text in typed.split(",")]
    return WallRequest(
        _gas(residual, "--residual"),
        _rows(from_, to, step, want_bar),
        tuple(_wanted(text) for text in named),
        want_bar,
        oxygen=_gas(oxygen, "--oxygen"),
        helium=_gas(helium, "--helium"),
        top=_gas(top, "--top"),
        temperature_c=parse_temperature(temperature, "--temperature"),
        settle_at_c=parse_temperature(settle_at, "--settle-at"),
        ambient_bar=STANDARD_AMBIENT_BAR
        if ambient is None
        else parse_ambient(ambient, "--ambient"),
    )


def _gas(text: str, field: str) -> Mix:
    gas = parse_gas(text, field)
    check_argon(gas, text, field)
    return gas


def _wanted(text: str) -> Mix:
    gas = _gas(text, "--mix")
    if gas.o2 <= 0.0 or not gas.breathable_kind:
        raise InputError(
            "--mix", repr(text), "this is no gas for breathing; ask for one with oxygen"
        )
    return gas


def _rows(from_: str, to: str | None, step: str, want_bar: float) -> tuple[float, ...]:
    """Return the residual pressures from one to another in steps [bar]."""
    low = parse_gauge_pressure(from_, "--from")
    by = parse_gauge_pressure(step, "--step")
    high = want_bar if to is None else parse_gauge_pressure(to, "--to")
    if by <= 0.0 or not low <= high:
        given = f"{from_} to {to or 'the pressure wanted'} by {step}"
        raise InputError("--step", given, "rise from --from to --to by more than 0 bar")
    count = math.floor((high - low) / by + 1e-9) + 1
    if count > _MOST_ROWS:
        raise InputError("--step", f"{count} rows", f"at most {_MOST_ROWS} rows")
    return tuple(round(low + by * number, 9) for number in range(count))


def answer(table: WallTable) -> dict[str, Any]:
    """Return a table JSON-ready: numbers unrounded, what there is not left out."""
    asked = table.request
    return {
        "request": {
            "residual": asked.residual.as_dict(),
            "want_bar": asked.want_bar,
            "oxygen": asked.oxygen.as_dict(),
            "helium": asked.helium.as_dict(),
            "top": asked.top.as_dict(),
            "temperature_c": asked.temperature_c,
            "settle_at_c": asked.settle_at_c,
            "ambient_bar": asked.ambient_bar,
            "pairs": asked.pairs,
        },
        "cells": [
            _cell(table, row, column)
            for row in range(len(asked.residual_bar))
            for column in range(len(asked.wanted))
        ],
    }


def _cell(table: WallTable, row: int, column: int) -> dict[str, Any]:
    wanted = table.request.wanted[column]
    stops = {
        "drain_to_bar": table.drain_bar,
        "helium_bar": table.helium_bar,
        "oxygen_bar": table.oxygen_bar,
        "final_bar": table.final_bar,
    }
    found = {name: float(bar[row, column]) for name, bar in stops.items()}
    left = {"residual_bar": table.request.residual_bar[row], "wanted": wanted.as_dict()}
    return left | {name: bar for name, bar in found.items() if not math.isnan(bar)}


def lines(table: WallTable, unit: str = "bar") -> list[str]:
    """Lay the oxygen stops out for a terminal of 80 columns, in bar or psi."""
    asked, factor = table.request, bar_to_psi(1.0) if unit == "psi" else 1.0
    names = [plain_name(gas) for gas in asked.wanted][:_COLUMNS]
    told = [
        f"Oxygen stops for {asked.want_bar * factor:.6g} {unit} onto {plain_name(asked.residual)}, "
        f"gas at {asked.temperature_c:g} degC",
        f"left {unit}" + "".join(f"{name:>{_WIDTH}}" for name in names),
    ]
    for row, left in enumerate(asked.residual_bar):
        told.append(
            f"{left * factor:8.6g}"
            + "".join(f"{_shown(table, row, c, factor):>{_WIDTH}}" for c in range(len(names)))
        )
    if len(asked.wanted) > len(names):
        told.append(f"{len(asked.wanted) - len(names)} more mixes: see --csv or --out")
    told.append("45>84.4: drain to 45 first, then oxygen to 84.4")
    told.append("top: no oxygen is needed; -: cannot be made so")
    told.append("! for qualified blenders; analyse every cylinder before use")
    return told


def _shown(table: WallTable, row: int, column: int, factor: float) -> str:
    if math.isnan(table.final_bar[row, column]):
        return "-"
    oxygen, drain = float(table.oxygen_bar[row, column]), float(table.drain_bar[row, column])
    drained = "" if math.isnan(drain) else f"{round_down(drain * factor, 1.0):.0f}>"
    stop = "top" if math.isnan(oxygen) else f"{oxygen * factor:.{int(factor == 1.0)}f}"
    return f"{drained}{stop}"


__all__ = ["MIXES", "answer", "lines", "request", "wall_table"]
