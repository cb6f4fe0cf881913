"""What was handed to the tablet, and whether it still stands: one thing, for one person, once.

The journal is the register: an entry signed by who handed it, with the digest of a token and
when it is over.  That it was opened, used or withdrawn are entries too, so that no other file has
to be trusted, and every terminal of the station sees the same.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from dataclasses import dataclass

from sqlalchemy import Connection

from blender.errors import RefusedError
from blender.record import read
from blender.record.entry import Entry
from blender.record.keys import StationKeys
from blender.record.moment import Moment
from blender.record.signature import SEAL, holds

SIGN, REGISTER, STAFF = "sign", "register", "staff"
PURPOSES = (SIGN, REGISTER, STAFF)
# The act each lets somebody do who is not signed in, and the authority its giver must have then.
ACTS = {SIGN: "accept", REGISTER: "register"}
NEEDS = {SIGN: "accept", REGISTER: "customer"}
OF_A_FILL, OF_NONE = "fill.handed", "tablet.handed"
HANDED, OPENED, USED = "tablet-handed", "tablet-opened", "tablet-used"
WITHDRAWN, EXPIRED, SERVED = "tablet-withdrawn", "tablet-expired", "tablet-served"
UNKNOWN, STOPPED = "tablet-unknown", "tablet-stopped"
AGREED = "agreed"  # of whom it says that they signed the undertaking
_CLOCK_SET_BACK_US = 60_000_000  # own choice: what a clock may be put back unsaid
TOKEN_BYTES = 20  # 160 bits, so that its code still fits a terminal of 24 lines
_TOKEN = re.compile(r"([1-9][0-9]{0,14})-([A-Za-z0-9_-]{27})")


@dataclass(frozen=True, slots=True)
class Handing:
    """One thing handed to the tablet.

    Parameters
    ----------
    seq : int
        Its entry.
    purpose : str
        ``sign`` (a fill), ``register`` (a customer) or ``staff`` (the terminal itself).
    fill : int
        The fill; 0 where it is about none.
    customer : str
        Whose undertaking it is; empty where a new customer registers.
    person, name, role : str
        Who handed it; empty where the server itself did.
    at, until_us : Moment, int
        When, and when it is over [us UTC].
    digest : str
        Of the token, in hex.
    """

    seq: int
    purpose: str
    fill: int
    customer: str
    person: str
    name: str
    role: str
    at: Moment
    until_us: int
    digest: str


def digest_of(secret: str) -> str:
    """Return the digest a token or cookie is kept as.

    Examples
    --------
    >>> digest_of("x")[:16]
    '2d711642b726b044'
    """
    return hashlib.sha256(secret.encode()).hexdigest()


def handing_of(entry: Entry) -> Handing:
    """Return what an entry handed to the tablet."""
    data, by = entry.data, entry.sig or {}
    return Handing(
        seq=entry.seq,
        purpose=data["purpose"],
        fill=data.get("fill", 0),
        customer=data.get("customer", ""),
        person=by.get("person", ""),
        name=by.get("name", ""),
        role=by.get("role", ""),
        at=entry.at,
        until_us=data["until_us"],
        digest=data["token"],
    )


def find(conn: Connection, station: str, keys: StationKeys, seq: int) -> Handing:
    """Return what was handed to the tablet by an entry, sealed by the station.

    Raises
    ------
    RefusedError
        If that entry is none, or not the station's own.
    """
    entry = read.entry(conn, station, seq)
    if entry is None or entry.kind not in (OF_A_FILL, OF_NONE):
        raise RefusedError(_NONE, code=UNKNOWN)
    is_ours = (entry.seal or {}).get("key") == keys.public.hex()
    if not is_ours or not holds(entry.prev, entry.content, SEAL):
        raise RefusedError(_NONE, code=UNKNOWN)
    return handing_of(entry)


_NONE = "nothing like that was handed to the tablet; ask the station for a new code"


def by_token(conn: Connection, station: str, keys: StationKeys, token: str) -> Handing:
    """Return what a token opens; whether it still does is asked of `check`.

    Raises
    ------
    RefusedError
        If there is no such token.
    """
    parts = _TOKEN.fullmatch(token)
    if parts is None:
        raise RefusedError(_NONE, code=UNKNOWN)
    found = find(conn, station, keys, int(parts[1]))
    if not hmac.compare_digest(found.digest, digest_of(parts[2])):
        raise RefusedError(_NONE, code=UNKNOWN)
    return found


def check(conn: Connection, handing: Handing, now: Moment) -> None:
    """Refuse what is over: withdrawn, used, or past its time.

    Raises
    ------
    RefusedError
        Saying which.
    """
    about = str(handing.seq)
    if read.finding(conn, WITHDRAWN, about) is not None:
        raise RefusedError("the station has withdrawn this from the tablet", code=WITHDRAWN)
    if read.finding(conn, USED, about) is not None or _has_gone_on(conn, handing):
        raise RefusedError("this is done already", code=USED)
    if not handing.at.us - _CLOCK_SET_BACK_US <= now.us <= handing.until_us:
        told = "the time for this is over; ask the station to hand it to the tablet again"
        raise RefusedError(told, code=EXPIRED)


def _has_gone_on(conn: Connection, handing: Handing) -> bool:
    """Tell whether the fill waits for a signature no more."""
    return bool(handing.fill) and read.fill(conn, handing.fill).state != "analysed"


def is_opened(conn: Connection, handing: Handing) -> bool:
    """Tell whether its token was shown before."""
    return read.finding(conn, OPENED, str(handing.seq)) is not None


def told(what: str, about: int | str, text: str = "") -> dict[str, object]:
    """Return a finding an entry carries about the tablet."""
    return {"what": what, "about": str(about), "ok": True, "value": 0, "text": text}
