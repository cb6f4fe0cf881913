"""Until when a cylinder's stamps and an analyser's setting are good."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta

from blender.record.models import AnalyserRow, CylinderRow
from blender.record.moment import Moment
from blender.station import gates
from blender.station.gates import PASS, Gate
from blender.station.rules import Rules

SOON_DAYS = 60
_HOUR_US = 3_600_000_000


@dataclass(frozen=True, slots=True)
class Due:
    """One thing that runs out.

    Parameters
    ----------
    what : str
        ``periodic-test`` or ``visual-inspection``.
    until : date
        The last day it is good.
    days : int
        Days from today to then; negative once it is over [days].
    gate : Gate
        What the gate answers today.
    """

    what: str
    until: date
    days: int
    gate: Gate

    def is_near(self, within_days: int = SOON_DAYS) -> bool:
        """Tell whether the gate objects today, or will within so many days."""
        return self.gate.answer != PASS or self.days <= within_days

    @property
    def text(self) -> str:
        """The deciding fact in a sentence."""
        if self.gate.answer != PASS:
            return self.gate.reason
        return f"{self.gate.reason}: runs out in {self.days} days, on {self.until.isoformat()}"


def stamps_due(row: CylinderRow, now: Moment, rules: Rules) -> list[Due]:
    """Return when the periodic test and the visual inspection of a cylinder run out."""
    local = now.local.date()
    today = (local.year, local.month)
    yearly, found = rules.test_years * 12, []
    intervals = (
        ("periodic-test", row.tested, yearly, gates.periodic_test),
        ("visual-inspection", row.inspected, rules.inspection_months, gates.inspection),
    )
    for what, stamp, months, gate in intervals:
        until = last_day(later(stamp, months))
        found.append(Due(what, until, (until - local).days, gate(stamp, today, rules)))
    return found


def later(month: str, months: int) -> str:
    """Return a month so many months later (earlier if negative).

    Examples
    --------
    >>> later("2025-11", 3), later("2026-01", -60)
    ('2026-02', '2021-01')
    """
    year, number = (int(part) for part in month.split("-"))
    count = year * 12 + number - 1 + months
    return f"{count // 12:04d}-{count % 12 + 1:02d}"


def last_day(month: str) -> date:
    """Return the last day of a month.

    Examples
    --------
    >>> last_day("2028-02").isoformat()
    '2028-02-29'
    """
    year, number = (int(part) for part in month.split("-"))
    return date(year, number, calendar.monthrange(year, number)[1])


def horizon(now: Moment, within_days: int = SOON_DAYS) -> str:
    """Return the month in which so many days from now lie."""
    return (now.local.date() + timedelta(days=within_days)).strftime("%Y-%m")


def hours_since(meter: AnalyserRow, now: Moment) -> float | None:
    """Return how long ago an analyser was set [h], None if never."""
    return (now.us - meter.calibrated_us) / _HOUR_US if meter.calibrated_us else None


def calibration(meter: AnalyserRow, now: Moment, rules: Rules) -> Gate:
    """Return what the gate says of an analyser today."""
    return gates.calibrated(meter.name, hours_since(meter, now), rules)
