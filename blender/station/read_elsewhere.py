"""One fill read at several stations of a shop: is it the same gas that they found?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection

from blender.decision import Tolerances
from blender.record import read, shop
from blender.record.models import FillRow
from blender.station.gates import PASS, STOP, Gate
from blender.station.posts import large

GATE = "read-elsewhere"
MOST_TOLD = 3  # readings that go with a fill nobody took in here yet
KEPT = ("by_site", "by_fill", "by_seq", "by_digest", "of_seq", "of_digest", "state", "o2_ppm",
        "he_ppm", "at_us")  # fmt: skip
_SIGNED = ("accepted", "collected")
Reading = tuple[str, int, int]  # where, O2 and He [ppm], He -1 where it was not measured


def elsewhere_gate(conn: Connection, fill: FillRow, *, at_hand: bool) -> Gate:
    """Did no other station read other gas in this fill, or sign for it?

    The newest reading of each counts.  With somebody at hand a difference stops; a script is told.
    """
    away = shop.newest_away(conn, fill.fill)
    if not away:
        return Gate(GATE, PASS, "no other station analysed it")
    found = [(f"at {row.site}", row.o2_ppm, row.he_ppm) for row in away]
    if told := apart([*_here(conn, fill), *found]):
        why = f"{told}; analyse it again at both, on freshly set analysers"
        return Gate(GATE, STOP if at_hand else PASS, why, caution=not at_hand)
    if signed := [row for row in away if row.state in _SIGNED]:
        where = ", ".join(f"{row.site} as its fill {row.site_fill}" for row in signed)
        return Gate(GATE, PASS, f"it was signed for at {where}, too", caution=True)
    return Gate(GATE, PASS, "what other stations read in it agrees")


def _here(conn: Connection, fill: FillRow) -> list[Reading]:
    standing = read.analyses(conn, fill.fill, valid_only=True)
    if not any(row.party == "staff" for row in standing):
        return []
    row = large(fill.serial, standing)
    return [("here", row.o2_ppm, row.he_ppm)]


def apart(found: Sequence[Reading]) -> str:
    """Say how far readings of one gas lie apart; empty where they agree.

    Examples
    --------
    >>> apart([("here", 321_000, -1), ("at REEF-3", 347_000, -1)])
    'here O2 32.1 % was read, at REEF-3 34.7 %: 2.6 points apart, more than 0.5'
    >>> apart([("here", 321_000, -1), ("at REEF-3", 325_000, -1)])
    ''
    """
    most = Tolerances()
    return "; ".join(
        filter(None, (_apart("O2", [(where, o2) for where, o2, _ in found], most.agree_o2_points),
                      _apart("He", [(where, he) for where, _, he in found if he >= 0],
                             most.agree_he_points)))
    )  # fmt: skip


def _apart(gas: str, found: Sequence[tuple[str, int]], most: Any) -> str:
    if len(found) < 2:
        return ""
    low, high = (choose(found, key=lambda one: one[1]) for choose in (min, max))
    if high[1] - low[1] <= most * 10_000:
        return ""
    one, other = sorted((low, high), key=found.index)
    points = (high[1] - low[1]) / 1e4
    said = f"{one[0]} {gas} {one[1] / 1e4:.1f} % was read, {other[0]} {other[1] / 1e4:.1f} %"
    return f"{said}: {points:.1f} points apart, more than {most}"


def mind_of(conn: Connection, number: int, row: dict[str, Any]) -> str:
    """Say with a new reading of another station that it does not agree with those known before."""
    away = [one for one in shop.newest_away(conn, number) if one.site != row["by_site"]]
    known = [*_here(conn, read.fill(conn, number)),
             *((f"at {one.site}", one.o2_ppm, one.he_ppm) for one in away)]  # fmt: skip
    told = apart([*known, (f"at {row['by_site']}", row["o2_ppm"], row["he_ppm"])])
    return f"; {told}" if told else ""


def with_readings(
    fills: Iterable[dict[str, Any]], analysed: Iterable[dict[str, Any]], ident: str
) -> list[dict[str, Any]]:
    """Return fills of other stations, each with what others than this one read in it."""
    read_in: dict[tuple[str, int], list[dict[str, Any]]] = {}
    for row in analysed:
        if row["by_site"] != ident:
            kept = {name: row[name] for name in KEPT}
            read_in.setdefault((row["site"], row["fill"]), []).append(kept)
    return [
        {**one, "analysed": found[:MOST_TOLD]}
        if (found := read_in.get((one["site"], one["fill"])))
        else one
        for one in fills
    ]


def before_bringing(site: str, state: str, analysed: Sequence[dict[str, Any]]) -> Gate:
    """Say where a fill was analysed before it is taken in here."""
    told = [
        f"{one['by_site']} as fill {one['by_fill']} (O2 {one['o2_ppm'] / 1e4:.1f} %)"
        for one in analysed
    ]
    if state != "resting" and all(one["by_site"] != site for one in analysed):
        told.append(site)
    if not told:
        return Gate(GATE, PASS, "no other station is known to have analysed it")
    return Gate(GATE, PASS, f"it was analysed before, at {' and at '.join(told)}", caution=True)
