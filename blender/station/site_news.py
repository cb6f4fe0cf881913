"""At a station: the office's answer checked and entered, whole or not at all.

Its own head must be under the root, proved, and be an entry this record still has: else this
record is not the one the office knows.  Of what other stations know only what changed is entered.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

from blender.errors import InputError, RecordError, RefusedError
from blender.record import merkle, news, read, shop, witness
from blender.record.anchor import Anchor
from blender.record.journal import Unit
from blender.record.models_of_shop import OfficeRow, ShopRootRow, SiteCylinderRow, SiteFillRow
from blender.record.shop_root import WITNESSED, as_data, leaf, root_of
from blender.record.unit import entry_at
from blender.station.desk import Station
from blender.station.read_elsewhere import mind_of, with_readings

CYLINDERS, FILLS, AWAY = "site.cylinders", "site.fills", "fill.elsewhere"
NEWS = frozenset({CYLINDERS, FILLS, AWAY, "site.refused", "site.unreached"})
_PART, _FILLS = 40, 25  # rows in an entry: the longest still fit in a body
Rows = Sequence[dict[str, Any]]


def receive(station: Station, content: bytes) -> dict[str, Any]:
    """Take in an office's answer: witness its root, and learn of the other stations.

    Parameters
    ----------
    station : Station
        Any station but the office itself.
    content : bytes
        The answer's file.

    Returns
    -------
    dict
        ``office``, ``number``, ``root`` (as papers have it), ``new`` (False for one known
        already), ``cylinders``, ``fills`` and ``analysed``: how many rows were new.

    Raises
    ------
    InputError
        If it is no answer, or this station is not among those it is for.
    RefusedError
        If it is not of this station's office, or contradicts what that said before.
    RecordError
        If this record has not the entry the office knows of it: it was cut short or rewritten.
    """
    told = news.unpack(content)
    with station.record.write() as unit:
        office = _office(unit, told)
        own = _own_head(station.record.station, told)
        last = shop.last_root(unit.conn, office.key)
        if last is not None and told.root.order <= (last.life, last.number):
            why = _contradicts(last, told)
            is_new, counts = False, {"cylinders": 0, "fills": 0, "analysed": 0}
        else:
            why, is_new = "", True
            _check_own(unit, own)
            data = as_data(told.root, told.signature, told.heads, own)
            unit.append(WITNESSED, data, at=station.clock(), seal=station.keys)
            counts = enter_news(station, unit, told.cylinders, told.fills, told.analysed)
        if why:
            refused = {"site": told.root.office, "why": why, "root": told.root.root.hex(),
                       "life": told.root.life, "number": told.root.number,
                       "signature": told.signature}  # fmt: skip
            unit.append("site.refused", refused, at=station.clock(), seal=station.keys)
    if why:
        raise RefusedError(f"{why}. Nothing was taken in; it is an exception now", code="site")
    if is_new:
        keep_beside(station, own)
    return {"office": told.root.office, "number": told.root.number, "root": told.root.text,
            "new": is_new, **counts}  # fmt: skip


def _office(unit: Unit, told: news.News) -> OfficeRow:
    office = shop.office(unit.conn)
    if office is None:
        told_how = "no office of the shop is named here; a manager does: `site office`"
        raise RefusedError(told_how, code="site")
    if (office.office, office.key) != (told.root.office, told.root.key):
        told_how = f"it is of {told.root.office} with another key than that of {office.office}"
        raise RefusedError(f"{told_how}, the office named here", code="site")
    return office


def _own_head(ident: str, told: news.News) -> Anchor:
    """Return this station's head under the root, with its proof checked.

    Raises
    ------
    InputError
        If there is none, or the root is not over these heads.
    """
    names = [head.station for head in told.heads]
    if ident not in names:
        raise InputError("answer", told.root.text, f"{ident} is not among its stations")
    index = names.index(ident)
    own, proof = told.heads[index], told.proofs.get(ident, [])
    fits = merkle.verify_inclusion(leaf(own), index, told.root.size, proof, told.root.root)
    if not fits or root_of(told.heads) != told.root.root:
        why = "its root is not over the heads in it, or the proof of this station's does not hold"
        raise InputError("answer", told.root.text, why)
    return own


def _contradicts(last: ShopRootRow, told: news.News) -> str:
    """Say where an office signed two roots of one number; empty where it is an older one."""
    if told.root.order < (last.life, last.number) or told.root.root.hex() == last.root:
        return ""
    return (
        f"the office signed two different roots of number {last.number}: one is in entry {last.seq}"
    )


def _check_own(unit: Unit, own: Anchor) -> None:
    found = entry_at(unit.conn, own.station, own.seq)
    text = witness.flaw(own, found.digest if found else None, [])
    if text and witness.flaw(own, None, witness.restores_of(unit.conn, own.station)):
        told = f"entry {own.seq} of this record: {text}. Nothing was taken in; keep the file as it"
        raise RecordError(f"{told} is, run `verify`, and `restore` the newest copy", code="root")


def keep_beside(station: Station, own: Anchor) -> None:
    """Keep beside the record what a root said of it."""
    if station.record.beside is not None:
        witness.keep(station.record.beside, own, station.keys)


# -- what other stations know --------------------------------------------------------------------


def enter_news(
    station: Station, unit: Unit, cylinders: Rows, fills: Rows, analysed: Rows
) -> dict[str, int]:
    """Enter what changed of what other stations know, in the caller's transaction.

    Returns
    -------
    dict
        How many rows of each were new.
    """
    ident = unit.station
    changed = list(_changed(unit, [row for row in cylinders if row["site"] != ident]))
    for at in range(0, len(changed), _PART):
        rows = {"rows": changed[at : at + _PART]}
        unit.append(CYLINDERS, rows, at=station.clock(), seal=station.keys)
    away = [row for row in fills if row["site"] != ident]
    waiting, gone = _fills(unit, with_readings(away, analysed, ident))
    for at in range(0, max(len(waiting), len(gone)), _FILLS):
        part = {"rows": waiting[at : at + _FILLS], "gone": gone[at : at + _FILLS]}
        unit.append(FILLS, part, at=station.clock(), seal=station.keys)
    theirs = [row for row in analysed if row["by_site"] != ident]
    count = sum(enter_analysis(station, unit, row) for row in theirs)
    return {"cylinders": len(changed), "fills": len(waiting) + len(gone), "analysed": count}


def _changed(unit: Unit, rows: Rows) -> Iterator[dict[str, Any]]:
    known = {(row.site, row.serial): row for row in read.equal(unit.conn, SiteCylinderRow)}
    for row in rows:
        before = known.get((row["site"], row["serial"]))
        if before is None or any(getattr(before, name) != row[name] for name in row):
            yield row


def _fills(unit: Unit, rows: Rows) -> tuple[list[dict[str, Any]], list[list[Any]]]:
    """Return the fills that are new or stand otherwise now, and those that are done."""
    known = {(row.site, row.fill): row for row in read.equal(unit.conn, SiteFillRow)}
    told = {(row["site"], row["fill"]): row for row in rows}
    new = [row for key, row in told.items() if key not in known or _differs(known[key], row)]
    return new, [list(key) for key in known if key not in told]


def _differs(before: SiteFillRow, row: dict[str, Any]) -> bool:
    kept = json.loads(before.facts)
    return any(kept.get(name, getattr(before, name, None)) != value for name, value in row.items())


def enter_analysis(station: Station, unit: Unit, row: dict[str, Any]) -> bool:
    """Enter that a fill was analysed elsewhere; False where that is known, or it is not here."""
    number = _number_here(unit, row)
    named = (row["by_site"], row["by_seq"])
    known = ((one.site, one.site_seq) for one in shop.analysed_away(unit.conn, number))
    if not number or named in known:
        return False
    data = {
        "fill": number,
        "site": row["by_site"],
        "site_fill": row["by_fill"],
        "site_seq": row["by_seq"],
        "site_digest": row["by_digest"],
        "ours_seq": row["of_seq"],
        "state": row["state"],
        "o2_ppm": row["o2_ppm"],
        "he_ppm": row["he_ppm"],
        "at_us": row["at_us"],
        "text": away_text(row) + mind_of(unit.conn, number, row),
    }
    unit.append(AWAY, data, at=station.clock(), seal=station.keys)
    return True


def _number_here(unit: Unit, row: dict[str, Any]) -> int:
    """Return the fill here that a reading elsewhere is of: ours, or taken in here; 0 if neither."""
    if row["site"] == unit.station:
        ours = entry_at(unit.conn, unit.station, row["of_seq"])
        named = (row["of_digest"], row["fill"])
        is_ours = ours is not None and (ours.digest.hex(), ours.data.get("fill")) == named
        return int(row["fill"]) if is_ours else 0
    came = shop.brought_from(unit.conn, row["site"], row["fill"])
    if came is None or (came.site_seq == row["of_seq"] and came.site_digest != row["of_digest"]):
        return 0  # not here, or another fill of that number from before a restore
    return came.fill


def away_text(row: dict[str, Any]) -> str:
    """Say where a fill was analysed, and what was read."""
    helium = f", He {row['he_ppm'] / 1e4:.1f} %" if row["he_ppm"] >= 0 else ""
    found = f"O2 {row['o2_ppm'] / 1e4:.1f} %{helium}"
    told = f"analysed at {row['by_site']} as its fill {row['by_fill']}, entry {row['by_seq']}"
    return f"{told}: {found}, {row['state']} there"
