"""What the worked scenarios say happens to who goes by the wrong figure, and figures beside theirs.

Made for this project with an independent GERG-2008 (pyaga8), as the scenarios are; numbers S1 to
S12 are theirs.  Stops within 0.05 bar, fractions within 0.01 points, amounts within 0.1 %.
"""

from __future__ import annotations

import pytest

from blender.gas import AIR, OXYGEN, mix, parse_gas
from blender.humidity import AirState
from blender.units import bar_to_pa, bar_to_psi, f_to_c
from blender.vessel import added_to_reach, contents_at
from tests.planning.test_scenarios import FLOW, STAGE, adds, answer, bar, done, mol, point
from tui.commands.depth import answer as depth

PSI_BAR = 0.0689475729316836
CUFT_80 = 80.0 * 28.316846592 * 14.7 / 3014.7 / 1000.0  # rated free air at working pressure [m3]


@pytest.mark.parametrize(
    ("want", "true_reading", "set_on_damp_air", "oxygen_share"),
    [("220bar:EAN32", 34.509, 35.168, 17.566), ("220bar:EAN36", 39.557, 40.313, 23.920)],
)
def test_a_meter_set_on_the_damp_air(want, true_reading, set_on_damp_air, oxygen_share):
    """S5: set to 20.946 on that air it shows more than a true meter, by the water."""
    (flow,) = done(answer(want=want, **{**FLOW, "rated_intake": "41%"}), "flow")
    assert flow["intake_reading"] == point(true_reading)
    dry = 1.0 - AirState(25.0, 0.6).water(101325.0)
    assert flow["intake_reading"] / dry == point(set_on_damp_air)
    assert flow["oxygen_l_min"] / 200.0 == point(oxygen_share)


def test_litres_of_free_gas():
    """S5: 83.022 mol are 1997.099 L at 20 C and one atmosphere (ideal, from R)."""
    (flow,) = done(answer(want="220bar:EAN32", **FLOW), "flow")
    assert flow["amount_mol"] * 8.314462618 * 293.15 / 101.325 == mol(1997.099)


def test_the_dry_figure_held_in_the_damp_stream():
    """S5, trap: 35.051 held as the true reading makes an intake of 35.597, a cylinder of 32.429."""
    water = AirState(25.0, 0.6).water(bar_to_pa(1.01325))
    held = 0.35051
    oxygen = (held / (1.0 - water) - AIR.o2) / (1.0 - held)  # to a mole of dry air
    dry = (AIR.o2 + oxygen) / (1.0 + oxygen)
    assert dry == point(35.597)
    begun = contents_at(AIR, 45.0, 20.0, 0.012)
    full = begun.with_gas(mix(dry), added_to_reach(begun, mix(dry), 220.0, 20.0))
    assert full.mix.o2 == point(32.429)


def test_the_oxygen_of_the_cascade():
    """S7: 28.730 mol of it go in before the air."""
    oxygen, _ = adds(answer(**STAGE, supply=["o=oxygen99.5"]))
    assert (oxygen["amount_mol"], oxygen["to_bar"]) == (mol(28.730), bar(89.536))


def test_depths_of_what_came_out():
    """S8: 34.794 % is good to 30.236 m at 1.4; S11: 50 % believed to be 28, filled on, 26.753 m."""
    assert depth("0.34794/0")["mod_m"] == pytest.approx(30.236, abs=2e-3)
    held = contents_at(parse_gas("EAN50"), 60.0, 20.0, 0.012)
    oxygen = held.with_gas(OXYGEN, added_to_reach(held, OXYGEN, 84.425, 20.0))
    full = oxygen.with_gas(AIR, added_to_reach(oxygen, AIR, 230.0, 20.0))
    assert full.mix.o2 == point(38.092)
    assert depth(f"{full.mix.o2:.6f}/0")["mod_m"] == pytest.approx(26.753, abs=5e-3)


def test_the_cold_stops_read_on_the_hot_gas():
    """S9 (a), trap: 32.182 %, and it settles at 2740.936 psi; at 131 F the right fill has 3503."""
    begun = contents_at(AIR, 700.0 * PSI_BAR, f_to_c(75.0), CUFT_80)
    assert begun.total_mol == mol(22.264)
    stops = ((OXYGEN, 1086.833, 80.0), (AIR, 3000.0, 105.0))
    full = begun
    for gas, psi, fahrenheit in stops:
        at_c = f_to_c(fahrenheit)
        full = full.with_gas(gas, added_to_reach(full, gas, psi * PSI_BAR, at_c))
    assert full.mix.o2 == point(32.182)
    assert bar_to_psi(full.gauge_bar(f_to_c(70.0))) == pytest.approx(2740.936, abs=0.7)
    right = contents_at(parse_gas("EAN32"), 3000.0 * PSI_BAR, f_to_c(70.0), CUFT_80)
    assert bar_to_psi(right.gauge_bar(f_to_c(131.0))) == pytest.approx(3503.067, abs=0.7)


def test_topped_blindly_after_a_leak():
    """S10, trap: mixed gas was lost down to 78.0 bar at 12 C; topped with air, 31.520 %."""
    left = contents_at(mix(0.49126), 78.0, 12.0, 0.012)
    full = left.with_gas(AIR, added_to_reach(left, AIR, 230.0, 20.0))
    assert full.mix.o2 == point(31.520)
