"""Questions about the other stations of a shop, asked of the read models."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import Connection, func, select

from blender.record import read
from blender.record.anchor import Anchor
from blender.record.entry import Entry
from blender.record.models import CylinderRow, ExceptionRow, FillRow
from blender.record.models_of_shop import (
    AnalysedAwayRow,
    BroughtRow,
    OfficeRow,
    ShopRootRow,
    SiteCylinderRow,
    SiteFillRow,
    SiteRow,
)
from blender.record.projection import table
from blender.record.search import like_part
from blender.record.shop_root import ShopRoot

UNSIGNED = ("resting", "analysed", "recheck")  # gas is in, and nobody has signed for it
HOLDS = ("held", "quarantined")  # nobody is to fill it elsewhere meanwhile; the graver last
TROUBLES = ("site-refused", "site-unreached")
READ = ("analysed", "recheck", "accepted")  # and still here
MOST_CYLINDERS, MOST_FILLS = 20_000, 2_000
_fill, _cylinder = table(FillRow), table(CylinderRow)


def sites(conn: Connection) -> list[SiteRow]:
    """Return the other stations that an office knows, in the order of ids."""
    return read.equal(conn, SiteRow)


def site(conn: Connection, ident: str) -> SiteRow | None:
    """Return one of them, None if there is none of that id."""
    return next(iter(read.equal(conn, SiteRow, {"site": ident})), None)


def trouble_with(conn: Connection, row: SiteRow) -> ExceptionRow | None:
    """Return why a station's record did not come last time, None if it came since, or always.

    The last refusal; failing that, the first time it was not reached.
    """
    columns = table(ExceptionRow).c
    since = (columns.seq > row.seq) | (columns.at_us > row.heard_us)
    about = columns.kind.in_(TROUBLES) & columns.text.startswith(f"{row.site}: ", autoescape=True)
    found = read.rows(conn, ExceptionRow, about & since, [columns.seq])
    refused = [one for one in found if one.kind == TROUBLES[0]]
    return next(iter([*refused[::-1], *found]), None)


def head_of(row: SiteRow) -> Anchor:
    """Return up to which head a station's record has come."""
    return Anchor(row.site, row.incarnation, row.entries, bytes.fromhex(row.head))


def office(conn: Connection) -> OfficeRow | None:
    """Return the office this station was told of last, None if of none."""
    return next(iter(read.equal(conn, OfficeRow, {}, read.NEWEST)), None)


def last_root(conn: Connection, office_key: str | None = None) -> ShopRootRow | None:
    """Return the root witnessed last, of one office if its key is named."""
    given = {"key": office_key} if office_key else {}
    return next(iter(read.equal(conn, ShopRootRow, given, read.NEWEST)), None)


def root_text(conn: Connection, until: int) -> str:
    """Return the line papers have of the root last witnessed by an entry, empty before any."""
    columns = table(ShopRootRow).c
    last = select(func.max(columns.seq)).where(columns.seq <= until)
    for row in read.rows(conn, ShopRootRow, columns.seq.in_(last)):
        root = ShopRoot(row.office, row.key, row.life, row.number, row.made_us, row.size,
                        bytes.fromhex(row.root))  # fmt: skip
        return f"{root.text}; it holds entry {row.own_seq} of this record"
    return ""


def known_cylinders(conn: Connection, serial: str) -> list[SiteCylinderRow]:
    """Return where else a cylinder is known, the latest heard of first."""
    found = read.equal(conn, SiteCylinderRow, {"serial": serial}, ("seq",))
    return found[::-1]


def known_like(conn: Connection, fragment: str, most: int) -> list[SiteCylinderRow]:
    """Return cylinders only other stations know, by a part of their serial."""
    columns = table(SiteCylinderRow).c
    ours = select(_cylinder.c.serial)
    where = like_part(columns.serial, fragment) & ~columns.serial.in_(ours)
    found = read.rows(conn, SiteCylinderRow, where, [columns.serial, columns.seq.desc()])
    newest = {row.serial: row for row in reversed(found)}
    return [newest[serial] for serial in sorted(newest)[:most]]


def site_fills(conn: Connection, serial: str) -> list[SiteFillRow]:
    """Return fills of a cylinder at other stations whose gas nobody has signed for."""
    return read.equal(conn, SiteFillRow, {"serial": serial}, ("seq",))


def brought(conn: Connection, fill: int) -> BroughtRow | None:
    """Return where a fill's gas was let in, None if it was here."""
    return next(iter(read.equal(conn, BroughtRow, {"fill": fill})), None)


def analysed_away(conn: Connection, fill: int) -> list[AnalysedAwayRow]:
    """Return where else a fill was analysed: one of ours, or one that was taken in here."""
    return read.equal(conn, AnalysedAwayRow, {"fill": fill}, ("seq",))


def newest_away(conn: Connection, fill: int) -> list[AnalysedAwayRow]:
    """Return of each other station what it read last in a fill that is in this record, too."""
    newest = {row.site: row for row in analysed_away(conn, fill)}
    return [newest[site] for site in sorted(newest)]


# -- what is told to other stations ------------------------------------------------------------


