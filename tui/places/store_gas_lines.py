"""What the Store says of gas in hand, in units a shop counts by: pressures, free gas, days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from textual.content import Content

from blender.station.receipt import free_gas_m3
from blender.units import M3_PER_CUFT
from reports.totals import REFERENCE
from tui.plain import fit, plain
from tui.saying import said
from tui.shown import Units

Facts = Mapping[str, Any]
_WEEK = 7


def free_gas(amount_mol: float, units: Units) -> str:
    """Return an amount as free gas.

    Examples
    --------
    >>> free_gas(446.15, Units()), free_gas(446.15, Units(imperial=True))
    ('10.0 m³', '353 cu ft')
    """
    volume_m3 = free_gas_m3(amount_mol)
    if units.imperial:
        return f"{volume_m3 / M3_PER_CUFT:.0f} cu ft"
    return f"{volume_m3:.1f} m³"


def gas_lines(found: Facts, units: Units) -> list[str | Content]:
    """Return what is in hand: connected, in the store, how long it lasts, whether requests fit."""
    days = found["days"]
    lasts = f"How long it lasts, by the use of {days} day{'s' * (days != 1)}"
    return [
        *_part(f"Connected: what each gauge should show at {units.temperature(20.0)}",
               [_supply(one, units) for one in found["supplies"]], "no supply yet"),
        *_part("In the store, not connected",
               [delivery_line(one, units) for one in found["store"]], "no bottle"),
        *_part(lasts, [_lasts(one, days, units) for one in found["gases"]], "nothing to count"),
        *(_part("What does not add up", [f"! {one['text']}" for one in found["unbalanced"]], "")
          if found["unbalanced"] else []),
        *_part("Open requests, in the order they came", [*_requests(found["requests"], units)], ""),
        plain(f"Free gas: {REFERENCE}. A range holds it nine times in ten.", "italic"),
    ]  # fmt: skip


def _part(heading: str, lines: Sequence[str], nothing: str) -> list[str | Content]:
    return [plain(heading, "bold"), *(f"  {line}" for line in lines or [nothing]), ""]


def _supply(one: Facts, units: Units) -> str:
    told = f"{fit(one['name'], 12)} {fit(one['gas'], 11)}"
    if one["pressure_bar"] is None:
        return f"{told} does not run out"
    use = f"{free_gas(one['a_day_mol'], units)} a day"
    lot = f", lot {one['lot']}" if one["lot"] else ""
    return f"{told} {fit(units.pressure(one['pressure_bar']), 9, 'right')}  {use}{lot}"


def delivery_line(one: Facts, units: Units) -> str:
    """Return a delivery with the bottles of it that are still in the store."""
    told = [f"{one['delivery']:>3}  {one['day']}  {one['bottles']} x "
            f"{units.volume(one['size_l'])} {one['gas']}"]  # fmt: skip
    if one["pressure_bar"] is not None:
        told.append(units.pressure(one["pressure_bar"]))
    told += [f"{name} {one[name]}" for name in ("lot", "certificate") if one[name]]
    told += [f"from {one['supplier']}"] if one["supplier"] else []
    return ", ".join([*told, f"{one['remaining']} left in the store"])


def _lasts(one: Facts, days: int, units: Units) -> str:
    gas = fit(one["gas"], 10)
    if one["endless"]:
        return f"{gas} does not run out"
    held = f"{gas} {free_gas(one['connected_mol'] + one['store_mol'], units)} in hand"
    if not (found := one["runs_out"]):
        enough = f"nothing drawn in {days} days"
        return f"{held}; {enough if days >= _WEEK else 'a week of use is needed to tell'}"
    span = f"{found['low_days']:.0f} to {found['high_days']:.0f}"
    week = ", by days of the week" if found["by_weekday"] else ""
    when = f"runs out in {found['days']:.0f} days ({span}){week}"
    return f"{held}; {when}: order before {found['early_date']}"


def _requests(asked: Facts, units: Units) -> Iterator[str]:
    count = len(asked["lines"])
    if not count:
        yield "none that is still to be filled"
    elif asked["fit"]:
        yield f"{count}: what is connected is enough for all"
    short = [one for one in asked["lines"] if not one["complete"]]
    for one in short:
        yield f"! fill {one['fill']}, {one['serial']} does NOT fit: {said(one['why'], units, one)}"
