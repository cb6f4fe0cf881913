"""What goes wrong in the year, and when: the program is not told, it has to find it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from demo.station import Meter
from demo.world import Gauge

FIRST_DAY = (2025, 3, 3)
DAYS = 365
ROOM_AIR = "19C/55%"

OXYGEN_GAUGE, TOP_GAUGE = "G-OX", "G-TOP"
SOUND, AGEING, COUNTER = "A-NORTH", "A-SOUTH", "A-DESK"
BANKS, LEAKING = ("B-LEFT", "B-RIGHT"), "B-RIGHT"


@dataclass(frozen=True, slots=True)
class Troubles:
    """Days, counted from the first, on which something begins and ends.

    Parameters
    ----------
    cell_from, cell_points : int, float
        The cell of one analyser ages: at 32 % it then reads low by so many points a day more,
        while it still shows air right.
    cell_until : int
        It is replaced.
    gauge_from, gauge_bar : int, float
        The oxygen gauge takes a knock and from then on shows so much less than there is [bar].
    leak_from, leak_until, leak_bar : int, int, float
        A bank leaks so much a day [bar].
    """

    cell_from: int = 90
    cell_points: float = 0.02
    cell_until: int = 150
    gauge_from: int = 240
    gauge_bar: float = 1.3
    leak_from: int = 185
    leak_until: int = 213
    leak_bar: float = 4.0

    def oxygen_gauge(self, day: int) -> Gauge:
        """Return the oxygen gauge as it truly is on a day."""
        off = -self.gauge_bar if day >= self.gauge_from else 0.0
        return Gauge(OXYGEN_GAUGE, zero_bar=0.1 + off, span=1.0005, step_bar=0.5)

    def ageing(self, meter: Meter, day: int) -> Meter:
        """Return an analyser as its cell truly is on a day."""
        if not self.cell_from <= day < self.cell_until:
            return meter
        low = self.cell_points * (day - self.cell_from)
        return replace(meter, slope=-low / (32.0 - 20.9))

    def leaks(self, day: int) -> float:
        """Return what the leaking bank loses on a day [bar]."""
        return self.leak_bar if self.leak_from <= day < self.leak_until else 0.0


TOP = Gauge(TOP_GAUGE, zero_bar=-0.1, span=0.9995, step_bar=0.5)
METERS = (
    Meter(SOUND, "air", "20.9", ROOM_AIR, slope=0.002, noise_points=0.08),
    Meter(AGEING, "air", "20.9", ROOM_AIR, slope=-0.002, noise_points=0.08),
    # Set on dry bottled air, so that a diver may take it at its word.
    Meter(COUNTER, "air", "20.9", slope=0.001, noise_points=0.08),
)
