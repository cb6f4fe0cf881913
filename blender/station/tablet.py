"""The tablet on the counter: handing one thing to it, seeing what it has, taking it back.

Whoever hands it over signs that with their name; what the customer then enters is sealed by the
station alone and names that entry.  So nobody's key has to be open while the tablet is used.
"""

from __future__ import annotations

import secrets
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError, RefusedError
from blender.record import read
from blender.record.keys import StationKeys
from blender.record.models import FindingRow
from blender.record.moment import Moment
from blender.record.projection import table
from blender.station import handing
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.gates import STOP, order
from blender.station.handing import Handing

MINUTE_US = 60_000_000
TOKEN_MINUTES = 10  # until its token must be shown; own choice
# Until what was handed over must be done; for staff a shift, for they sign in there. Own choices.
LONGEST_MINUTES = {handing.SIGN: 30, handing.REGISTER: 30, handing.STAFF: 8 * 60}
# The act of handing it over; on any tablet anybody on the roll may sign in.
_HANDS = {handing.SIGN: "tablet", handing.REGISTER: "tablet", handing.STAFF: "secret"}
WAITING, OPEN, DONE, OVER, STOPPED = "waiting", "open", "done", "over", "stopped"
_WHAT = {handing.SIGN: "read and sign", handing.REGISTER: "register", handing.STAFF: "sign in"}


def hand(
    station: Station, actor: Actor, purpose: str, *, fill: int = 0, customer: str = ""
) -> dict[str, Any]:
    """Hand one thing to the tablet, and return the token that opens it there, once.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who hands it over.
    purpose : str
        ``sign``: the fill waits for its customer's signature; ``register``: a new customer, or
        the one named, for the undertaking; ``staff``: the terminal, with its own sign-in.
    fill : int
        The fill to be signed for.
    customer : str
        Name or id of a customer who is to read and sign the undertaking.

    Raises
    ------
    InputError
        If there is no such purpose, fill or customer.
    RefusedError
        If the actor may not, the fill does not wait for a signature, or no tablet is served.
    """
    if purpose not in handing.PURPOSES:
        raise InputError("purpose", repr(purpose), f"allowed are {', '.join(handing.PURPOSES)}")
    with station.act(actor, _HANDS[purpose]) as act:
        url = _address(act.conn)
        secret, data = _drawn(purpose, act.now)
        data |= _about(act, purpose, fill, customer)
        kind = handing.OF_A_FILL if "fill" in data else handing.OF_NONE
        entry = act.enter(kind, data, f"handed to the tablet, to {_WHAT[purpose]}", seal=True)
    return _handed(handing.handing_of(entry), secret, url)


def hand_terminal(station: Station) -> dict[str, Any]:
    """Hand the terminal to the tablet as the server starts: whoever opens it signs in there."""
    with station.record.write() as unit:
        now = station.clock()
        url = _address(unit.conn)
        secret, data = _drawn(handing.STAFF, now)
        entry = unit.append(handing.OF_NONE, data, at=now, seal=station.keys)
    return _handed(handing.handing_of(entry), secret, url)


def _drawn(purpose: str, now: Moment) -> tuple[str, dict[str, Any]]:
    """Draw a token; of it the record keeps the digest alone."""
    secret = secrets.token_urlsafe(handing.TOKEN_BYTES)
    data = {
        "purpose": purpose,
        "token": handing.digest_of(secret),
        "until_us": now.us + LONGEST_MINUTES[purpose] * MINUTE_US,
        "findings": [handing.told(handing.HANDED, purpose)],
    }
    return secret, data


def _about(act: Act, purpose: str, fill: int, customer: str) -> dict[str, Any]:
    """Return what it is about: a fill that waits for its signature, or a customer."""
    if purpose == handing.SIGN:
        row = read.fill(act.conn, fill)
        gate = order("accept", row.state)
        if gate.answer == STOP or row.decision == "reject":
            told = gate.reason if gate.answer == STOP else "its analysis rejects it"
            raise RefusedError(f"fill {fill}: {told}", code="order", gates=[gate.as_dict()])
        return {"fill": fill, "serial": row.serial}
    if purpose == handing.REGISTER and customer:
        return {"customer": read.customer(act.conn, customer, "customer").person}
    return {}


def _handed(found: Handing, secret: str, url: str) -> dict[str, Any]:
    token = f"{found.seq}-{secret}"
    until = Moment(found.at.us + TOKEN_MINUTES * MINUTE_US, found.at.offset_min)
    return {
        "handed": found.seq,
        "purpose": found.purpose,
        "fill": found.fill or None,
        "url": f"{url}/begin#{token}",
        "open_until": until.iso,
    }


def withdraw(station: Station, actor: Actor, number: int = 0) -> dict[str, Any]:
    """Take what was handed to the tablet back: one handing by its entry, or all there are.

    Raises
    ------
    InputError
        If nothing of that number is with the tablet.
    RefusedError
        If the actor may not.
    """
    with station.act(actor, "tablet") as act:
        there = [one.seq for one in _there(act.conn, station.record.station, station.keys, act.now)]
        gone = [seq for seq in there if number in (0, seq)]
        if number and not gone:
            said = ", ".join(map(str, there)) or "none"
            raise InputError("number", number, f"with the tablet now: {said}")
        for seq in gone:
            act.enter("tablet.withdrawn", _withdrawn(seq), "withdrawn from the tablet")
    return {"withdrawn": gone}


