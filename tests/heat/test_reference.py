"""The reference computation with CoolProp's air of Lemmon 2000, row by row: 1 K and 1 bar.

12 L rigid, 293.15 K at the start, pressures absolute, to 232 bar, marched in pressure; then
cooled to 293.15 K at constant density.  `same`: the supply is at the cylinder's pressure.
"""

from __future__ import annotations

import math

import pytest

from blender.gas import AIR, HELIUM, OXYGEN, parse_gas
from blender.heat.filling import Feed, fill
from blender.heat.state import Warm, pressure_and_energy
from blender.heat.wall import Wall
from blender.vessel import contents_at

ROOM = 293.15
STEEL, ALUMINIUM = 14 * 475.0, 13 * 900.0
NONE = Wall(STEEL, 0.0, 0.0)
LUMP = Wall(STEEL, 20.0, 5.0)
# gas, start [bar], stop [bar], wall, seconds, bank [bar], gas [K], wall [K], cooled [bar]
ROWS = [
    (AIR, 1, 232, NONE, 0, None, 415.34, None, 149.27),
    (AIR, 1, 232, NONE, 0, 300, 388.10, None, 161.24),
    (AIR, 1, 232, Wall(STEEL, math.inf, 0.0), 0, None, 325.33, 325.33, 200.51),
    (AIR, 1, 232, Wall(ALUMINIUM, math.inf, 0.0), 0, None, 314.54, 314.54, 209.85),
    (AIR, 1, 232, LUMP, 120, None, 357.68, 310.46, 177.70),
    (AIR, 1, 232, LUMP, 300, None, 340.40, 315.56, 189.05),
    (AIR, 1, 232, LUMP, 600, None, 330.96, 316.57, 196.03),
    (AIR, 1, 232, LUMP, 1200, None, 323.11, 314.68, 202.35),
    (AIR, 60, 232, NONE, 0, None, 378.19, None, 166.19),
    (AIR, 60, 232, NONE, 0, 300, 366.37, None, 172.60),
    (AIR, 60, 232, Wall(STEEL, math.inf, 0.0), 0, None, 317.71, 317.71, 206.99),
    (AIR, 60, 232, Wall(ALUMINIUM, math.inf, 0.0), 0, None, 309.56, 309.56, 214.53),
    (AIR, 60, 232, LUMP, 120, None, 344.64, 304.77, 186.10),
    (AIR, 60, 232, LUMP, 300, None, 330.40, 309.62, 196.47),
    (AIR, 60, 232, LUMP, 600, None, 322.63, 310.92, 202.75),
    (AIR, 60, 232, LUMP, 1200, None, 316.44, 309.72, 208.13),
    (AIR, 1, 232, NONE, 0, None, 415.59, None, 149.14),  # its mixture of N2, O2, Ar
    (parse_gas("18/45"), 1, 232, NONE, 0, None, 443.87, None, 149.15),
    (HELIUM, 1, 232, NONE, 0, None, 495.27, None, 137.98),
    (OXYGEN, 1, 30, NONE, 0, None, 402.12, None, 21.55),
]


def start_at(gas, bar, volume=0.012):
    return Warm(contents_at(gas, bar, 20.0, volume, 0.0), ROOM, ROOM)


@pytest.mark.parametrize("row", ROWS)
def test_a_row_of_the_reference(row):
    gas, from_bar, to_bar, wall, seconds, bank, gas_k, wall_k, cooled_bar = row
    feed = Feed(gas, ROOM, None if bank is None else bank * 1e5)
    way = fill(start_at(gas, from_bar), feed, wall, ROOM, to_bar * 1e5, seconds)
    assert way[-1].gas_k == pytest.approx(gas_k, abs=1.0)
    assert way[-1].contents.gauge_bar(20.0, 0.0) == pytest.approx(cooled_bar, abs=1.0)
    assert way[-1].gauge_bar(0.0) == pytest.approx(to_bar, abs=1e-5)
    assert way[-1].seconds == pytest.approx(seconds)
    if wall_k is not None:
        assert way[-1].wall_k == pytest.approx(wall_k, abs=1.0)


@pytest.mark.parametrize("row", [row for row in ROWS if row[4]])
def test_the_pace_of_the_reference_is_a_constant_rate_of_pressure(row):
    """To 0.1 K and 0.1 bar: another pace would show (constant in moles: 0.4 K and more)."""
    gas, from_bar, to_bar, wall, seconds, _, gas_k, wall_k, cooled_bar = row
    way = fill(start_at(gas, from_bar), Feed(gas, ROOM), wall, ROOM, to_bar * 1e5, seconds)
    assert way[-1].gas_k == pytest.approx(gas_k, abs=0.1)
    assert way[-1].wall_k == pytest.approx(wall_k, abs=0.05)
    assert way[-1].contents.gauge_bar(20.0, 0.0) == pytest.approx(cooled_bar, abs=0.1)


@pytest.mark.parametrize(("bar", "slope"), [(200, 0.979), (232, 1.173), (300, 1.593)])
def test_pressure_of_shut_air_per_kelvin(bar, slope):
    """Reference computation with CoolProp's air: 0.979, 1.173, 1.593 bar/K; P/T is far lower."""
    inside = start_at(AIR, bar).contents
    up, down = (pressure_and_energy(inside, ROOM + d)[0] for d in (0.5, -0.5))
    assert (up - down) / 1e5 == pytest.approx(slope, rel=5e-3)
