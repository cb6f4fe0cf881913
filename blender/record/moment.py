"""When something was entered: the station's clock and zone, as whole numbers.

The clock may lie; the order of the record never depends on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

from blender.errors import InputError
from blender.record.canonical import MAX_INT

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, order=True)
class Moment:
    """A moment on the station's clock.

    Parameters
    ----------
    us : int
        Microseconds since 1970-01-01 UTC.
    offset_min : int
        Zone offset from UTC [min].

    Examples
    --------
    >>> Moment(1_700_000_000_000_000, 60).iso
    '2023-11-14T23:13:20+01:00'
    """

    us: int
    offset_min: int

    def __post_init__(self) -> None:
        if type(self.us) is not int or abs(self.us) > MAX_INT:
            raise InputError("time", self.us, "whole microseconds since 1970, years 1685 to 2255")
        if type(self.offset_min) is not int or not -18 * 60 <= self.offset_min <= 18 * 60:
            raise InputError("zone offset", self.offset_min, "whole minutes, at most 18 hours")

    @property
    def local(self) -> datetime:
        """The moment as an aware datetime in its own zone."""
        zone = timezone(timedelta(minutes=self.offset_min))
        return (_EPOCH + timedelta(microseconds=self.us)).astimezone(zone)

    @property
    def iso(self) -> str:
        """The moment in its own zone, to the second."""
        return self.local.isoformat(timespec="seconds")
