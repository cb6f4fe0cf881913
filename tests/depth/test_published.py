"""Figures printed by others (P, S), derived from a printed formula (D), trade practice (T)."""

from __future__ import annotations

import pytest

from blender.atmosphere import (
    HANDBOOK,
    IMPERIAL_HANDBOOK,
    METRIC_HANDBOOK,
    ambient_pa,
    geopotential_m,
    place,
    standard_pressure_pa,
    true_place,
)
from blender.depth import (
    best_o2,
    density_g_l,
    ead,
    end,
    floor,
    limits_from_readings,
    mnd,
    mod,
    ppo2_at,
)
from blender.exposure import NOAA_EXPOSURE_MIN, exposure_limits_min
from blender.gas import AIR, OXYGEN, mix
from blender.rounding import deeper, round_down, shallower
from blender.units import M3_PER_CUFT, PSI_ATM, rated_volume_m3

FSW, MSW = IMPERIAL_HANDBOOK, METRIC_HANDBOOK


class TestNavyManual:
    """US Navy Diving Manual, revision 4, change A."""

    def test_ambient_pressure_at_132_fsw_is_5_ata(self):  # P, p. 12-2
        assert FSW.pressure(132.0) == pytest.approx(5.0, abs=1e-12)

    def test_nitrogen_pressure_of_68_percent_at_63_fsw(self):  # P, p. 10-2: 2.0 ata
        assert round(0.68 * FSW.pressure(63.0), 1) == 2.0

    def test_oxygen_for_1_2_ata_at_231_fsw_is_15_percent(self):  # P inputs, D answer, p. 12-5
        assert best_o2(1.2, 231.0, FSW) == pytest.approx(0.15, abs=1e-12)

    def test_2000_psig_is_137_ata(self):  # P, p. 2-12.1
        assert round((2000.0 + PSI_ATM) / PSI_ATM) == 137

    def test_consumption_at_95_fsw(self):  # P, p. 8-3: 1.4 acfm for 7 min is 38.01 scf
        assert round(FSW.pressure(95.0) * 1.4 * 7.0, 2) == 38.01

    def test_pressure_that_holds_66_39_scf(
        self,
    ):  # P, p. 8-3: 0.399 ft3, 2580.95 psig with 135 left
        volume = rated_volume_m3(66.39, 2580.95 - 135.0 - PSI_ATM) / M3_PER_CUFT
        assert round(volume, 3) == 0.399


# D from the printed formula with k = 33 fsw, 10 msw; 32 % 111 ft and 36 % 28.9 m are printed (S).
MOD_TABLE = [
    (0.21, 187.00, 218.43, 56.67, 66.19),
    (0.28, 132.00, 155.57, 40.00, 47.14),
    (0.32, 111.38, 132.00, 33.75, 40.00),
    (0.36, 95.33, 113.67, 28.89, 34.44),
    (0.40, 82.50, 99.00, 25.00, 30.00),
    (0.50, 59.40, 72.60, 18.00, 22.00),
    (1.00, 13.20, 19.80, 4.00, 6.00),
]


@pytest.mark.parametrize(("o2", "fsw14", "fsw16", "msw14", "msw16"), MOD_TABLE)
def test_mod_table(o2, fsw14, fsw16, msw14, msw16):
    got = [mod(mix(o2), p, c) for c in (FSW, MSW) for p in (1.4, 1.6)]
    # Half a unit of the last printed digit: 111.375 is printed 111.38.
    assert got == pytest.approx([fsw14, fsw16, msw14, msw16], abs=0.005 + 1e-9)


def test_mod_printed_for_32_and_36_percent():  # S
    assert shallower(mod(mix(0.32), 1.4, FSW)) == 111
    assert round(mod(mix(0.36), 1.4, MSW), 1) == 28.9


@pytest.mark.parametrize(("o2", "printed_fsw"), [(0.32, 130), (0.36, 110)])
def test_noaa_nitrox_limits_are_ours_in_tens_of_feet(o2, printed_fsw):  # S: NOAA Nitrox I and II
    assert round_down(mod(mix(o2), 1.6, FSW), 10.0) == printed_fsw


def test_best_mix_for_30_msw_is_35_percent():  # D
    assert best_o2(1.4, 30.0, MSW) == pytest.approx(0.35, abs=1e-12)


