"""A mix and the names the trade gives it."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from blender.errors import InputError
from blender.gas import AIR, ARGON, HELIUM, OXYGEN, mix, name_of, parse_gas


def test_dry_air():  # P, IUPAC: O2 20.946, Ar 0.934 %; CO2 0.033 counted with N2 78.084
    assert AIR.fractions == (0.20946, 0.0, 0.78120, 0.00934)
    assert math.fsum(AIR.fractions) == pytest.approx(1.0, abs=1e-15)


def test_air_by_its_oxygen_alone_is_air():
    assert mix(0.20946).fractions == pytest.approx(AIR.fractions, abs=1e-12)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_mix_sums_to_one_and_its_rest_is_as_in_air(o2, share):
    gas = mix(o2, share * (1.0 - o2))
    assert math.fsum(gas.fractions) == pytest.approx(1.0, abs=1e-12)
    assert min(gas.fractions) >= 0.0
    assert gas.ar * AIR.n2 == pytest.approx(gas.n2 * AIR.ar, abs=1e-12)
    assert gas.breathable_kind


@pytest.mark.parametrize(
    ("typed", "o2", "he"),
    [
        ("air", 0.20946, 0.0),
        ("Oxygen", 1.0, 0.0),
        ("oxygen99.5", 0.995, 0.0),
        ("helium", 0.0, 1.0),
        ("EAN32", 0.32, 0.0),
        ("eanx 36", 0.36, 0.0),
        ("nitrox 32,5", 0.325, 0.0),
        ("18/45", 0.18, 0.45),
        (" 18 / 45 ", 0.18, 0.45),
        ("trimix 10/70", 0.10, 0.70),
        ("heliox 20/80", 0.20, 0.80),
        ("0.32/0", 0.32, 0.0),
        ("0.18/0.45", 0.18, 0.45),
        ("1/99", 0.01, 0.99),
    ],
)
def test_names(typed, o2, he):
    gas = parse_gas(typed)
    assert (gas.o2, gas.he) == (o2, he)


def test_industrial_oxygen_holds_argon_and_no_nitrogen():
    assert parse_gas("oxygen99.5").fractions == (0.995, 0.0, 0.0, 0.005)


def test_argon_is_not_for_breathing():
    assert not ARGON.breathable_kind
    assert all(gas.breathable_kind for gas in (AIR, OXYGEN, HELIUM, mix(0.18, 0.45)))


@pytest.mark.parametrize(
    "typed",
    ["", "EAN", "EAN132", "60/50", "heliox 20/70", "18-45", "-5/40", "EAN32x", "oxygen 200", "a/b"],
)
def test_refused(typed):
    with pytest.raises(InputError) as caught:
        parse_gas(typed, "--want")
    assert caught.value.field == "--want"


@pytest.mark.parametrize(("o2", "he"), [(-0.1, 0.0), (0.6, 0.5), (1.1, 0.0), (math.nan, 0.0)])
def test_impossible_fractions_are_refused(o2, he):
    with pytest.raises(InputError):
        mix(o2, he)


@given(st.integers(22, 98))
def test_nitrox_names_come_back(percent):
    gas = mix(percent / 100.0)
    assert name_of(gas) == f"EAN{percent}"
    assert parse_gas(name_of(gas)).fractions == pytest.approx(gas.fractions, abs=1e-12)


@given(st.integers(1, 98), st.integers(1, 98))
def test_helium_names_come_back(o2, he):
    if o2 + he > 100:
        with pytest.raises(InputError):
            parse_gas(f"{o2}/{he}")
        return
    gas = parse_gas(f"{o2}/{he}")
    assert parse_gas(name_of(gas)).fractions == pytest.approx(gas.fractions, abs=1e-12)


@given(
    st.one_of(
        st.text(max_size=60), st.text(alphabet="EANeanxheliotrm0123456789./,% \u0663", max_size=30)
    )
)
@example("EAN" + "9" * 400)
@example("0." + "0" * 400 + "1/0")
@example("oxygen" + "0" * 400)
def test_hostile_text_is_only_ever_bad_input(text):
    with contextlib.suppress(InputError):
        gas = parse_gas(text)
        assert math.fsum(gas.fractions) == pytest.approx(1.0, abs=1e-9)
