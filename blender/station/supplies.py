"""The banks and bottles at work: their gauges read, an empty one swapped, one taken out of use."""

from __future__ import annotations

from typing import Any

from blender.errors import InputError
from blender.gas import parse_gas
from blender.planning.supplies import BOTTLE_TEMPERATURE_C, check_argon
from blender.record import search
from blender.record.models import SupplyRow
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.bank_doubt import doubt_bar
from blender.station.deliveries import UNKNOWN, from_store
from blender.station.desk import Act, Station
from blender.station.equipment import lot_of
from blender.station.numbers import bar, celsius, mbar, micromol, millikelvin, mol, ppm
from blender.units import parse_gauge_pressure, parse_size, parse_temperature
from blender.vessel import Contents, amount_for_pressure


def read_supply(
    station: Station, actor: Actor, name: str, *, at: str, temperature: str = "20C"
) -> dict[str, Any]:
    """Enter what a bank's gauge shows; from now on that is what it holds.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who reads it.
    name : str
        The supply.
    at, temperature : str
        Gauge pressure and the temperature of its gas, as typed.

    Raises
    ------
    InputError
        If a value cannot be read, or there is no such supply with a gauge.
    """
    with station.act(actor, "gauge") as act:
        return enter_reading(act, name, at, temperature)


def enter_reading(act: Act, name: str, at: str, temperature: str) -> dict[str, Any]:
    """Enter a bank's gauge reading inside an act, and return what it means.

    Raises
    ------
    InputError
        If a value cannot be read, or there is no such supply with a gauge.
    """
    row = _in_use(act, name)
    if row.size_ml == 0:
        given = "it is taken never to run out: it has no gauge to read; swap it with a --size"
        raise InputError("supply", repr(name), given)
    shown = parse_gauge_pressure(at, "--at")
    gas_c = parse_temperature(temperature, "--temperature")
    content = _content(row.gas_typed, shown, gas_c, row.size_ml)
    expected_bar = should_show_bar(row, gas_c)
    data = {
        "name": row.name,
        "gauge_mbar": mbar(shown),
        "temp_mk": millikelvin(gas_c),
        "content_umol": micromol(content),
        "was_umol": row.content_umol,
        "expected_mbar": mbar(expected_bar),
        "u_mbar": mbar(doubt_bar(act.conn, row, expected_bar, gas_c)),
        "typed": {"at": at.strip(), "temperature": temperature.strip()},
    }
    if far := _far_off(data, act.rules.bank_tolerance_bar):
        data["far"] = far
    act.enter("supply.read", data, "bank read")
    return reading_facts(data)


def _far_off(data: dict[str, Any], tolerance_bar: float) -> str:
    """Say how far a bank is from what the record expects; empty if that is not far."""
    facts = reading_facts(data)
    off = facts["difference_bar"]
    if abs(off) <= tolerance_bar:
        return ""
    side = "more" if off > 0.0 else "less"
    shown = f"{facts['pressure_bar']:.1f} bar at {facts['temperature_c']:.0f} degC"
    expected = f"expected {facts['expected_bar']:.1f} bar"
    return f"{facts['name']}: shows {shown}, {expected}: {abs(off):.1f} bar {side}"


def reading_facts(data: dict[str, Any]) -> dict[str, Any]:
    """Return an entered gauge reading, JSON-ready; amounts in mol, pressures in bar gauge."""
    shown, expected = bar(data["gauge_mbar"]), bar(data["expected_mbar"])
    sure_bar = bar(data["u_mbar"]) if "u_mbar" in data else None
    outside = sure_bar is not None and abs(shown - expected) > sure_bar
    return {
        "name": data["name"],
        "pressure_bar": shown,
        "temperature_c": celsius(data["temp_mk"]),
        "expected_bar": expected,
        "difference_bar": shown - expected,
        "content_mol": mol(data["content_umol"]),
        "difference_mol": mol(data["content_umol"] - data["was_umol"]),
        "uncertainty_bar": sure_bar,
        "outside": outside,
        "meaning": _meaning(shown - expected) if outside else None,
        "far": data.get("far"),
    }


def _meaning(off_bar: float) -> str:
    """Return what a difference no gauge explains is likely to be."""
    if off_bar < 0.0:
        return "less than any gauge explains: a leak, or gas used that nobody entered"
    return "more than any gauge explains: a mis-entry, or another bottle was connected"


def reading_text(facts: dict[str, Any]) -> str:
    """Return a bank's reading in a sentence."""
    shown = f"{facts['pressure_bar']:.1f} bar at {facts['temperature_c']:.0f} degC"
    far = " FAR OFF: look for a leak or an unrecorded use." if facts["far"] else ""
    sure = "" if facts["uncertainty_bar"] is None else f" +- {facts['uncertainty_bar']:.1f}"
    told = f"{facts['name']}: shows {shown}; by the record {facts['expected_bar']:.1f}{sure} bar."
    return f"{told}{far}" + (f" It is {facts['meaning']}." if facts["outside"] else "")