class TestEquivalentDepths:
    def test_36_percent_at_27_m_is_20_m(self):  # S
        assert deeper(ead(mix(0.36), 27.0, MSW)) == 20

    def test_32_percent_at_33_m_is_27_0_m(self):  # S, printed to a decimal; ours goes deeper
        depth = ead(mix(0.32), 33.0, MSW)
        assert round(depth, 1) == 27.0
        assert deeper(depth) == 28

    def test_32_percent_at_100_ft_is_81_5_ft(self):  # D
        assert round(ead(mix(0.32), 100.0, FSW), 1) == 81.5

    def test_air_is_the_depth_itself_and_not_30_03(self):  # D
        assert ead(AIR, 30.0, MSW) == 30.0
        assert end(AIR, 30.0, MSW, oxygen_narcotic=False) == 30.0
        assert mnd(AIR, MSW, oxygen_narcotic=False) == 30.0

    def test_both_conventions_of_end(self):  # D: 18/45 at 60 m
        assert end(mix(0.18, 0.45), 60.0, MSW) == pytest.approx(0.55 * 70 - 10, abs=1e-9)
        without = end(mix(0.18, 0.45), 60.0, MSW, oxygen_narcotic=False)
        assert without == pytest.approx(0.37 / 0.79 * 70 - 10, abs=1e-9)

    @pytest.mark.parametrize("narcotic", [True, False])
    @pytest.mark.parametrize("column", [MSW, FSW])
    def test_mnd_is_where_end_reaches_the_limit(self, column, narcotic):  # D
        gas = mix(0.18, 0.45)
        limit = {"m": 30.0, "ft": 100.0}[column.depth_unit]
        assert end(gas, mnd(gas, column, narcotic), column, narcotic) == pytest.approx(limit)


class TestFloor:
    @pytest.mark.parametrize(("ppo2", "metres"), [(0.16, 6), (0.18, 8)])
    def test_10_70(self, ppo2, metres):  # D; both ppO2 are in print (T)
        depth = floor(mix(0.10, 0.70), MSW, ppo2)
        assert depth == pytest.approx(metres, abs=1e-9)
        assert deeper(depth) == metres

    @pytest.mark.parametrize(("ppo2", "metres"), [(0.18, 14.294), (0.16, 11.595)])
    def test_gas_held_after_helium(self, ppo2, metres):  # D: 7.409 % oxygen
        assert floor(mix(0.07409, 0.77067), MSW, ppo2) == pytest.approx(metres, abs=0.005)

    def test_18_percent_reaches_the_surface(self):  # D
        assert floor(mix(0.18, 0.45), MSW) == 0.0


class TestExposure:
    """NOAA oxygen exposure table, single and 24 h [min]; S."""

    ROWS = (
        "0.60 720 720, 0.70 570 570, 0.80 450 450, 0.90 360 360, 1.00 300 300, 1.10 240 270, "
        "1.20 210 240, 1.30 180 210, 1.40 150 180, 1.50 120 180, 1.60 45 150"
    )

    def test_table(self):
        rows = [tuple(float(x) for x in row.split()) for row in self.ROWS.split(", ")]
        assert list(NOAA_EXPOSURE_MIN) == rows

    @pytest.mark.parametrize(
        ("ppo2", "limits"),
        [
            (0.599, (None, None)),
            (0.6, (720, 720)),
            (0.61, (570, 570)),
            (1.28, (180, 210)),
            (1.4, (150, 180)),
            (0.28 * 5.0, (150, 180)),  # 1.4000000000000001 in binary
            (1.401, (120, 180)),
            (1.6, (45, 150)),
            (1.601, (None, None)),
        ],
    )
    def test_next_higher_printed(self, ppo2, limits):
        assert exposure_limits_min(ppo2) == limits


