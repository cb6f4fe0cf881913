"""How far a bank's gauge may lie from what the record expects, with nothing wrong.

What the record expects rests on the bank's last reading and on what fills drew since; both
readings are of a gauge and a gas whose temperature is known to a few kelvin, what fills drew is
known by the panel's gauge, and the bank itself is a little narrower when it is emptier.
"""

from __future__ import annotations

import math

from sqlalchemy import Connection, and_

from blender.planning.budget import STRETCH
from blender.planning.doubts import SCALES_BAR, TEMPERATURE_K, Doubts
from blender.record import read
from blender.record.models import CylinderRow, FillRow, ReadingRow, SupplyRow
from blender.record.projection import table
from blender.station.numbers import mol
from blender.units import ZERO_C_K

CLASS = 1.6  # of a gauge on a bank nobody described; common practice, no source
_EVEN = math.sqrt(3.0)  # half-width of an even distribution to its standard deviation
_STRETCHED_BAR = 232.0  # where the stretch of `STRETCH` counts
_GAS_CONSTANT = 8.314462618
_PA = 1e5


def doubt_bar(conn: Connection, row: SupplyRow, expected_bar: float, temperature_c: float) -> float:
    """Return the expanded uncertainty, k = 2, of what a bank's gauge is expected to show [bar].

    Parameters
    ----------
    conn : Connection
        The record.
    row : SupplyRow
        A supply with a size.
    expected_bar, temperature_c : float
        What it should show [bar gauge], and the temperature of its gas [degC].

    Notes
    -----
    Both readings count as independent although one gauge made them.  Half-widths: class 1.6 of
    the scale that just holds it, 2 K, class 1.0 for what fills drew; see `planning.budget`.
    """
    drawn_mol, drawn_u_mol = _drawn(conn, row)
    a_bar = row.size_ml / 1e6 * _PA / (_GAS_CONSTANT * (temperature_c + ZERO_C_K))  # mol, about
    fallen_bar = drawn_mol / a_bar
    highest_bar = expected_bar + fallen_bar
    reading = reading_bar(expected_bar, highest_bar, temperature_c)
    stretch = STRETCH * fallen_bar / _STRETCHED_BAR * expected_bar / _EVEN
    parts = (reading, reading if row.read_us else 0.0, drawn_u_mol / a_bar, stretch)
    return 2.0 * math.hypot(*parts)


def reading_bar(shown_bar: float, highest_bar: float, temperature_c: float) -> float:
    """Return the standard uncertainty of one reading of a bank's gauge [bar].

    Parameters
    ----------
    shown_bar : float
        About where it stands.
    highest_bar : float
        The most it has to show: its scale is the usual one that holds that.
    temperature_c : float
        Temperature of the gas [degC].
    """
    scale_bar = next((one for one in SCALES_BAR if one >= highest_bar), SCALES_BAR[-1])
    return math.hypot(
        CLASS / 100.0 * scale_bar / _EVEN,
        TEMPERATURE_K["gas"] / _EVEN * shown_bar / (temperature_c + ZERO_C_K),
    )


def _drawn(conn: Connection, row: SupplyRow) -> tuple[float, float]:
    """Return what fills drew since the bank was last read, and its standard uncertainty [mol]."""
    columns = table(ReadingRow).c
    since = and_(columns.supply == row.name, columns.at_us > row.read_us, columns.corrected_by == 0,
                 columns.drawn_umol > 0)  # fmt: skip
    total = square = 0.0
    for reading in read.rows(conn, ReadingRow, since):
        total += mol(reading.drawn_umol)
        square += _drawn_u_mol(_cylinder(conn, reading.fill)) ** 2
    return total, math.sqrt(square)


def _cylinder(conn: Connection, number: int) -> CylinderRow:
    fill: FillRow = read.fill(conn, number)
    return read.cylinder(conn, fill.serial)


def _drawn_u_mol(cylinder: CylinderRow) -> float:
    """Return how far what one stop drew may be off: both its ends are read on the panel."""
    off_bar = Doubts().gauge_for(SCALES_BAR[3]).error_bar / _EVEN * math.sqrt(2.0)
    a_bar = cylinder.size_ml / 1e6 * _PA / (_GAS_CONSTANT * (20.0 + ZERO_C_K))
    return off_bar * a_bar
