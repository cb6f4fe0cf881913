"""What other stations of the shop know of a cylinder, where it is scanned, and what stops it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection

from blender.gas import Mix, mix, name_of
from blender.record import search, shop
from blender.record.models import CylinderRow
from blender.record.models_of_shop import SiteCylinderRow, SiteFillRow
from blender.record.moment import Moment
from blender.station.gates import ASK, PASS, STOP, Gate
from blender.station.numbers import bar
from blender.station.rules import Rules

GATE, CLEAN_GATE = "other-site", "other-site-clean"


def hold_gate(conn: Connection, serial: str, *, at_hand: bool, before: str = "gas goes in") -> Gate:
    """Is this cylinder held or condemned at no other station of the shop?

    With somebody at hand it stops; a script that enters what was done elsewhere is told.

    Parameters
    ----------
    conn : Connection
        Reads the record.
    serial : str
        The cylinder.
    at_hand : bool
        Whether somebody stands by.
    before : str
        What is about to be done with it.
    """
    rows = [row for one in search.sharing(conn, serial) for row in shop.known_cylinders(conn, one)]
    held = [f"{row.site}: {_of(row, serial)}{row.hold}" for row in rows if row.hold]
    if not held:
        return Gate(GATE, PASS, "no other station of the shop holds this cylinder")
    told = f"{serial} is held at another station, {'; '.join(held)}; ask there before {before}"
    return Gate(GATE, STOP if at_hand else PASS, told, caution=not at_hand)


def _of(row: SiteCylinderRow, serial: str) -> str:
    """Name the cylinder that is held, where it is another serial of the same."""
    return "" if row.serial == serial else f"{row.serial}, "


def away_gates(
    conn: Connection, cylinder: CylinderRow, gases: Iterable[Mix], rules: Rules, *, at_hand: bool
) -> list[Gate]:
    """Ask what other stations of the shop know of a cylinder, where any does."""
    known = shop.known_cylinders(conn, cylinder.serial)
    hold = hold_gate(conn, cylinder.serial, at_hand=at_hand)
    if not known:  # its posts, or a set it is a post of, may be held all the same
        return [hold] if hold.answer != PASS or hold.caution else []
    rich = any(gas.o2 > rules.clean_above_o2 for gas in gases)
    unclean = [row.site for row in known if not row.clean] if rich and cylinder.clean else []
    return [hold, _clean(unclean, at_hand=at_hand)]


def _clean(unclean: list[str], *, at_hand: bool) -> Gate:
    """Is it in oxygen service by every station's record?  Nobody knows which read it last."""
    if not unclean:
        return Gate(CLEAN_GATE, PASS, "no other station has it as not clean for oxygen")
    told = f"at {', '.join(unclean)} it is not clean for oxygen: find out which is so now"
    return Gate(CLEAN_GATE, ASK if at_hand else PASS, told, caution=not at_hand)


def elsewhere(conn: Connection, serial: str) -> dict[str, Any]:
    """Return what other stations know of a cylinder, JSON-ready; empty lists where none does."""
    return {
        "known_at": [_known(row) for row in shop.known_cylinders(conn, serial)],
        "fills": [
            _fill(row)
            for row in shop.site_fills(conn, serial)
            if shop.brought_from(conn, row.site, row.fill) is None
        ],
    }


def _known(row: SiteCylinderRow) -> dict[str, Any]:
    analysed = None
    if row.o2_ppm >= 0:
        gas = mix(row.o2_ppm / 1e6, max(row.he_ppm, 0) / 1e6)
        analysed = {"gas": name_of(gas, 1), "at": Moment(row.analysed_us, 0).iso[:10]}
    return {
        "site": row.site,
        "serial": row.serial,
        "size": row.size_typed,
        "wp_bar": bar(row.wp_mbar),
        "tp_bar": bar(row.tp_mbar),
        "tested": row.tested,
        "inspected": row.inspected,
        "clean": row.clean,
        "analysed": analysed,
        "hold": row.hold or None,
        "seq": row.seq,
    }


def _fill(row: SiteFillRow) -> dict[str, Any]:
    return {"site": row.site, "fill": row.fill, "state": row.state, "want": row.want_typed}


def known_text(one: dict[str, Any]) -> str:
    """Return what a station knows of a cylinder, in a line."""
    service = "oxygen service" if one["clean"] else "NOT clean for oxygen"
    stamps = f"tested {one['tested']}, inspected {one['inspected']}"
    last = ""
    if analysed := one["analysed"]:
        last = f", last analysed {analysed['gas']} {analysed['at']}"
    held = f", HELD: {one['hold']}" if one["hold"] else ""
    told = f"{one['size']}, WP {one['wp_bar']:.0f} bar, {stamps}, {service}{last}{held}"
    return f"known at {one['site']}: {told}"


def site_lines(conn: Connection, number: int) -> list[str]:
    """Return where else a fill was worked on: filled at, analysed at, and the entries there."""
    told = []
    if (away := shop.brought(conn, number)) is not None:
        entry = f"entry {away.site_seq} there, {away.site_digest[:16]}…"
        told.append(f"filled at {away.site} as its fill {away.site_fill} ({entry})")
    for row in shop.analysed_away(conn, number):
        entry = f"entry {row.site_seq} there, {row.site_digest[:16]}…"
        read = f"O2 {row.o2_ppm / 1e4:.1f} %, {row.state}"
        told.append(f"analysed at {row.site} as its fill {row.site_fill}: {read} ({entry})")
    return told
