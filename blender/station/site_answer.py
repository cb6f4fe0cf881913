"""At the office: a root over the heads of all stations, and what each is to know of the others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection

from blender.errors import FillwrightError, InputError
from blender.record import news, shop
from blender.record.anchor import Anchor
from blender.record.journal import Record, Unit
from blender.record.models_of_shop import SiteRow
from blender.record.replica import ODD, read_replica
from blender.record.shop_root import (
    MOST_STATIONS,
    WITNESSED,
    ShopRoot,
    as_data,
    in_order,
    proof_of,
    root_of,
    witnessed,
)
from blender.record.unit import entry_at, last_entry
from blender.station.desk import Station
from blender.station.site_news import NEWS, enter_news, keep_beside

_MOST_NEWS = 2000
Told = dict[str, list[dict[str, Any]]]


def make_answer(station: Station) -> tuple[bytes, dict[str, Any]]:
    """Sign a root over the heads the office has, enter it, and return what goes to the stations.

    Where nothing was entered since the last root, that one is told again.

    Parameters
    ----------
    station : Station
        The office.

    Returns
    -------
    tuple of (bytes, dict)
        The answer, one for all stations; and the root, its line for papers, the heads under it.

    Raises
    ------
    InputError
        If no other station's record has come, or there are too many for one root.
    StorageError
        If it did not reach the disk.
    """
    with station.record.read() as conn:
        sites = [row for row in shop.sites(conn) if row.entries]
        told = _own(conn, station.record.station)
    if not sites:
        told_how = "no other station's record came yet: `site add`, then `site take`"
        raise InputError("root", "one station", told_how)
    if len(sites) >= MOST_STATIONS:
        raise InputError("root", len(sites), f"a root has at most {MOST_STATIONS} stations")
    for row in sites:
        theirs = _of(station.record, row)
        told = {name: [*rows, *theirs[name]][: news.MOST_ROWS] for name, rows in told.items()}
    with station.record.write() as unit:
        root, value, heads, is_new = _next(station, unit, [shop.head_of(row) for row in sites])
        own = next(one for one in heads if one.station == station.record.station)
        if is_new:
            data = as_data(root, value, heads, own)
            unit.append(WITNESSED, data, at=station.clock(), seal=station.keys)
            enter_news(station, unit, **told)
    if is_new:
        keep_beside(station, own)
    content: dict[str, Any] = {
        "heads": [[one.station, one.incarnation, one.seq, one.head.hex()] for one in heads],
        "proofs": {
            one.station: [part.hex() for part in proof_of(heads, one.station)[1]] for one in heads
        },
        **told,
    }
    facts = {"root": root.text, "number": root.number, "new": is_new,
             "heads": [one.text for one in heads]}  # fmt: skip
    return news.spell(root, value, content, station.keys), facts


def _next(
    station: Station, unit: Unit, others: Sequence[Anchor]
) -> tuple[ShopRoot, str, list[Anchor], bool]:
    """Make the next root; the last one again, and False, where nothing was entered since."""
    ident, key = station.record.station, station.keys.public.hex()
    last, before = last_entry(unit.conn, ident), shop.last_root(unit.conn, key)
    assert last is not None
    if before is not None and _is_quiet_since(unit, before.seq, last.seq):
        entry = entry_at(unit.conn, ident, before.seq)
        assert entry is not None
        heads = [Anchor(s, i, n, bytes.fromhex(h)) for s, i, n, h in entry.data["heads"]]
        return witnessed(ident, entry.data)[0], entry.data["signature"], heads, False
    heads = in_order([*others, last.anchor])
    life = last.incarnation
    number = before.number + 1 if before and before.life == life else 1
    root = ShopRoot(ident, key, life, number, station.clock().us, len(heads), root_of(heads))
    return root, root.sign(station.keys), heads, True


def _is_quiet_since(unit: Unit, seq: int, last: int) -> bool:
    """Tell whether nothing followed a root but what other stations made known with it."""
    if last - seq > _MOST_NEWS:
        return False
    after = (entry_at(unit.conn, unit.station, at) for at in range(seq + 1, last + 1))
    return all(entry is not None and entry.kind in NEWS for entry in after)


def _own(conn: Connection, ident: str) -> Told:
    """Return what a record has to tell, each row with its station's id."""
    return {
        "cylinders": _sound(ident, shop.cylinders_to_tell(conn), news.CYLINDER),
        "fills": _sound(ident, shop.fills_to_tell(conn, ident), news.FILL),
        "analysed": [
            row
            for one in shop.analyses_to_tell(conn, ident)
            if news.can_be_told(row := {**one, "by_site": ident}, news.ANALYSED)
        ],
    }


def _sound(
    ident: str, rows: Iterable[dict[str, Any]], facts: Mapping[str, news.Fact]
) -> list[dict[str, Any]]:
    """Return rows with their station's id, but for those no station would take."""
    named = ({**row, "site": ident} for row in rows)
    return [row for row in named if news.can_be_told(row, facts)]


def _of(office: Record, row: SiteRow) -> Told:
    """Return what a replica has to tell; nothing where it cannot be read."""
    try:
        with read_replica(office, row.site, row.life) as record, record.read() as conn:
            return _own(conn, row.site)
    except (FillwrightError, *ODD):
        return {"cylinders": [], "fills": [], "analysed": []}
