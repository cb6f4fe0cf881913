"""A span of days of the station's zone, both included, and where it lies in time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone

from blender.errors import InputError
from blender.record.moment import Moment


@dataclass(frozen=True, slots=True)
class Days:
    """Some days, empty where a side is open; from `since_us` until before `until_us` [us UTC]."""

    first: str
    last: str
    since_us: int
    until_us: int


def days_of(first_day: str, last_day: str, now: Moment, last_field: str = "--to") -> Days:
    """Understand two days as typed, each empty for as far as the record goes.

    Parameters
    ----------
    first_day, last_day : str
        The days, as ``2026-11-25``.
    now : Moment
        Tells the station's zone.
    last_field : str
        What the last day is called where it was typed.

    Raises
    ------
    InputError
        If a day cannot be read, or the last is before the first.

    Examples
    --------
    >>> span = days_of("2026-11-25", "2026-11-25", Moment(0, 60))
    >>> (span.until_us - span.since_us) // 3_600_000_000
    24
    """
    first, last = _day(first_day, "--from"), _day(last_day, last_field)
    if first and last and last < first:
        raise InputError(last_field, last_day, f"the last day is not before the first, {first_day}")
    zone = timezone(timedelta(minutes=now.offset_min))
    return Days(
        first.isoformat() if first else "",
        last.isoformat() if last else "",
        _midnight_us(first, zone) if first else 0,
        _midnight_us(last + timedelta(days=1), zone) if last else 2**62,
    )


def _day(text: str, field: str) -> date | None:
    if not text.strip():
        return None
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(field, repr(text[:40]), "write a day as 2026-11-25") from None
    if not 1970 <= day.year <= 9000:
        raise InputError(field, repr(text[:40]), "give a day between 1970 and 9000")
    return day


def _midnight_us(day: date, zone: timezone) -> int:
    return int(datetime(day.year, day.month, day.day, tzinfo=zone).timestamp()) * 1_000_000
