"""The start and the end of a day at the station, each signed by whoever is there."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.record import read, search
from blender.record.journal import Record
from blender.record.models import DayRow, FillRow
from blender.record.moment import Moment
from blender.record.text import clean_text
from blender.station import stamps
from blender.station.accounts import account
from blender.station.actor import Actor
from blender.station.book import danger
from blender.station.desk import Act, Station
from blender.station.gates import PASS
from blender.station.rules import Rules, in_force
from blender.station.supplies import enter_reading

CHECKS = {
    "gauges": "gauges at zero",
    "room": "oxygen alarm and ventilation",
    "intake": "compressor intake",
}
_ANSWER = re.compile(r"(yes|no)\b", re.IGNORECASE)
_OPEN = ("requested", "planned", "filling", "resting", "analysed", "recheck", "correcting")
_MOST = 200  # fills named in a list; the counts are whole


def open_day(
    station: Station,
    actor: Actor,
    *,
    gauges_zero: bool | str,
    room: str,
    intake: str,
    supplies: Mapping[str, str] | None = None,
    note: str = "",
) -> dict[str, Any]:
    """Open the day: what was looked at, and what every bank's gauge shows.

    A check is answered yes or no, and what was seen may follow: ``yes, alarm shows 20.9``.
    One answered no is entered and is an exception; it does not keep the day shut.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who opens.
    gauges_zero : bool or str
        Do all panel gauges show zero with no pressure on them?
    room : str
        Do the oxygen alarm and the ventilation work?
    intake : str
        Does the compressor draw clean air?
    supplies : mapping
        Banks read, by name: ``180bar`` or ``180bar@15C`` (20 degC if not said).
    note : str
        Anything else.

    Raises
    ------
    InputError
        If an answer or a pressure cannot be read, or today is open already.
    """
    said = "yes" if gauges_zero is True else "no" if gauges_zero is False else gauges_zero
    answers = dict(zip(CHECKS, (said, room, intake), strict=True))
    checks = [_check(name, answer) for name, answer in answers.items()]
    remark = clean_text(note, "--note", 400, empty=True, lines=True)
    with station.act(actor, "day") as act:
        today = act.now.local.date().isoformat()
        before = _still_open(act, today)
        banks = [_bank(act, name, typed) for name, typed in (supplies or {}).items()]
        data: dict[str, Any] = {
            "day": today,
            "checks": checks,
            "failed": [f"{CHECKS[c['check']]}: {c['typed']}" for c in checks if not c["ok"]],
            "banks": banks,
            "analysers": _analysers(act),
            "note": remark,
        }
        if before:
            data["failed"].append(f"the day {before} was never closed")
        entry = act.enter("day.opened", data, "day opened")
    due = [meter["text"] for meter in data["analysers"] if not meter["ok"]]
    return {"day": today, "seq": entry.seq, "checks": checks, "banks": banks,
            "banks_far_off": [bank["far"] for bank in banks if "far" in bank],
            "exceptions": data["failed"], "analysers_due": due}  # fmt: skip


def _check(name: str, answer: str) -> dict[str, Any]:
    field = f"--{'gauges-zero' if name == 'gauges' else name}"
    typed = clean_text(answer, field, 200)
    if not (found := _ANSWER.match(typed)):
        allowed = "answer yes or no; what was seen may follow: 'yes, alarm shows 20.9'"
        raise InputError(field, repr(answer[:80]), allowed)
    return {"check": name, "typed": typed, "ok": found[1].lower() == "yes"}


def _still_open(act: Act, today: str) -> str:
    """Return the day that was opened and never closed, empty if there is none."""
    last = search.last_day(act.conn)
    if last is None or last.kind == "closed":
        return ""
    if last.day == today:
        at = Moment(last.at_us, last.offset_min).iso
        raise InputError("day", today, f"it was opened at {at}; close it with `day close`")
    return last.day


def _bank(act: Act, name: str, typed: str) -> dict[str, Any]:
    at, _, temperature = typed.partition("@")
    facts = enter_reading(act, name, at, temperature or "20C")
    bank = {"name": facts["name"], "typed": typed.strip()}
    return bank | ({"far": facts["far"]} if facts["far"] else {})


def _analysers(act: Act) -> list[dict[str, Any]]:
    found = []
    for meter in read.analysers(act.conn):
        gate = stamps.calibration(meter, act.now, act.rules)
        line = {"name": meter.name, "ok": gate.answer == PASS, "text": gate.reason}
        hours = stamps.hours_since(meter, act.now)
        found.append(line if hours is None else {**line, "minutes": round(hours * 60.0)})
    return found


def close_day(station: Station, actor: Actor, *, note: str = "") -> dict[str, Any]:
    """Close the day that is open, and return where the record ends: the head to print.

    Raises
    ------
    InputError
        If no day is open.
    """
    remark = clean_text(note, "--note", 400, empty=True, lines=True)
    with station.act(actor, "day") as act:
        opened = search.last_day(act.conn)
        if opened is None or opened.kind == "closed":
            raise InputError("day", "none is open", "open it with `day open`")
        fills = where_fills_stand(act.conn)
        numbers = {name: [row["fill"] for row in rows] for name, rows in fills["lists"].items()}
        head = act.station.record.station
        sums = account(act.conn, head, *span(act.conn, opened))
        data = {"day": opened.day, "opened": opened.seq, **numbers, "counts": fills["counts"],
                **sums, "note": remark}  # fmt: skip
        entry = act.enter("day.closed", data, "day closed")
    return {"day": opened.day, "seq": entry.seq, "anchor": entry.anchor.text, **fills["lists"],
            "counts": fills["counts"], "by_state": sums["by_state"]}  # fmt: skip


def span(conn: Connection, opened: DayRow) -> tuple[int, int]:
    """Return the entries a day counts: all since the closing before it, else its own.

    Its own begin with the banks read at its opening, each an entry just before it.
    """
    before = search.last_day(conn, kind="closed", before=opened.seq)
    first = opened.seq - len(json.loads(opened.text)["banks"]) - 1
    return (before.seq if before else first), 2**62


def where_fills_stand(conn: Connection) -> dict[str, Any]:
    """Return the fills somebody still has to do something about: newest first, and counted."""
    groups = {
        "not_collected": ("accepted",),
        "held": ("held",),
        "open": _OPEN,
        "quarantined": ("quarantined",),
    }
    rows = {name: search.fills_in(conn, states, _MOST) for name, states in groups.items()}
    names = search.names(conn, [row.customer for found in rows.values() for row in found])
    return {
        "lists": {name: [_fill(row, names) for row in found] for name, found in rows.items()},
        "counts": {name: search.count_in(conn, states) for name, states in groups.items()},
    }


def _fill(row: FillRow, names: dict[str, str]) -> dict[str, Any]:
    return {
        "fill": row.fill,
        "state": row.state,
        "cylinder": row.serial,
        "customer": names.get(row.customer, row.customer),
        "want": row.want_typed,
        **danger(row),
    }


def said_of(row: dict[str, Any]) -> str:
    """Return what must be said of a waiting fill whose gas nobody may breathe yet."""
    return f"  ! {row['holds_text']}" if row["do_not_breathe"] else ""


def day_status(record: Record, now: Moment, rules: Rules | None = None) -> dict[str, Any]:
    """Return how the day stands: who opened or closed it, and what is still to be done.

    ``opened`` and ``closed`` are today's last, None if not yet; ``left_open`` names an earlier
    day that nobody closed.  Banks count as read if they were since the local midnight.
    """
    today = now.local.date().isoformat()
    midnight = now.local.replace(hour=0, minute=0, second=0, microsecond=0)
    midnight_us = now.us - round((now.local - midnight).total_seconds() * 1e6)
    with record.read() as conn:
        last = search.last_day(conn)
        rows = [search.last_day(conn, kind=kind, day=today) for kind in ("opened", "closed")]
        names = search.names(conn, [row.person for row in rows if row])
        fills = where_fills_stand(conn)
        limits = rules or in_force(conn)
        meters = [stamps.calibration(m, now, limits) for m in read.analysers(conn)]
        banks = [row for row in read.supplies(conn) if row.size_ml and not row.retired]
    is_open = last is not None and last.kind == "opened"
    return {
        "day": today,
        "is_open": is_open and last is not None and last.day == today,
        "opened": _who_when(rows[0], names),
        "closed": _who_when(rows[1], names),
        "left_open": last.day if is_open and last is not None and last.day != today else None,
        "analysers_due": [gate.reason for gate in meters if gate.answer != PASS],
        "banks_not_read": [row.name for row in banks if row.read_us < midnight_us],
        **fills["lists"],
        "counts": fills["counts"],
    }


def _who_when(row: DayRow | None, names: dict[str, str]) -> dict[str, Any] | None:
    if row is None:
        return None
    at = Moment(row.at_us, row.offset_min).iso
    return {"by": names.get(row.person, row.person), "at": at, "seq": row.seq}


def status_lines(status: dict[str, Any]) -> list[str]:
    """Return how the day stands as lines for people."""
    lines = [f"{status['day']}: {'open' if status['is_open'] else 'not open'}"]
    entered = {kind: status[kind] for kind in ("opened", "closed") if status[kind]}
    lines += [f"  {kind} {one['at']} by {one['by']}" for kind, one in entered.items()]
    if status["left_open"]:
        lines.append(f"  the day {status['left_open']} was never closed")
    lines += [f"  {text}" for text in status["analysers_due"]]
    if status["banks_not_read"]:
        lines.append(f"  not read today: {', '.join(status['banks_not_read'])}")
    return lines + fill_lines(status)


def fill_lines(status: dict[str, Any]) -> list[str]:
    """Return what still has to be done about fills, as lines for people."""
    lines = []
    for name, count in status["counts"].items():
        if count:
            lines.append(f"  {name.replace('_', ' ')}: {count}")
        lines += [
            f"    {row['fill']:>5} {row['state']:11} {row['cylinder']:15} {row['customer']}"
            f"{said_of(row)}"
            for row in status[name]
        ]
    return lines
