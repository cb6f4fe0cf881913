"""A cylinder filled at another station of the shop, analysed and signed for here.

It becomes a fill of this record whose entry names the other station, its fill and the digest of
its entry; from then on it is worked on like any other, and every gate of signing is asked here.
After the next exchange the other station's record names this one's entry in its turn.
"""

from __future__ import annotations

import json
from typing import Any

from blender.errors import InputError
from blender.planning.request import parse_gas_at, parse_want
from blender.record import read, shop
from blender.record.anchor import STATION
from blender.record.models_of_shop import SiteCylinderRow, SiteFillRow
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.desk import Act, Station
from blender.station.gates import PASS
from blender.station.other_site import hold_gate
from blender.station.read_elsewhere import before_bringing
from blender.station.set_apart import quarantine_gate
from blender.station.site_news import enter_analysis
from blender.units import parse_ambient

_KEPT = ("serial", "have_typed", "residual", "want_typed", "want_mbar", "want_o2_ppm",
         "want_he_ppm", "settle_mk", "method", "ambient_typed", "gauge_mbar", "temp_mk", "gauge",
         "has_helium", "contents_umol")  # fmt: skip
STAMPS = ("serial", "size_ml", "posts", "size_typed", "wp_mbar", "tp_mbar", "tested", "inspected",
          "clean")  # fmt: skip


def bring(
    station: Station,
    actor: Actor,
    *,
    site: str,
    number: int,
    customer: str,
    at_hand: bool = False,
) -> Answer:
    """Take in a fill of another station, with its gas in and unsigned, to be analysed here.

    Its cylinder is entered with the stamps known there, where it is not in this record yet.

    Parameters
    ----------
    station : Station
        Where it is now.
    actor : Actor
        Who takes it in.
    site, number : str, int
        The station that filled it, and its fill there.
    customer : str
        Name or id in this record: customers' names do not travel.
    at_hand : bool
        Whether somebody stands by: then a cylinder held at another station is a stop.

    Raises
    ------
    InputError
        If no such fill is known here, it was taken in before, or the customer is not on record.
    """
    with station.act(actor, "request") as act:
        known = _known(act, site, number)
        facts = {**json.loads(known.facts), "serial": known.serial, "want_typed": known.want_typed}
        _check_readable(facts)
        person = read.customer(act.conn, customer)
        _cylinder(act, known)
        fill = read.next_fill_number(act.conn)
        data: dict[str, Any] = {name: facts[name] for name in _KEPT}
        data |= {"fill": fill, "customer": person.person, "from": _from(act, known, facts)}
        analysed = facts.get("analysed", [])
        gates = [
            quarantine_gate(act.conn, known.serial),
            hold_gate(act.conn, known.serial, at_hand=at_hand, before="it is taken in"),
            before_bringing(known.site, known.state, analysed),
        ]
        if against := [gate.reason for gate in gates if gate.answer != PASS]:
            return Answer(0, "requested", gates, done=False, text="; ".join(against))
        act.enter("fill.brought", data, "taken in from another station")
        for one in analysed:
            enter_analysis(act.station, act.unit, {**one, "site": known.site, "fill": number})
    told = f"Fill {fill}: {known.serial}, filled at {known.site} as its fill {number}."
    told += f" {known.want_typed} was wanted; analyse it here."
    minds = [f" Mind: {gate.reason}." for gate in gates if gate.caution]
    seen = {"site": known.site, "site_fill": number, "cylinder": known.serial}
    return Answer(fill, "resting", gates, text=told + "".join(minds), facts=seen)


def _known(act: Act, site: str, number: int) -> SiteFillRow:
    ident = site.strip()
    rows = read.equal(act.conn, SiteFillRow, {"site": ident, "fill": number})
    if not rows or not STATION.fullmatch(ident):
        told = "no unsigned fill of that station and number is known here; the office's next"
        raise InputError(
            "fill", f"{site[:40]} {number}", f"{told} answer brings it: `site receive`"
        )
    before = shop.brought_from(act.conn, ident, number)
    if before is not None:
        told = f"it was taken in before, as fill {before.fill}"
        raise InputError("fill", f"{ident} {number}", told)
    return rows[0]


def _check_readable(facts: dict[str, Any]) -> None:
    """Refuse what was typed at the other station where it cannot be read here.

    Raises
    ------
    InputError
        Saying what of it.
    """
    parse_want(facts["want_typed"], "wanted there")
    if facts["have_typed"]:
        parse_gas_at(facts["have_typed"], "left in it there")
    if facts["ambient_typed"]:
        parse_ambient(facts["ambient_typed"], "ambient there")
    if sum(facts["contents_umol"]) <= 0:
        raise InputError("fill", facts["want_typed"], "there is no gas in it by that record")


def _from(act: Act, known: SiteFillRow, facts: dict[str, Any]) -> dict[str, Any]:
    """Return what names the other station's fill, and its entry."""
    return {
        "site": known.site,
        "site_name": shop.name_of(act.conn, known.site),
        "site_fill": known.fill,
        "site_seq": facts["at_seq"],
        "site_digest": facts["digest"],
        "filled_by": facts["filled_by"],
        "filled_us": facts["filled_us"],
        "offset_min": facts["offset_min"],
    }


def _cylinder(act: Act, known: SiteFillRow) -> None:
    """Enter the cylinder with the stamps the other station read, where it is not here yet."""
    if read.has_cylinder(act.conn, known.serial):
        return
    found = [one for one in shop.known_cylinders(act.conn, known.serial) if one.site == known.site]
    if not found:
        told = "its cylinder is not known here yet; register it with its stamps first"
        raise InputError("cylinder", known.serial, told)
    act.enter("cylinder.added", stamps_of(found[0]), "cylinder known at another station")


def stamps_of(row: SiteCylinderRow) -> dict[str, Any]:
    """Return a cylinder's stamps as another station has them, and which."""
    return {name: getattr(row, name) for name in STAMPS} | {"known_from": row.site}
