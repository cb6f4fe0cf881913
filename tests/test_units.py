"""Every conversion, and the reading of quantities as people type them."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from blender import units
from blender.errors import InputError

finite = st.floats(-1e6, 1e6)


@given(finite)
def test_conversions_come_back(value):
    assert units.pa_to_bar(units.bar_to_pa(value)) == pytest.approx(value, rel=1e-14)
    assert units.k_to_c(units.c_to_k(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)
    assert units.f_to_c(units.c_to_f(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)
    assert units.m_to_ft(value) * units.M_PER_FT == pytest.approx(value, rel=1e-14)
    assert units.bar_to_psi(value) == pytest.approx(units.pa_to_psi(units.bar_to_pa(value)))


@pytest.mark.parametrize(
    ("ours", "exact"),
    [
        (units.PA_PER_PSI, 6894.757293168),  # NIST SP 811, appendix B (M): 6.894 757 E+03
        (units.PA_PER_MMHG, 133.322387415),  # NIST SP 811, appendix B (M): 133.3224
        (units.M3_PER_CUFT, 0.028316846592),  # exact by definition of the foot
        (units.PA_PER_ATM, 101_325.0),  # exact by definition
    ],
)
def test_factors(ours, exact):
    assert ours == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize(
    ("water_in3", "psi", "printed_ft3"),
    [(673, 3000, 79.87), (680, 3000, 80.70), (730, 2475, 71.55), (730, 3000, 86.63)],
)
def test_published_cylinder_table(water_in3, psi, printed_ft3):
    """Published specification table (P): rated = V (P + 14.7) / 14.7."""
    volume_in3 = units.rated_volume_m3(printed_ft3, psi) / 0.0254**3
    # The printed figure is rounded or cut to 0.01 ft3, which is 0.085 in3 of water.
    assert volume_in3 == pytest.approx(water_in3, abs=0.1)


def test_80_cubic_feet_at_3000_psi():  # D, scenario of an imperial fill: 11.046 L
    assert units.parse_size("80cuft@3000psi").litres == pytest.approx(11.046, abs=5e-4)


class TestTheComma:
    @pytest.mark.parametrize(
        ("typed", "value"),
        [
            ("12,5", 12.5),
            ("12.5", 12.5),
            ("0,32", 0.32),
            (",5", 0.5),
            (" 7 ", 7.0),
            ("1.250", 1.25),
        ],
    )
    def test_is_decimal(self, typed, value):
        assert units.parse_number(typed, "x") == value

    @pytest.mark.parametrize("typed", ["1,234", "12,500", "-1,234", "0,320", "999,999"])
    def test_is_refused_before_exactly_three_digits(self, typed):
        with pytest.raises(InputError, match="ambiguous"):
            units.parse_number(typed, "x")

    @pytest.mark.parametrize(
        "typed", ["1.234,5", "1,234.5", "1 234", "1,2,3", "1e3", "inf", "nan", "", "٣٢", "5٫5"]
    )
    def test_never_guesses(self, typed):
        with pytest.raises(InputError):
            units.parse_number(typed, "x")

    @given(st.integers(0, 999), st.integers(0, 9999))
    def test_point_and_comma_agree_or_the_comma_is_refused(self, whole, decimals):
        digits = str(decimals)
        if len(digits) == 3:
            with pytest.raises(InputError):
                units.parse_number(f"{whole},{digits}", "x")
            return
        point = units.parse_number(f"{whole}.{digits}", "x")
        assert units.parse_number(f"{whole},{digits}", "x") == point


@given(st.floats(0.0, 498.9))  # the last digit of the psi must not pass the limit
def test_typed_pressures_come_back(bar):
    typed = f"{bar:.6f}"
    assert units.parse_gauge_pressure(f"{typed}bar") == float(typed)
    psi = f"{units.bar_to_psi(bar):.6f}"
    assert units.parse_gauge_pressure(f"{float(psi):.6f} psi") == pytest.approx(bar, abs=1e-6)


@given(st.floats(-20.0, 60.0))
def test_typed_temperatures_come_back(celsius):
    typed = f"{celsius:.4f}"
    assert units.parse_temperature(f"{typed}C") == float(typed)
    fahrenheit = f"{min(max(units.c_to_f(celsius), -4.0), 140.0):.6f}"
    assert units.parse_temperature(f"{fahrenheit}F") == pytest.approx(celsius, abs=1e-6)


@pytest.mark.parametrize(
    ("typed", "bar"),
    [
        ("230bar", 230.0),
        ("23MPa", 230.0),
        ("3000psi", 206.8427),
        ("0 bar", 0.0),
        ("74,5 Bar", 74.5),
    ],
)
def test_gauge_pressures(typed, bar):
    assert units.parse_gauge_pressure(typed) == pytest.approx(bar, abs=5e-5)


@pytest.mark.parametrize(
    ("parse", "typed"),
    [
        (units.parse_gauge_pressure, "230"),
        (units.parse_gauge_pressure, "-1bar"),
        (units.parse_gauge_pressure, "500bar"),
        (units.parse_gauge_pressure, "3,000psi"),
        (units.parse_ambient, "1.01325"),
        (units.parse_ambient, "2bar"),
        (units.parse_temperature, "20"),
        (units.parse_temperature, "61C"),
        (units.parse_temperature, "-21C"),
        (units.parse_flow, "0L/min"),
        (units.parse_flow, "200"),
        (units.parse_size, "12"),
        (units.parse_size, "0x12L"),
        (units.parse_size, "2000L"),
        (units.parse_size, "80cuft"),
    ],
)
def test_refused(parse, typed):
    with pytest.raises(InputError) as caught:
        parse(typed, "the-field")
    assert caught.value.field == "the-field"
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    ("typed", "count", "litres"), [("12L", 1, 12.0), ("2x12L", 2, 24.0), ("2 X 8,5 l", 2, 17.0)]
)
def test_sizes(typed, count, litres):
    size = units.parse_size(typed)
    assert (size.count, size.litres) == (count, litres)
    assert size.volume_m3 == pytest.approx(litres / 1000.0)


def test_lengths_keep_the_unit_typed():
    assert units.parse_length("100ft", "at", 0.0, 350.0) == (pytest.approx(30.48), "ft")
    assert units.parse_length("30 msw", "at", 0.0, 350.0) == (30.0, "m")


PARSERS = [
    lambda text: units.parse_number(text, "x"),
    units.parse_gauge_pressure,
    units.parse_ambient,
    units.parse_temperature,
    lambda text: units.parse_length(text, "x", 0.0, 350.0),
    lambda text: units.parse_percent(text, "x"),
    units.parse_flow,
    units.parse_size,
]
# Letters of real quantities, so that hostile text gets past the first test more often.
nearly = st.text(
    alphabet="0123456789.,+-xX@% barpsiMPLmftCFKcu/e\u0661\u00b2\u00b0\x00\n", max_size=40
)


@given(st.one_of(st.text(max_size=80), nearly))
@example("9" * 400)
@example("9" * 400 + "bar")
@example("0cuft@0psi")
@example("[@click=app.quit]x[/]")
def test_hostile_text_is_only_ever_bad_input(text):
    for parse in PARSERS:
        with contextlib.suppress(InputError):
            result = parse(text)
            assert not isinstance(result, float) or math.isfinite(result)
