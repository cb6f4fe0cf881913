"""What the station's gases cost, in the shop's own money: recipes are ranked by it."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.planning.supplies import DEFAULT_SUPPLIES, TOP_NAME
from blender.record import read
from blender.record.journal import Record
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.units import parse_number

MOST = 100_000.0
_MICRO = 1e6


def set_price(station: Station, actor: Actor, *, supply: str, price: str) -> dict[str, Any]:
    """Enter what a cubic metre of free gas from a supply costs.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager.
    supply : str
        A supply of the station, or ``top`` for what the compressor delivers of air.
    price : str
        A number in the shop's own money.

    Raises
    ------
    InputError
        If there is no such supply, or the price cannot be read or is not 0 to 100000.
    """
    money = parse_number(price, "PRICE")
    if not 0.0 <= money <= MOST:
        raise InputError("PRICE", repr(price[:40]), f"0 to {MOST:g} a cubic metre of free gas")
    with station.act(actor, "price") as act:
        names, name = _names(act.conn), supply.strip()
        if name not in names:
            raise InputError("NAME", repr(supply[:80]), f"the supplies are {', '.join(names)}")
        micro = round(money * _MICRO)
        data = {"supply": name, "m3_micro": micro, "typed": price.strip()}
        act.enter("price.set", data, "price set")
    return {"supply": name, "price_m3": micro / _MICRO}


def _names(conn: Connection) -> list[str]:
    """Return what has a price: the supplies in use, else those there are without any, and air."""
    own = [row.name for row in read.supplies(conn) if not row.retired]
    return [*(own or [one.name for one in DEFAULT_SUPPLIES]), TOP_NAME]


def prices_m3(conn: Connection) -> dict[str, float]:
    """Return what a cubic metre of free gas costs, by supply; unknown ones are left out."""
    return {name: micro / _MICRO for name, micro in read.prices(conn).items()}


def listing(record: Record) -> dict[str, Any]:
    """Return the price of every supply, null where nobody set one."""
    with record.read() as conn:
        known, names = prices_m3(conn), _names(conn)
    return {"prices": [{"supply": name, "price_m3": known.get(name)} for name in names]}


def line(one: dict[str, Any]) -> str:
    """Return a price as a line."""
    price = one["price_m3"]
    if price is None and one["supply"] == TOP_NAME:
        return f"{one['supply']:12} not set: counted as 0"
    return f"{one['supply']:12} " + ("not set" if price is None else f"{price:g} a m3 of free gas")