def should_show_bar(row: SupplyRow, temperature_c: float) -> float:
    """Return what the gauge of a supply should show by the record [bar gauge].

    Parameters
    ----------
    row : SupplyRow
        A supply with a size.
    temperature_c : float
        Temperature of its gas [degC].
    """
    if not row.content_umol:
        return 0.0
    amounts = [mol(row.content_umol) * part for part in parse_gas(row.gas_typed).fractions]
    inside = Contents((amounts[0], amounts[1], amounts[2], amounts[3]), row.size_ml / 1e6)
    return max(inside.gauge_bar(temperature_c), 0.0)


def change_supply(
    station: Station,
    actor: Actor,
    name: str,
    *,
    gas: str | None = None,
    size: str | None = None,
    at: str | None = None,
    lot: str | None = None,
    certificate: str | None = None,
    delivery: int | None = None,
) -> dict[str, Any]:
    """Enter that another bottle was connected under a supply's name.

    `lot` and `certificate` are what bottle and note say, for a recall.  A bottle out of a
    `delivery` has its gas, size, lot, certificate and, if it is not read, its pressure.

    What is not given stays as it was, except the pressure: a new bottle is read.  A retired
    supply is in use again.

    Raises
    ------
    InputError
        If nothing changes, a value cannot be read, the new bottle's pressure is missing, or
        there is no such supply.
    """
    if gas is None and size is None and at is None and delivery is None:
        told = "give what changed: --gas, --size or --at, or the --delivery it came with"
        raise InputError("supply", name, told)
    with station.act(actor, "swap") as act:
        row = _known(act, name)
        if delivery is None:
            data = _swapped(row, gas, size, at) | lot_of(lot, certificate)
        else:
            data = _delivered(act, row, delivery, (gas, size, lot, certificate), at)
        act.enter("supply.changed", data, "bottle swapped")
    return {key: data[key] for key in ("name", "gas_typed", "size_ml", "typed")}


def _delivered(
    act: Act, row: SupplyRow, number: int, also: tuple[str | None, ...], at: str | None
) -> dict[str, Any]:
    """Return a bottle out of a delivery, as the delivery note has it."""
    if any(one is not None for one in also):
        told = "the delivery has its gas, size, lot and certificate; give --at alone with it"
        raise InputError("--delivery", f"{number}", told)
    came = from_store(act.conn, number)
    stated = None if came.mbar == UNKNOWN else f"{bar(came.mbar):.3f}bar"
    size = f"{came.size_ml / 1000.0:.10g}L"
    data = _swapped(row, came.gas_typed, size, at or stated)
    if at is None:  # what stands on the note is no reading of the gauge
        data["typed"] |= {"at": ""}
    return data | lot_of(came.lot, came.certificate) | {"delivery": number}


def _swapped(row: SupplyRow, gas: str | None, size: str | None, at: str | None) -> dict[str, Any]:
    gas_typed = row.gas_typed if gas is None else gas.strip()
    mix = parse_gas(gas_typed, "--gas")
    check_argon(mix, gas_typed, "--gas")
    size_ml = row.size_ml if size is None else round(parse_size(size, "--size").litres * 1000.0)
    if size_ml and at is None:
        raise InputError("--at", "nothing", "read the new bottle's gauge: its pressure at 20 degC")
    if at is not None and not size_ml:
        raise InputError("--size", "nothing", "with a pressure give the bottle's water capacity")
    shown = 0.0 if at is None else parse_gauge_pressure(at, "--at")
    content = _content(gas_typed, shown, BOTTLE_TEMPERATURE_C, size_ml) if size_ml else 0.0
    old = {"gas_typed": row.gas_typed, "size_ml": row.size_ml, "content_umol": row.content_umol}
    return {
        "name": row.name,
        "gas_typed": gas_typed,
        "o2_ppm": ppm(mix.o2),
        "he_ppm": ppm(mix.he),
        "size_ml": size_ml,
        "content_umol": micromol(content),
        "old": old,
        "typed": {"gas": gas or "", "size": size or "", "at": at or ""},
    }


def retire_supply(station: Station, actor: Actor, name: str, *, reason: str) -> dict[str, Any]:
    """Take a supply out of use; it stays in the record and is not planned with.

    Raises
    ------
    InputError
        If no reason is given, or no such supply is in use.
    """
    why = clean_text(reason, "--reason", 200)
    with station.act(actor, "supply") as act:
        row = _in_use(act, name)
        act.enter("supply.retired", {"name": row.name, "reason": why}, "supply retired")
    return {"name": row.name, "retired": True, "reason": why}


def _content(gas_typed: str, gauge_bar: float, temperature_c: float, size_ml: int) -> float:
    gas = parse_gas(gas_typed, "--gas")
    return amount_for_pressure(gas, gauge_bar, temperature_c, size_ml / 1e6)


def _known(act: Act, name: str) -> SupplyRow:
    row = search.supply(act.conn, name.strip())
    if row is None:
        raise InputError("supply", repr(name[:80]), "no such supply; see `supply list`")
    return row


def _in_use(act: Act, name: str) -> SupplyRow:
    row = _known(act, name)
    if row.retired:
        raise InputError("supply", repr(name), "it was retired; `supply change` brings it back")
    return row
