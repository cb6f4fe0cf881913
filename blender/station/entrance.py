"""Signing in: name and secret, a delay that grows with wrong ones, and the journal's word for it.

Up to five wrong secrets cost nothing; after that each try waits, twice as long every time.
A name nobody has is treated in the same way and takes as long, so that nothing is learnt.
"""

from __future__ import annotations

import hmac
import unicodedata
from typing import TYPE_CHECKING

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import Connection

from blender.errors import RecordError, RefusedError
from blender.record import commitment, private, read
from blender.record.keys import Signer, unwrap_key
from blender.record.models import AccessRow, PersonRow
from blender.record.roll import Standing
from blender.record.staff_keys import staff_key_row
from blender.station.actor import Actor

if TYPE_CHECKING:
    from blender.station.desk import Station

FREE_TRIES = 5
FIRST_WAIT_S, LONGEST_WAIT_S = 30, 3600  # own choice
SECOND_US = 1_000_000


def wait_after(tries: int) -> int:
    """Return how long to wait after so many wrong secrets in a row [s].

    Parameters
    ----------
    tries : int
        Wrong secrets since the last right one.

    Examples
    --------
    >>> [wait_after(tries) for tries in (1, 4, 5, 6, 7, 40)]
    [0, 0, 30, 60, 120, 3600]
    """
    if tries < FREE_TRIES:
        return 0
    return min(FIRST_WAIT_S << min(tries - FREE_TRIES, 16), LONGEST_WAIT_S)


def sign_in(station: Station, name: str, secret: str) -> Actor:
    """Unlock a member of staff's key for this session.

    Parameters
    ----------
    station : Station
        Where.
    name : str
        Name or id.
    secret : str
        Theirs.

    Raises
    ------
    RefusedError
        If the name is unknown or the secret does not open the key (the words are the same for
        both), or after several of those the wait is not over.
    RecordError
        If the table of people does not say what the journal says.
    """
    person, who = _known(station, name)
    key = open_key(station, who, person.person if person else None, secret)
    if person is None:  # pragma: no cover - refused already
        raise RefusedError("name and secret do not belong together", code="sign-in")
    with station.record.read() as conn:
        standing = standing_of(station, conn, person)
        printed = _printed(conn, standing)
    signer = Signer(person.person, printed, standing.role, key)
    return Actor(person.person, printed, standing.role, signer, standing.one_time)


def open_key(station: Station, who: str, person: str | None, secret: str) -> Ed25519PrivateKey:
    """Unlock somebody's key, or enter that the secret was wrong.

    Parameters
    ----------
    station : Station
        Where.
    who : str
        Under what tries are counted.
    person : str or None
        Whose key; None for a name that nobody has.
    secret : str
        As typed.

    Raises
    ------
    RefusedError
        If it does not open the key, or the wait after wrong ones is not over.
    """
    _wait(station, who)
    with station.record.read() as conn:
        wrapped = private.get(conn, staff_key_row(person)) if person else None
    try:
        key = unwrap_key(wrapped, secret, station.keys.secret)
    except RefusedError:
        _failed(station, who)
        raise
    _cleared(station, who)
    return key


def _known(station: Station, name: str) -> tuple[PersonRow | None, str]:
    """Return whom a name means, and under what their tries are counted."""
    with station.record.read() as conn:
        person = read.staff_named(conn, name)
    if person is not None:
        return person, person.person
    # Not the name itself: it may be a secret that was typed in the wrong field.
    spelled = unicodedata.normalize("NFC", name).casefold().encode(errors="surrogatepass")
    return None, f"?{hmac.digest(station.keys.secret, b'name ' + spelled, 'sha256').hex()[:16]}"


def standing_of(station: Station, conn: Connection, person: PersonRow) -> Standing:
    """Return how a member of staff stands by the journal.

    Raises
    ------
    RecordError
        If the table of people says something else: it was changed from outside.
    """
    station.roll.catch_up(conn, station.record.station, station.keys)
    standing = station.roll.of(person.person)
    if standing is None or (standing.role, standing.key) != (person.role, person.key):
        by_journal = standing.role if standing else "no member of staff"
        told = (
            f"the table of people has {person.person} as {person.role}, the journal as "
            f"{by_journal}: the table was changed; run `verify`, then `rebuild`"
        )
        raise RecordError(told, code="authority")
    return standing


def _printed(conn: Connection, standing: Standing) -> str:
    """Return the name a person signs with: the one the journal committed to."""
    content = private.get(conn, standing.private)
    kept = private.get(conn, commitment.key_row(standing.person))
    if content is None or kept is None:
        return standing.person
    if not commitment.fits(bytes.fromhex(kept["key"]), content, standing.commitment):
        told = f"the name of {standing.person} is not the one that was entered; run `verify`"
        raise RecordError(told, code="authority")
    return str(content["name"])


# -- wrong secrets -----------------------------------------------------------------------------


def _wait(station: Station, who: str) -> None:
    """Refuse a try that comes before the wait is over."""
    now = station.clock()
    with station.record.read() as conn:
        row = read.access(conn, who)
    if row is None or not row.wait_s:
        return
    if now.us < row.at_us:  # the clock was set back: the wait starts again, and says so
        with station.record.write() as unit:
            data = {"who": who, "tries": row.tries, "wait_s": row.wait_s}
            unit.append("access.delayed", data, at=now, seal=station.keys)
        raise _locked(row.wait_s)
    if (left_s := _left_s(row, now.us)) > 0:
        raise _locked(left_s)


def _left_s(row: AccessRow, now_us: int) -> int:
    return -((now_us - row.at_us) // SECOND_US) + row.wait_s


def _locked(left_s: int) -> RefusedError:
    told = f"too many wrong secrets: wait {left_s} s, then try again, or ask a manager for a reset"
    return RefusedError(told, code="locked")


def _failed(station: Station, who: str) -> None:
    """Enter that a secret was wrong, sealed by the station, and how long to wait now."""
    with station.record.write() as unit:
        row = read.access(unit.conn, who)
        tries = (row.tries if row else 0) + 1
        data = {"who": who, "tries": tries, "wait_s": wait_after(tries)}
        unit.append("access.failed", data, at=station.clock(), seal=station.keys)


def _cleared(station: Station, who: str) -> None:
    """Count from nothing again after the right secret; a right guess among many is refused.

    Several can try at once, each let in before the others failed: so the wait is asked again.
    """
    with station.record.read() as conn:
        if read.access(conn, who) is None:
            return
    _wait(station, who)
    with station.record.write() as unit:
        if (row := read.access(unit.conn, who)) is not None:
            data = {"who": who, "tries": row.tries}
            unit.append("access.cleared", data, at=station.clock(), seal=station.keys)