def cylinders_to_tell(conn: Connection) -> Iterator[dict[str, Any]]:
    """Give every cylinder of a record: its stamps, its last analysed mix, why it is held."""
    last, analysed = _last_fills(conn), _last_fills(conn, analysed=True)
    why = _why_held(conn, last.values())
    columns = ("serial", "size_ml", "posts", "size_typed", "wp_mbar", "tp_mbar", "tested",
               "inspected", "clean")  # fmt: skip
    for row in read.cylinders(conn)[:MOST_CYLINDERS]:
        mixed = analysed.get(row.serial)
        yield {
            **{name: getattr(row, name) for name in columns},
            "o2_ppm": mixed.o2_ppm if mixed else -1,
            "he_ppm": mixed.he_ppm if mixed else -1,
            "analysed_us": (mixed.accepted_us or mixed.requested_us) if mixed else 0,
            "hold": why.get(row.serial, ""),
        }


def _last_fills(conn: Connection, *, analysed: bool = False) -> dict[str, FillRow]:
    """Return the last fill of each cylinder; the last whose mix was analysed, if asked."""
    counts = _fill.c.state != "voided"
    if analysed:
        counts &= _fill.c.o2_ppm >= 0
    newest = select(func.max(_fill.c.fill)).where(counts).group_by(_fill.c.serial)
    return {row.serial: row for row in read.rows(conn, FillRow, _fill.c.fill.in_(newest))}


def _why_held(conn: Connection, last: Iterable[FillRow]) -> dict[str, str]:
    """Say of each cylinder held why, the graver reason where there are two.

    A hold ends when that fill is released or goes on, whatever fill came after it; one that was
    rejected was drained, and counts until the next fill.
    """
    rejected = [row for row in last if row.state == "rejected"]
    graver = [row for state in HOLDS for row in read.fills_in(conn, (state,))]
    fills = {row.serial: row for row in [*rejected, *graver]}
    reasons = read.of_fills(conn, ExceptionRow, [row.fill for row in fills.values()])
    found = {}
    for row in fills.values():
        said = [one.text for one in reasons[row.fill] if one.kind in (row.state, "released")]
        why = said[-1] if said else "no reason given"
        found[row.serial] = f"{row.state}, fill {row.fill}: {why}"[:200].rstrip()
    return found


def fills_to_tell(conn: Connection, station: str) -> Iterator[dict[str, Any]]:
    """Give the fills of a record whose gas is in and nobody has signed for."""
    names = ("fill", "serial", "state", "have_typed", "residual", "want_typed", "want_mbar",
             "want_o2_ppm", "want_he_ppm", "settle_mk", "method", "ambient_typed", "gauge_mbar",
             "temp_mk", "gauge", "has_helium", "offset_min")  # fmt: skip
    for row in read.fills_in(conn, UNSIGNED)[-MOST_FILLS:]:
        if brought(conn, row.fill) is not None:
            continue  # it is its own station's to tell of
        entries = read.entries_of_fill(conn, station, row.fill)
        let_in = [one for one in entries if one.kind in ("fill.reading", "fill.started")]
        last = read.entry(conn, station, row.seq)
        if last is None:
            continue
        yield {
            **{name: getattr(row, name) for name in names},
            "contents_umol": json.loads(row.contents_umol),
            "filled_by": ", ".join(
                dict.fromkeys(str((e.sig or {}).get("name", "")) for e in let_in)
            ),
            "filled_us": let_in[-1].at.us if let_in else row.started_us,
            "at_seq": row.seq,
            "digest": last.digest.hex(),
        }


def analyses_to_tell(conn: Connection, station: str) -> Iterator[dict[str, Any]]:
    """Give what was analysed here and may be at another station, too, as it stands now.

    That is what was taken in from there, and what was filled here and did not leave yet.
    """
    here = {row.fill: row for row in read.equal(conn, BroughtRow)[-MOST_FILLS:]}
    own = [row.fill for row in read.fills_in(conn, READ)[-MOST_FILLS:]]
    for number in sorted({*here, *own}):
        fill = read.fill(conn, number)
        entry = _read_by(conn, station, fill)
        if entry is None:
            continue
        source = here.get(number) or brought(conn, number)
        of = (source.site, source.site_fill, source.site_seq, source.site_digest) if source else (
            station, number, entry.seq, entry.digest.hex()
        )  # fmt: skip
        yield {
            **dict(zip(("site", "fill", "of_seq", "of_digest"), of, strict=True)),
            "by_fill": number,
            "by_seq": entry.seq,
            "by_digest": entry.digest.hex(),
            "state": fill.state,
            "o2_ppm": fill.o2_ppm,
            "he_ppm": fill.he_ppm,
            "at_us": entry.at.us,
        }


def _read_by(conn: Connection, station: str, fill: FillRow) -> Entry | None:
    """Return the entry by which a fill was signed for here, or analysed last; None before."""
    rows = read.analyses(conn, fill.fill, valid_only=True)
    read_here = [one for one in rows if one.party == "staff"]
    seq = fill.accepted_seq or (read_here[-1].seq if read_here else 0)
    return read.entry(conn, station, seq) if seq else None


def brought_from(conn: Connection, site_id: str, number: int) -> BroughtRow | None:
    """Return the fill here that was a fill of another station, None if it was not taken in."""
    given = {"site": site_id, "site_fill": number}
    return next(iter(read.equal(conn, BroughtRow, given)), None)


def name_of(conn: Connection, ident: str) -> str:
    """Return what a station is called: its name where this one knows it, else its id."""
    known, named = site(conn, ident), office(conn)
    if known is not None:
        return known.name
    return named.name if named is not None and named.office == ident else ident
