"""The clock of the invented day; it moves when somebody does something."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

from blender.record.moment import Moment
from demo.station import DAY, ZONE_MIN

_MINUTE_US = 60_000_000


@dataclass
class Clock:
    """Minutes since midnight of a first day, given as the station's clock gives them."""

    minute: float = 0.0
    first: tuple[int, int, int] = DAY

    def __call__(self) -> Moment:
        """Return the moment."""
        zone = timezone(timedelta(minutes=ZONE_MIN))
        midnight = int(datetime(*self.first, tzinfo=zone).timestamp()) * 1_000_000
        return Moment(midnight + round(self.minute * _MINUTE_US), ZONE_MIN)

    def wait(self, minutes: float) -> None:
        """Let time pass."""
        self.minute += minutes

    def until(self, minute: float) -> None:
        """Let time pass up to a minute of the day, if it is not later already."""
        self.minute = max(self.minute, minute)

    @property
    def time(self) -> str:
        """Time of day for the margin: ``08:05``."""
        hours, minutes = divmod(int(self.minute), 60)
        return f"{hours % 24:02d}:{minutes:02d}"


def minute_of(time: str) -> float:
    """Return the minute of the day of a time such as ``08:05``."""
    hours, minutes = time.split(":")
    return int(hours) * 60.0 + int(minutes)
