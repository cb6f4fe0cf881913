"""At the office: another station's entries verified, kept, and entered as received.

The copy grows first, then the office enters up to which head it has it.  Cut in between, the next
time finds the copy ahead of the entry and goes on: nothing is taken twice, nothing half.  What
does not continue what the office has is refused in words, and that is an entry and an exception.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sqlalchemy import Connection

from blender.errors import FillwrightError, InputError, RefusedError
from blender.record import parcel, shop
from blender.record.journal import Record
from blender.record.models_of_shop import SiteRow
from blender.record.replica import Replica, open_replica
from blender.station.desk import Station
from blender.station.gates import storable
from blender.station.site_source import OfParcel, Source, record_at, restores

HEARD_US = 12 * 3_600_000_000  # without news, after so long it is entered that it was heard
Progress = Callable[[int], None]
_FORK = (
    "its entry {seq} is not the one the office has had: its record was rewritten, or is another"
    " that began alike"
)
_BACK = (
    "its record ends with entry {seq} and the office has had {had}: it was cut short, or an older"
    " copy was put back"
)


class _RefusedSourceError(Exception):
    """What came does not continue what the office has."""


def take_parcel(
    station: Station, content: bytes, progress: Progress | None = None
) -> dict[str, Any]:
    """Take in a parcel.

    Parameters
    ----------
    station : Station
        The office.
    content : bytes
        The parcel's file.
    progress : callable
        Told how many entries the copy has; what it raises stops the work, and nothing is lost.

    Raises
    ------
    InputError
        If it is no parcel, of no station known here, or begins too late.
    RefusedError
        If it does not continue what the office has; that is entered.
    RecordError
        If an entry in it does not hold, or the disk did not take it.
    """
    return _take(station, OfParcel(parcel.unpack(content)), progress)


def take_from(station: Station, place: str, progress: Progress | None = None) -> dict[str, Any]:
    """Take in what a station's record has, from where it lies: a path, or a URL.

    Raises
    ------
    FillwrightError
        As `take_parcel`; also if there is no record, or it cannot be read.
    """
    with record_at(place) as source:
        return _take(station, source, progress)


def _take(station: Station, source: Source, progress: Progress | None) -> dict[str, Any]:
    office, header = station.record, source.header
    with office.read() as conn:
        site = shop.site(conn, header.station)
    if site is None:
        told = "no such station of the shop is entered here; a manager does: `site add`"
        raise InputError("site", header.station, told)
    try:
        life, note = _life(office, site, source)
        with_it = open_replica(office, site.site, site.key, life)
        try:
            before = with_it.seq
            _grow(with_it, source, progress)
            entered = _enter(station, with_it, life, source, note)
            taken, seq, head = with_it.seq - before, with_it.seq, with_it.head.hex()
        finally:
            with_it.close()
    except _RefusedSourceError as error:
        _enter_refusal(station, header, str(error))
        told = f"station {header.station}: {error}. Nothing was taken in; it is an exception now"
        raise RefusedError(told, code="site") from None
    return {"site": site.site, "name": site.name, "taken": taken, "entries": seq, "head": head,
            "entered": entered, "note": note or None}  # fmt: skip


def _life(office: Record, site: SiteRow, source: Source) -> tuple[int, str]:
    """Return the copy that what comes continues, and what is to be noted.

    Raises
    ------
    InputError
        If it begins after the copy ends, or a restored record did not come whole.
    _RefusedSourceError
        If it continues none.
    """
    if source.header.key != site.key:
        raise _RefusedSourceError("it has another key than the station entered here")
    life = site.life or source.header.incarnation
    replica = open_replica(office, site.site, site.key, life)
    try:
        why = _misfit(source, site, replica)
    finally:
        replica.close()
    if not why:
        return life, ""
    header = source.header
    if header.incarnation <= site.incarnation:
        raise _RefusedSourceError(why)
    if header.after:
        told = f"{site.site} was restored from a copy: its whole record is needed"
        raise InputError("parcel", f"from entry {header.after + 1}", f"{told}: `site send --all`")
    begun = [seq for now, seq in restores(source) if now > site.incarnation and seq <= site.entries]
    if not begun:
        raise _RefusedSourceError(why)
    told = f"restored from a copy as entry {begun[0]}; its former entries {begun[0]} to"
    return header.incarnation, f"{told} {site.entries} are kept here beside the new ones"


def _misfit(source: Source, site: SiteRow, replica: Replica) -> str:
    """Say why a source does not continue what the office has, empty if it does."""
    header = source.header
    if header.after > replica.seq:
        told = f"the office has {replica.seq} of its entries: `site send --after {replica.seq}`"
        raise InputError("parcel", f"from entry {header.after + 1}", told)
    known = [(replica.seq, replica.head)]
    if site.entries and site.entries != replica.seq:
        known.append((site.entries, bytes.fromhex(site.head)))
    for seq, digest in known:
        if header.after <= seq <= header.entries and seq:
            if source.digest_at(seq) != digest:
                return _FORK.format(seq=seq)
        elif seq > header.entries and (why := _ends_early(source, replica, seq)):
            return why
    return ""


def _ends_early(source: Source, replica: Replica, had: int) -> str:
    """Judge what ends before what the office has: an old parcel again, or a record put back."""
    header = source.header
    ours = replica.digest_at(header.entries)
    if ours is not None and ours.hex() != header.head:
        return _FORK.format(seq=header.entries)
    after_us = replica.at_us(header.entries + 1)
    if source.is_now or (after_us is not None and header.made_us > after_us):
        return _BACK.format(seq=header.entries, had=had)
    return ""  # made before its next entry was: an old one, late


def _grow(replica: Replica, source: Source, progress: Progress | None) -> None:
    for rows in source.parts(replica.seq):
        if problem := replica.check(rows):
            told = f"entry {problem.seq} does not verify: {problem.kind}: {problem.text}"
            raise _RefusedSourceError(told)
        replica.keep(rows)
        if progress is not None:
            progress(replica.seq)


def _enter(station: Station, replica: Replica, life: int, source: Source, note: str) -> bool:
    """Enter up to which head the office has a record; not again where nothing is new."""
    now = station.clock()
    with station.record.write() as unit:
        site = shop.site(unit.conn, replica.station)
        assert site is not None
        same = (site.entries, site.head) == (replica.seq, replica.head.hex())
        heard_again = source.is_now and now.us - site.heard_us > HEARD_US
        is_behind = life == site.life and replica.seq < site.entries  # a copy that was lost
        mended = source.is_now and shop.trouble_with(unit.conn, site) is not None
        if not replica.seq or is_behind or (same and not heard_again and not mended):
            return False
        data = {
            "site": site.site,
            "life": life,
            "incarnation": replica.incarnation,
            "entries": replica.seq,
            "head": replica.head.hex(),
            **({"note": note} if note else {}),
        }
        unit.append("site.received", data, at=now, seal=station.keys)
    return True


def _enter_refusal(station: Station, header: parcel.Header, why: str) -> None:
    """Enter that something was refused, once for as long as it stays the same."""
    data = {
        "site": header.station,
        "why": storable(why),
        "key": header.key,
        "after": header.after,
        "entries": header.entries,
        "head": header.head,
    }
    with station.record.write() as unit:
        if _said_last(unit.conn, header.station) != f"{header.station}: {data['why']}":
            unit.append("site.refused", data, at=station.clock(), seal=station.keys)


def _said_last(conn: Connection, ident: str) -> str:
    """Return what was last said against a station's record, if nothing of it came since."""
    site = shop.site(conn, ident)
    found = shop.trouble_with(conn, site) if site is not None else None
    return found.text if found is not None else ""


def sync(station: Station, progress: Progress | None = None) -> list[dict[str, Any]]:
    """Take in from every station whose place is known; one that cannot be read is told of.

    Returns
    -------
    list of dict
        Of each what `take_from` says, or ``site`` and ``error``.
    """
    with station.record.read() as conn:
        known = [row for row in shop.sites(conn) if row.place]
    told: list[dict[str, Any]] = []
    for row in known:
        try:
            made = take_from(station, row.place, progress)
            if made["site"] != row.site:
                made["mind"] = f"the record there is of {made['site']}, not of {row.site}"
            told.append(made)
        except FillwrightError as error:
            told.append({"site": row.site, "error": error.text, "code": error.code})
            if error.code != "site":  # what was refused is entered already
                _enter_unreached(station, row.site, error.text)
    return told


def _enter_unreached(station: Station, ident: str, why: str) -> None:
    """Enter that a station's record could not be read, once until it comes again."""
    with station.record.write() as unit:
        site = shop.site(unit.conn, ident)
        if site is not None and shop.trouble_with(unit.conn, site) is None:
            data = {"site": ident, "why": storable(why)}
            unit.append("site.unreached", data, at=station.clock(), seal=station.keys)