def with_tablet(station: Station) -> dict[str, Any]:
    """Return what the tablet has now, and where it is served.

    Returns
    -------
    dict
        ``address``, None if none is served; ``handed``: of each its number, purpose, fill, by
        whom, whether it was opened there, and until when it stays open or can be;
        ``stopped``: what a customer stopped there within a shift, and with which words.
    """
    now = station.clock()
    with station.record.read() as conn:
        served = read.finding(conn, handing.SERVED)
        there = _there(conn, station.record.station, station.keys, now)
        handed = [_line(conn, one) for one in there]
        stopped = [_stopped(row) for row in _lately(conn, handing.STOPPED, now)]
    return {
        "address": (served.text if served else "") or None,
        "handed": handed,
        "stopped": stopped,
    }


def _stopped(row: FindingRow) -> dict[str, Any]:
    at = Moment(row.at_us, row.offset_min)
    return {"handed": int(row.about), "fill": row.fill, "at": at.iso, "text": row.text}


def _lately(conn: Connection, what: str, now: Moment) -> list[FindingRow]:
    """Return what was found at the tablet within a shift."""
    columns = table(FindingRow).c
    recent = columns.at_us >= now.us - max(LONGEST_MINUTES.values()) * MINUTE_US
    return read.rows(conn, FindingRow, (columns.what == what) & recent)


def _line(conn: Connection, one: Handing) -> dict[str, Any]:
    is_opened = handing.is_opened(conn, one)
    until_us = one.until_us if is_opened else one.at.us + TOKEN_MINUTES * MINUTE_US
    return {
        "handed": one.seq,
        "purpose": one.purpose,
        "fill": one.fill or None,
        "by": one.name or None,
        "opened": is_opened,
        "until": Moment(until_us, one.at.offset_min).iso,
    }


def _there(conn: Connection, station: str, keys: StationKeys, now: Moment) -> list[Handing]:
    """Return what stands of what was handed over lately."""
    rows = _lately(conn, handing.HANDED, now)
    found = [handing.find(conn, station, keys, row.seq) for row in rows]
    return [one for one in found if not _is_over(conn, one, now)]


def _is_over(conn: Connection, one: Handing, now: Moment) -> bool:
    """Tell whether it is done, withdrawn, past its time, or was never opened in time."""
    if now.us > one.at.us + TOKEN_MINUTES * MINUTE_US and not handing.is_opened(conn, one):
        return True
    try:
        handing.check(conn, one, now)
    except RefusedError:
        return True
    return False


def how_far(station: Station, seq: int) -> str:
    """Return how far what was handed over by an entry has come.

    Returns
    -------
    str
        ``waiting`` for its token to be shown, ``open`` there, ``done``, ``stopped`` by the
        customer, or ``over`` undone.
    """
    with station.record.read() as conn:
        found = handing.find(conn, station.record.station, station.keys, seq)
        is_opened = handing.is_opened(conn, found)
        if read.finding(conn, handing.STOPPED, str(seq)) is not None:
            return STOPPED
        try:
            handing.check(conn, found, station.clock())
        except RefusedError as error:
            return DONE if error.code == handing.USED else OVER
        if is_opened and found.purpose == handing.STAFF:
            return DONE
        return OVER if _is_over(conn, found, station.clock()) else OPEN if is_opened else WAITING


# -- the server's part ---------------------------------------------------------------------------


def serve_at(station: Station, url: str) -> None:
    """Enter where the tablet is served from now on; an empty address: nowhere any more.

    What was open there before is closed with the server that showed it, and withdrawn.
    """
    with station.record.write() as unit:
        now, keys = station.clock(), station.keys
        data = {"findings": [handing.told(handing.SERVED, "", url)]}
        unit.append("tablet.served", data, at=now, seal=keys)
        for one in _there(unit.conn, station.record.station, keys, now):
            if handing.is_opened(unit.conn, one):
                unit.append("tablet.withdrawn", _withdrawn(one.seq), at=now, seal=keys)


def _withdrawn(seq: int) -> dict[str, Any]:
    return {"handed": seq, "findings": [handing.told(handing.WITHDRAWN, seq)]}


def open_with(station: Station, token: str) -> Handing:
    """Take a token that is shown, once, and return what it opens.

    Raises
    ------
    RefusedError
        If it is unknown, was shown before, came too late, or was withdrawn.
    """
    with station.record.read() as conn:  # whoever guesses keeps nobody from entering
        found = handing.by_token(conn, station.record.station, station.keys, token)
    with station.record.write() as unit:
        now = station.clock()
        if handing.is_opened(unit.conn, found):
            raise RefusedError("this code was used before; ask for a new one", code=handing.OPENED)
        handing.check(unit.conn, found, now)
        if now.us > found.at.us + TOKEN_MINUTES * MINUTE_US:
            raise RefusedError("this code is too old; ask for a new one", code=handing.EXPIRED)
        data = {"handed": found.seq, "findings": [handing.told(handing.OPENED, found.seq)]}
        unit.append("tablet.opened", data, at=now, seal=station.keys)
    return found


def why_over(station: Station, seq: int) -> RefusedError | None:
    """Return why what was handed over by an entry stands no more; None while it does."""
    with station.record.read() as conn:
        found = handing.find(conn, station.record.station, station.keys, seq)
        try:
            handing.check(conn, found, station.clock())
        except RefusedError as error:
            return error
    return None


def _address(conn: Connection) -> str:
    """Return where the tablet is served.

    Raises
    ------
    RefusedError
        If it is served nowhere.
    """
    served = read.finding(conn, handing.SERVED)
    if served is None or not served.text:
        raise RefusedError("no tablet is served; start it with `fillwright serve`", code="tablet")
    return served.text
