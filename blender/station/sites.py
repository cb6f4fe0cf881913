"""The stations of one shop: who is the office, whom it knows, and what a station sends it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from blender.errors import InputError
from blender.record import parcel, read, shop
from blender.record.anchor import STATION
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.models_of_shop import ShopRootRow
from blender.record.moment import Moment
from blender.record.place import locate
from blender.record.text import clean_text
from blender.record.unit import entry_at, last_entry
from blender.record.verify import stored
from blender.record.walk import Stored
from blender.station.actor import Actor
from blender.station.desk import Station

_KEY = re.compile(r"[0-9a-f]{64}")


def identity(record: Record) -> dict[str, Any]:
    """Return what another station is told of this one, as its screen and papers show it.

    Returns
    -------
    dict
        ``station``, ``name``, ``key`` (its public key in hex), ``anchor`` (its head now),
        ``office`` (None while none was named) and ``root``, the last one witnessed.
    """
    with record.read() as conn:
        row, office = read.station(conn), shop.office(conn)
        root, last = shop.last_root(conn), last_entry(conn, record.station)
        assert row is not None
        assert last is not None
        text = shop.root_text(conn, last.seq)
    told = {"office": office.office, "name": office.name, "key": office.key} if office else None
    return {
        "station": row.station,
        "name": row.name,
        "key": row.key,
        "anchor": last.anchor.text,
        "office": told,
        "root": {**_root_facts(root), "text": text} if root else None,
    }


def _root_facts(row: ShopRootRow) -> dict[str, Any]:
    told = {name: getattr(row, name) for name in ("office", "number", "size", "own_seq", "seq")}
    return {**told, "made_at": Moment(row.made_us, row.offset_min).iso}


def key_of(text: str) -> str:
    """Return a public key as typed or scanned, in small hex digits.

    Raises
    ------
    InputError
        If it is not one of 64 hex digits.

    Examples
    --------
    >>> key_of("AB" * 16 + " " + "cd" * 16)[28:36]
    'ababcdcd'
    """
    found = "".join(text.split()).lower()
    if not _KEY.fullmatch(found):
        told = "a station's public key has 64 hex digits; `fillwright site show` there says it"
        raise InputError("--key", ascii(text[:80]), told)
    return found


def add_site(
    station: Station, actor: Actor, *, site: str, name: str, key: str, place: str = ""
) -> dict[str, Any]:
    """Enter at the office another station of the shop, by the key read off its own screen.

    Entered again it gets another name or place; never another key.

    Parameters
    ----------
    station : Station
        The office.
    actor : Actor
        A manager.
    site, name, key : str
        The other station's id, its name, and its public key.
    place : str
        Where its record can be read: a path, or a URL; empty if only parcels come.

    Raises
    ------
    InputError
        If one of them is none, it is this station itself, or its key was another before.
    """
    data = {
        "site": _ident(site, station.record.station),
        "name": clean_text(name, "--name", 80),
        "key": key_of(key),
        "place": _place(place),
    }
    with station.act(actor, "site") as act:
        known = shop.site(act.conn, data["site"])
        if known is not None and known.key != data["key"]:
            told = f"{data['site']} was entered with another key; a station's key never changes"
            raise InputError("--key", data["key"], f"{told}: a new station has a new id")
        act.enter("site.added", data, "station of the shop added", seal=True)
    return data


def _ident(text: str, own: str) -> str:
    found = text.strip()
    if not STATION.fullmatch(found):
        raise InputError("site", ascii(text[:80]), "a station's id has 1 to 32 of A-Z, 0-9, hyphen")
    if found == own:
        raise InputError("site", found, "that is this station itself; name another")
    return found


def _place(text: str) -> str:
    found = clean_text(text, "--at", 400, empty=True)
    if not found:
        return ""
    where = locate(found)
    if isinstance(where, Path):
        return str(where.absolute())  # it is asked for from other folders, too
    if urlsplit(found).password is not None:
        raise InputError("--at", "a URL", "a password is never kept: put it into ~/.pgpass")
    return found


def name_office(
    station: Station, actor: Actor, *, office: str, name: str, key: str
) -> dict[str, Any]:
    """Enter which station is the shop's office: only its roots are witnessed from then on.

    Raises
    ------
    InputError
        If one of them is none, or it is this station itself.
    """
    data = {
        "office": _ident(office, station.record.station),
        "name": clean_text(name, "--name", 80),
        "key": key_of(key),
    }
    with station.act(actor, "site") as act:
        act.enter("office.named", data, "office named", seal=True)
    return data


def pack(
    record: Record, keys: StationKeys, now: Moment, after: int | None = None
) -> tuple[parcel.Header, list[Stored]]:
    """Return what goes to the office: entries since it has them, as the last root says.

    At most `parcel.MOST_ENTRIES` go in one; the header says up to which.

    Parameters
    ----------
    record : Record
        The open record.
    keys : StationKeys
        The station's own; they seal the parcel.
    now : Moment
        When it is made.
    after : int or None
        The entry it begins after, 0 for all; None for what the office is known to have.

    Raises
    ------
    InputError
        If there is nothing after that entry.
    """
    with record.read() as conn:
        last, root = last_entry(conn, record.station), shop.last_root(conn)
        assert last is not None
        known = root.own_seq if root and _is_ours(conn, record.station, root) else 0
        begin = known if after is None else after
        if not 0 <= begin < last.seq:
            told = f"the record ends with entry {last.seq}: begin after an earlier one, 0 for all"
            raise InputError("--after", begin, told)
        before = Stored(record.station, begin, b"", b"", b"", None)
        rows = list(_fitting(stored(conn, after=before, most=parcel.MOST_ENTRIES)))
        end = entry_at(conn, record.station, rows[-1].seq)
        assert end is not None
    header = parcel.Header(
        record.station, keys.public.hex(), begin, end.seq, end.incarnation, end.digest.hex(), now.us
    )
    return header, rows


def _fitting(rows: Sequence[Stored]) -> Iterator[Stored]:
    """Give as many as one parcel holds for sure, and at least one."""
    room = parcel.MOST_BYTES // 2
    for row in rows:
        room -= 2 * len(row.body) + 200
        if room < 0 and row is not rows[0]:
            return
        yield row


def _is_ours(conn: Any, station: str, root: Any) -> bool:
    """Tell whether the record still has the entry the office is known to have."""
    found = entry_at(conn, station, root.own_seq)
    return found is not None and found.digest.hex() == root.own_head
