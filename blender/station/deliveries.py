"""Bottles that come: how many of what, with lot and certificate, until they are connected."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.gas import parse_gas
from blender.planning.supplies import check_argon
from blender.record import upkeep
from blender.record.models import DeliveryRow
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.station.items import day_of
from blender.station.numbers import bar, fraction, mbar, ppm
from blender.units import parse_gauge_pressure, parse_size

MOST_BOTTLES = 500
UNKNOWN = -1
_MOST_NUMBER = 2**31


def deliver(
    station: Station,
    actor: Actor,
    *,
    gas: str,
    size: str,
    bottles: int = 1,
    at: str | None = None,
    lot: str = "",
    certificate: str = "",
    supplier: str = "",
    on: str = "",
) -> dict[str, Any]:
    """Enter a delivery of like bottles; `supply change --delivery` connects one of them.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who takes it in.
    gas, size : str
        What the bottles are called and hold: ``oxygen99.5``, ``50L``.
    bottles : int
        How many.
    at : str or None
        Their gauge pressure at 20 degC, if it was read or stands on the note.
    lot, certificate, supplier : str
        As the delivery note has them.
    on : str
        The day, today if not said.

    Raises
    ------
    InputError
        If a value cannot be read, or the day lies in the future.
    """
    mix, litres = parse_gas(gas, "--gas"), parse_size(size, "--size").litres
    check_argon(mix, gas, "--gas")
    if not 1 <= bottles <= MOST_BOTTLES:
        raise InputError("--bottles", f"{bottles}", f"1 to {MOST_BOTTLES} bottles")
    shown = UNKNOWN if at is None else mbar(parse_gauge_pressure(at, "--at"))
    texts = {"lot": lot, "certificate": certificate, "supplier": supplier}
    told = {name: clean_text(text, f"--{name}", 60, empty=True) for name, text in texts.items()}
    with station.act(actor, "delivery") as act:
        number = upkeep.next_delivery(act.conn)
        data = {"delivery": number, "gas_typed": gas.strip(), "o2_ppm": ppm(mix.o2),
                "he_ppm": ppm(mix.he), "size_ml": round(litres * 1000.0), "mbar": shown,
                "bottles": bottles, "day": day_of(act, on, "--on"), **told,
                "typed": {"size": size.strip(), "at": at or ""}}  # fmt: skip
        act.enter("delivery.entered", data, "delivery taken in")
    return {**data, "remaining": bottles}


def from_store(conn: Connection, number: int) -> DeliveryRow:
    """Return a delivery that still has bottles in the store.

    Raises
    ------
    InputError
        If there is none of that number, or all its bottles were connected.
    """
    row = upkeep.delivery(conn, number) if 0 < number < _MOST_NUMBER else None
    if row is None or not row.remaining:
        known = ", ".join(str(one.delivery) for one in upkeep.deliveries(conn, remaining=True))
        told = f"deliveries with bottles in the store are {known or 'none'}"
        raise InputError("--delivery", f"{number}", told)
    return row


def listing(conn: Connection) -> dict[str, Any]:
    """Return every delivery, newest first, JSON-ready."""
    return {"deliveries": [facts(row) for row in reversed(upkeep.deliveries(conn))]}


def facts(row: DeliveryRow) -> dict[str, Any]:
    """Return a delivery JSON-ready; what nobody said is null."""
    return {
        "delivery": row.delivery,
        "day": row.day,
        "gas": row.gas_typed,
        "o2": fraction(row.o2_ppm),
        "he": fraction(row.he_ppm),
        "size_l": row.size_ml / 1000.0,
        "pressure_bar": None if row.mbar == UNKNOWN else bar(row.mbar),
        "bottles": row.bottles,
        "remaining": row.remaining,
        "lot": row.lot or None,
        "certificate": row.certificate or None,
        "supplier": row.supplier or None,
    }


def line(one: dict[str, Any]) -> str:
    """Return a delivery as a line."""
    told = [
        f"{one['delivery']:>4} {one['day']} {one['bottles']} x {one['size_l']:g} L {one['gas']}"
    ]
    told += [f"{one['pressure_bar']:.0f} bar"] if one["pressure_bar"] is not None else []
    told += [f"{name} {one[name]}" for name in ("lot", "certificate") if one[name]]
    told += [f"from {one['supplier']}"] if one["supplier"] else []
    return ", ".join([*told, f"{one['remaining']} in the store"])