class TestAtmosphere:
    """Standard atmosphere, ISO 2533 / ICAO Doc 7488."""

    @pytest.mark.parametrize(("altitude_m", "pa"), [(1000.0, 89_876.3), (2000.0, 79_501.4)])
    def test_geometric_altitude(self, altitude_m, pa):  # S
        assert round(ambient_pa(altitude_m), 1) == pa

    @pytest.mark.parametrize(("geopotential", "pa"), [(11_000.0, 22_632.0), (1000.0, 89_874.6)])
    def test_geopotential_altitude(self, geopotential, pa):  # S, D
        assert round(standard_pressure_pa(geopotential), 1) == pa

    def test_sea_level(self):
        assert ambient_pa(0.0) == 101_325.0
        assert geopotential_m(0.0) == 0.0

    def test_feet_of_sea_water_are_33_to_the_atmosphere(self):
        # P: 3070.5 Pa by 33 fsw = 1 atm (3064.3 by weight is in print too); 1 msw = 10 kPa.
        assert round(FSW.unit_bar * 1e5 / FSW.head, 1) == 3070.5
        assert MSW.unit_bar * 1e5 / MSW.head == 10_000.0

    def test_true_depths(self):  # D: 32 % at 1.4 bar
        gas = mix(0.32)
        assert round(mod(gas, 1.4, true_place(79_500.0, 1000.0).metric), 2) == 36.51
        assert round(mod(gas, 1.4, place("salt", None).metric), 2) == 33.28
        assert round(mod(gas, 1.4, place("fresh", 0.0).metric), 2) == 34.28

    def test_altitude_alone_counts_as_salt(self):
        assert place(None, 2000.0).metric == place("salt", 2000.0).metric


class TestDensity:
    """Dry air, D; limits of Anthony and Mitchell 2016, from memory (M)."""

    @pytest.mark.parametrize(
        ("bar", "celsius", "printed"),
        [(1.0, 0.0, 1.2754), (1.01325, 0.0, 1.2923), (1.01325, 15.0, 1.2250)],
    )
    def test_air(self, bar, celsius, printed):
        assert round(density_g_l(AIR, bar, celsius), 4) == printed

    @pytest.mark.parametrize(("limit", "metres"), [(5.2, 31), (6.2, 39)])
    def test_limits_are_air_at_31_and_39_m(self, limit, metres):
        assert round(MSW.depth(limit / density_g_l(AIR, 1.0))) == metres

    def test_against_an_equation_of_state(self):
        # CoolProp's air at 0 degC, 1 bar is denser than an ideal gas by 0.06 %: bound 0.1 %.
        prop = pytest.importorskip("CoolProp.CoolProp")
        real = prop.PropsSI("D", "T", 273.15, "P", 1e5, "Air")
        assert density_g_l(AIR, 1.0) == pytest.approx(real, rel=1e-3)


class TestScenarios:
    """The same figures worked by hand (D) for whole fills."""

    def test_repeat_fill(self):
        readings = [0.321, 0.318]
        agreed, high = limits_from_readings(readings), limits_from_readings(readings, 1.6)
        assert round(agreed["mod_m"], 3) == 33.614
        assert shallower(agreed["mod_m"]) == 33
        assert round(agreed["mod_ft"], 3) == 110.925
        assert shallower(agreed["mod_ft"]) == 110
        assert round(high["mod_m"], 3) == 39.844
        assert shallower(high["mod_m"]) == 39
        air_depth = ead(mix(0.321), 33.0, MSW)
        assert round(air_depth, 3) == 26.958
        assert deeper(air_depth) == 27

    def test_the_lower_reading_would_have_printed_34(self):
        assert shallower(limits_from_readings([0.318])["mod_m"]) == 34

    def test_floor_comes_from_the_lowest_reading(self):
        assert limits_from_readings([0.10, 0.12])["floor_m"] == pytest.approx(8.0, abs=1e-9)

    @pytest.mark.parametrize(
        ("o2", "metres"), [(0.18, 67.778), (0.991, None), (0.32095, 33.621), (0.32, 33.75)]
    )
    def test_mod_at_1_4(self, o2, metres):
        if metres is None:  # oxygen of 99.1 % at 1.6
            assert round(mod(mix(o2), 1.6, MSW), 3) == 6.145
        else:
            assert round(mod(mix(o2), 1.4, MSW), 3) == metres

    def test_misread_at_altitude(self):
        depth = mod(mix(0.25107), 1.4, MSW)
        assert round(depth, 3) == 45.761
        assert round(ppo2_at(mix(0.32), 45.0, MSW), 3) == 1.760
        assert round(mod(mix(0.32), 1.4, true_place(79_500.0, 1000.0).metric), 3) == 36.506

    def test_oxygen_at_1_6_is_6_m(self):
        assert shallower(mod(OXYGEN, 1.6, HANDBOOK.metric)) == 6
