"""A cylinder that other stations know, entered here with the stamps read there."""

from __future__ import annotations

from typing import Any

from blender.errors import InputError
from blender.record import read, shop
from blender.record.journal import Record
from blender.station.actor import Actor
from blender.station.bringing import stamps_of
from blender.station.desk import Station
from blender.station.equipment import serial_of
from blender.station.other_site import elsewhere


def known_away(record: Record, serial: str) -> dict[str, Any]:
    """Return what other stations know of a cylinder, JSON-ready.

    Returns
    -------
    dict
        ``serial``, ``is_here`` (whether it is in this record too), ``known_at``, ``fills``.

    Raises
    ------
    InputError
        If no station of the shop knows it.
    """
    ident = serial_of(serial)
    with record.read() as conn:
        is_here = read.has_cylinder(conn, ident)
        found = elsewhere(conn, ident)
    if not is_here and not found["known_at"]:
        raise InputError("cylinder", repr(serial[:80]), "no station of the shop knows this serial")
    return {"serial": ident, "is_here": is_here, **found}


def add_known(station: Station, actor: Actor, serial: str) -> dict[str, Any]:
    """Enter a cylinder with the stamps another station read; compare them with the cylinder.

    Raises
    ------
    InputError
        If it is in the record already, or no station knows it.
    """
    ident = serial_of(serial)
    with station.act(actor, "cylinder") as act:
        if read.has_cylinder(act.conn, ident):
            raise InputError("serial", repr(serial), "this serial is in the record already")
        found = shop.known_cylinders(act.conn, ident)
        if not found:
            told = "no other station knows it; add it with its stamps: `cylinder add`"
            raise InputError("serial", repr(serial[:80]), told)
        data = stamps_of(found[0])
        act.enter("cylinder.added", data, "cylinder known at another station")
    return data
