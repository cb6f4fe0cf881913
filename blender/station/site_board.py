"""At the office: all stations of the shop side by side, from their verified copies."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import Any

from sqlalchemy import Connection, func, select

from blender.errors import FillwrightError
from blender.record import read, shop
from blender.record.journal import Record
from blender.record.models import ExceptionRow, FillRow
from blender.record.models_of_shop import SiteRow
from blender.record.moment import Moment
from blender.record.place import locate
from blender.record.projection import table
from blender.record.replica import ODD, place_of, read_replica
from blender.record.states import ENDED
from blender.record.unit import entry_at, last_entry
from blender.record.verify import verify
from blender.station import duties, register

Facts = dict[str, Any]
_DAY_US = 86_400_000_000
_MOST = 20  # lines of exceptions, and of what is due


def board(record: Record, now: Moment) -> Facts:
    """Return how every station of the shop stands, this one first.

    Parameters
    ----------
    record : Record
        The office's open record.
    now : Moment
        Now; a day and a week are counted in its zone.

    Returns
    -------
    dict
        ``sites``: each with ``site``, ``name``, ``place``, ``heard_at`` (None for this one, and
        where nothing came yet), ``entries``, ``head``, ``open_fills``, ``fills_today``,
        ``fills_week`` (today and the six days before), ``exceptions`` (of the last seven days, the
        newest), ``exception_count``, ``due``, ``gas``; ``error`` where its copy cannot be read;
        ``mark``: why its record did not come last time, None if it did.
        ``root``: the last root signed here.
    """
    with record.read() as conn:
        known, root = shop.sites(conn), shop.last_root(conn, record.public_key.hex())
        own = read.station(conn)
        last = last_entry(conn, record.station)
        marks = {row.site: _mark(conn, row) for row in known}
    assert own is not None
    assert last is not None
    here: Facts = {"site": own.station, "name": own.name, "place": None, "heard_at": None,
                   "is_here": True, "entries": last.seq, "head": last.anchor.text,
                   "mark": None}  # fmt: skip
    sites = [{**here, **standing(record, now)}]
    sites += [
        {**_told(row), "mark": marks[row.site], **_of_copy(record, row, now)} for row in known
    ]
    told = None
    if root is not None:
        with record.read() as conn:
            told = shop.root_text(conn, root.seq)
    return {"sites": sites, "root": told, "number": root.number if root else None}


def _mark(conn: Connection, row: SiteRow) -> str | None:
    """Say that a station's record was refused or not reached, and when; None if it came."""
    found = shop.trouble_with(conn, row)
    if found is None:
        return None
    at = Moment(found.at_us, row.offset_min).iso[:16].replace("T", " ")
    why = found.text.removeprefix(f"{row.site}: ")
    is_refused = found.kind == "site-refused"
    return f"refused {at[:10]}: {why}" if is_refused else f"not reached since {at}: {why}"


def _told(row: SiteRow) -> Facts:
    heard = Moment(row.heard_us, row.offset_min).iso if row.heard_us else None
    head = shop.head_of(row).text if row.entries else None
    return {"site": row.site, "name": row.name, "place": row.place or None, "heard_at": heard,
            "is_here": False, "entries": row.entries, "head": head}  # fmt: skip


def _of_copy(record: Record, row: SiteRow, now: Moment) -> Facts:
    if not row.entries:
        return nothing("nothing came from it yet")
    try:
        with read_replica(record, row.site, row.life) as copy:
            if not _has(copy, row):
                return nothing("the copy here was altered: move it away, and take it in again")
            return standing(copy, now)
    except FillwrightError as error:
        return nothing(error.text)
    except ODD:
        return nothing("an entry of it says what its kind cannot: ask there, `site check` here")


def _has(copy: Record, row: SiteRow) -> bool:
    """Tell whether a copy still has the head that was entered when it came."""
    with copy.read() as conn:
        found = entry_at(conn, row.site, row.entries)
    return found is not None and found.digest.hex() == row.head


def check(record: Record, progress: Callable[[int], None] | None = None) -> list[Facts]:
    """Verify every copy whole: chain, signatures, tables; and that it has the head entered here.

    Private rows never come, so that they are missing is no flaw of a copy.

    Returns
    -------
    list of dict
        Each ``site``, ``ok``, ``entries``, ``problems``, and ``mark`` as on the board.
    """
    with record.read() as conn:
        known = [(row, _mark(conn, row)) for row in shop.sites(conn) if row.entries]
    return [{**_checked(record, row, progress), "mark": mark} for row, mark in known]


def _checked(record: Record, row: SiteRow, progress: Callable[[int], None] | None) -> Facts:
    place = place_of(locate(record.location), row.site, row.life)
    try:
        found = verify(place, shop.head_of(row), progress=progress)
        said = [str(one) for one in found.problems if one.kind != "private"]
    except FillwrightError as error:
        return {"site": row.site, "ok": False, "entries": 0, "problems": [error.text]}
    return {"site": row.site, "ok": not said, "entries": found.entries, "problems": said}


