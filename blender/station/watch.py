"""For the office: what went wrong, and what runs out."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from blender.record import read, search
from blender.record.journal import Record
from blender.record.models import AnalyserRow, CylinderRow
from blender.record.moment import Moment
from blender.station import stamps
from blender.station.gates import PASS
from blender.station.rules import Rules


def exceptions(
    record: Record, first_us: int = 0, last_us: int = 2**62, limit: int = 200
) -> list[dict[str, Any]]:
    """Return what a manager looks for in a span of time [us UTC], newest first.

    Each is a dict of fill (None where it is of no fill), kind, text, who, when, seq; `limit`
    is how many at most.
    """
    with record.read() as conn:
        rows = search.exceptions_between(conn, first_us, last_us, limit)
        names = search.names(conn, [row.person for row in rows])
        # A row keeps no zone of its own: it is shown in that of its entry.
        found = [read.entry(conn, record.station, row.seq) for row in rows]
    return [
        {
            "fill": row.fill or None,
            "kind": row.kind,
            "text": row.text,
            "who": names.get(row.person, row.person),
            "when": entry.at.iso if entry else Moment(row.at_us, 0).iso,
            "at_us": row.at_us,
            "seq": row.seq,
        }
        for row, entry in zip(rows, found, strict=True)
    ]


def due(
    record: Record, now: Moment, rules: Rules, within_days: int | None = None
) -> list[dict[str, Any]]:
    """Return what is overdue or runs out within so many days, 60 if not said, soonest first.

    A cylinder's test or inspection has its ``serial``; an analyser to be set has ``analyser``
    instead, and neither date nor days if it never was.  ``days`` is negative when overdue.
    """
    within = stamps.SOON_DAYS if within_days is None else within_days
    tested, inspected = _oldest_good(now, rules, within)
    with record.read() as conn:
        rows = search.stamped_before(conn, tested, inspected, now.local.strftime("%Y-%m"))
        meters = read.analysers(conn)
    found = [line for row in rows for line in _stamps(row, now, rules, within)]
    found += [line for row in meters for line in _setting(row, now, rules)]
    return sorted(found, key=lambda line: (line["days"] is not None, line["days"] or 0))


def _oldest_good(now: Moment, rules: Rules, within: int) -> tuple[str, str]:
    """Return the stamps that run out within the horizon: months of test and inspection."""
    month = stamps.horizon(now, within)
    return (
        stamps.later(month, -12 * rules.test_years),
        stamps.later(month, -rules.inspection_months),
    )


def _stamps(row: CylinderRow, now: Moment, rules: Rules, within: int) -> list[dict[str, Any]]:
    return [
        {
            "serial": row.serial,
            "what": one.what,
            "date": one.until.isoformat(),
            "days": one.days,
            "text": one.text,
        }
        for one in stamps.stamps_due(row, now, rules)
        if one.is_near(within)
    ]


def _setting(row: AnalyserRow, now: Moment, rules: Rules) -> list[dict[str, Any]]:
    gate = stamps.calibration(row, now, rules)
    if gate.answer == PASS:
        return []
    line = {"analyser": row.name, "what": "calibration", "text": gate.reason}
    if not row.calibrated_us:
        return [{**line, "date": None, "days": None}]
    set_at = Moment(row.calibrated_us, now.offset_min).local
    until = (set_at + timedelta(hours=rules.calibration_hours)).date()
    return [{**line, "date": until.isoformat(), "days": (until - now.local.date()).days}]
