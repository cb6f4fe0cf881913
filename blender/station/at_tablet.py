"""What a customer does at the tablet: register, read and sign the undertaking, sign for a fill."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from typing import Any

from blender.errors import InputError, RefusedError
from blender.record import read
from blender.record.text import clean_text
from blender.station import handing
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.fitness import plain_name
from blender.station.handing import Handing
from blender.station.people import enter_customer
from blender.station.privacy import keep_phone, phone_number
from blender.station.strokes import Stroke, kept

UNDERTAKING = (
    "I dive only gas that I am trained and certified for.",
    "I analyse every cylinder myself before I dive it.",
    "I stay above the depth on its label.",
    "I say truthfully what is left in a cylinder I bring.",
    "Nobody breathes from my cylinder who has not analysed it.",
    "The cylinder's own marking and local rules come first.",
)
PRIVACY = (
    "The station keeps your name, telephone number and signature with its record. "
    "You can ask to see what is kept, or to have it erased."
)


def stand_in(station: Station, seq: int) -> tuple[Actor, Handing]:
    """Return who handed this over, to act by what they signed then, and what it is.

    What is entered by it bears the station's seal alone, and can be that one thing only.

    Raises
    ------
    RefusedError
        If nothing such was handed over, or it is over.
    """
    with station.record.read() as conn:
        found = handing.find(conn, station.record.station, station.keys, seq)
        handing.check(conn, found, station.clock())
    if not found.person:
        raise RefusedError("this was not handed to a customer", code=handing.UNKNOWN)
    return Actor(found.person, found.name, found.role, None, handed=seq), found


def whose(station: Station, found: Handing) -> str:
    """Return the name of the customer it is about; empty where a new one registers."""
    with station.record.read() as conn:
        ident = read.fill(conn, found.fill).customer if found.fill else found.customer
        person = read.person(conn, ident) if ident else None
    return (person.name or "") if person else ""


def stop(station: Station, actor: Actor, number: int, *, not_theirs: bool) -> int:
    """Enter that a customer stopped instead of signing; what was handed over is over.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        As `stand_in` gives it.
    number : int
        The fill.
    not_theirs : bool
        Whether they said that the cylinder is not theirs.

    Raises
    ------
    RefusedError
        If this was not handed over, or is over.
    """
    why = "not mine" if not_theirs else "stopped"
    text = f"the customer at the tablet: {why}; nothing was signed"
    with station.act(actor, "accept") as act:
        fill, _ = act.fill(number)
        stopped = {**handing.told(handing.STOPPED, actor.handed, text), "ok": False}
        data = {"fill": number, "serial": fill.serial,
                "findings": [stopped, handing.told(handing.WITHDRAWN, actor.handed)]}  # fmt: skip
        return act.enter("fill.declined", data, "stopped at the tablet").seq


def register(
    station: Station,
    actor: Actor,
    *,
    name: str,
    phone: str = "",
    strokes: Sequence[Stroke] = (),
) -> dict[str, Any]:
    """Enter a customer who reads and signs the undertaking; a card is left to be shown to staff.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        As `stand_in` gives it.
    name : str
        Their name, typed to sign; of a customer known already, any name is refused but theirs.
    phone : str
        Where they are called if gas must be recalled; may be empty.
    strokes : sequence of strokes
        Their drawn signature, points in 1/1000 of its box; may be empty.

    Raises
    ------
    InputError
        If a text or the drawing cannot be kept.
    RefusedError
        If this was not handed over.
    """
    printed, drawn = clean_text(" ".join(name.split()), "name", 80), kept(strokes)
    number = phone_number(phone, "telephone") if phone.strip() else ""
    with station.act(actor, "register") as act:
        person = _known(act, printed) or enter_customer(act, printed, "")
        if number:
            keep_phone(act, person, number)
        row = f"undertaking/{person}/{secrets.token_hex(5)}"
        content = {"name": printed, "strokes": drawn}
        commitment = act.unit.commit_private(row, person, "undertaking", content)
        data = {"person": person, "private": row, "commitment": commitment,
                "words": list(UNDERTAKING),
                "findings": [handing.told(handing.AGREED, person)]}  # fmt: skip
        entry = act.enter("person.agreed", data, "read and signed by the customer")
    return {"person": person, "name": printed, "seq": entry.seq, "anchor": entry.anchor.text}


def _known(act: Act, printed: str) -> str:
    """Return the id of the customer it was handed over for; nobody undertakes for another."""
    ident = act.handed.customer if act.handed is not None else ""
    person = read.person(act.conn, ident) if ident else None
    if person is not None and plain_name(printed) != plain_name(person.name or ""):
        raise InputError("name", printed[:60], f"this is for {person.name}: type that name to sign")
    return ident