def nothing(why: str) -> Facts:
    """Return how a station stands of which nothing can be read, and why."""
    return {"open_fills": None, "fills_today": None, "fills_week": None, "exceptions": [],
            "exception_count": None, "due": [], "gas": [], "error": why}  # fmt: skip


def standing(record: Record, now: Moment) -> Facts:
    """Return how a record's station stands, JSON-ready."""
    midnight = now.local.replace(hour=0, minute=0, second=0, microsecond=0)
    today_us = now.us - round((now.local - midnight) / timedelta(microseconds=1))
    week_us = today_us - 7 * _DAY_US
    fills, columns = table(FillRow).c, table(ExceptionRow).c
    with record.read() as conn:
        noted = read.rows(conn, ExceptionRow, columns.at_us >= week_us, [columns.seq.desc()])
        counts = {
            "open_fills": _count(conn, ~fills.state.in_(ENDED)),
            "fills_today": _count(conn, fills.requested_us >= today_us, fills.state != "voided"),
            "fills_week": _count(
                conn, fills.requested_us >= week_us + _DAY_US, fills.state != "voided"
            ),
        }
    due = duties.due(record, now)["due"]
    return {
        **counts,
        "exceptions": [_noted(row, now.offset_min) for row in noted[:_MOST]],
        "exception_count": len(noted),
        "due": [duties.named(one) for one in due][:_MOST],
        "due_count": len(due),
        "gas": [_gas(row) for row in register.supplies(record)["supplies"] if not row["retired"]],
        "error": None,
    }


def _count(conn: Connection, *where: Any) -> int:
    return int(
        conn.execute(select(func.count()).select_from(table(FillRow)).where(*where)).scalar_one()
    )


def _noted(row: ExceptionRow, offset_min: int) -> Facts:
    at = Moment(row.at_us, offset_min).iso
    return {"at": at, "kind": row.kind, "text": row.text, "fill": row.fill or None, "seq": row.seq}


def _gas(row: Facts) -> Facts:
    return {name: row[name] for name in ("name", "gas", "size_l", "pressure_bar")}


# -- for people ----------------------------------------------------------------------------------


def head_line(one: Facts) -> str:
    """Return a station's line of the board."""
    marked = f"  ! {one['mark']}" if one["mark"] else ""
    if one["error"]:
        return f"{one['site']:16} {one['name'][:20]:20} {heard(one):16}  ! {one['error']}{marked}"
    numbers = f"{one['open_fills']:>4} {one['fills_today']:>5} {one['fills_week']:>4}"
    more = f"{one['exception_count']:>6} {one['due_count']:>4}"
    return f"{one['site']:16} {one['name'][:20]:20} {heard(one):16} {numbers} {more}{marked}"


HEADING = (
    f"{'station':16} {'name':20} {'last heard from':16} {'open':>4} {'today':>5} {'week':>4}"
    f" {'except':>6} {'due':>4}"
)


def heard(one: Facts) -> str:
    """Say when a station was last heard from."""
    if one["is_here"]:
        return "here"
    return str(one["heard_at"])[:16].replace("T", " ") if one["heard_at"] else "never"


def detail_lines(one: Facts) -> list[tuple[str, str, bool]]:
    """Return all that is known of a station: caption, text, whether it stands out."""
    told = [("Last heard from", heard(one), False)]
    if one["place"]:
        told.append(("Its record", one["place"], False))
    told.append(("Head", one["head"] or "none yet", False))
    if one["mark"]:
        told.append(("Mind", one["mark"], True))
    if one["error"]:
        return [*told, ("Mind", one["error"], True)]
    told.append(("Fills", f"{one['open_fills']} open, {one['fills_today']} today,"
                          f" {one['fills_week']} in seven days with it", False))  # fmt: skip
    told += _listed("Gas in hand", [_gas_text(row) for row in one["gas"]], 0)
    told += _listed("Due", one["due"], one["due_count"])
    noted = [_noted_text(row) for row in one["exceptions"]]
    return told + _listed("Exceptions", noted, one["exception_count"], strong=True)


def _listed(
    caption: str, texts: Sequence[str], count: int, *, strong: bool = False
) -> list[tuple[str, str, bool]]:
    left = count - len(texts)
    lines = [*texts, *([f"and {left} more"] if left > 0 else [])] or ["none"]
    return [
        (caption if at == 0 else "", text, strong and bool(texts)) for at, text in enumerate(lines)
    ]


def _gas_text(row: Facts) -> str:
    left = "amount not on record"
    if row["pressure_bar"] is not None:
        left = f"{row['size_l']:.1f} L, should show {row['pressure_bar']:.1f} bar at 20 degC"
    return f"{row['name']} {row['gas']}: {left}"


def _noted_text(row: Facts) -> str:
    fill = f"fill {row['fill']}, " if row["fill"] else ""
    return f"{row['at'][:16].replace('T', ' ')}, {fill}{row['kind']}: {row['text']}"
