"""Amounts from balances alone: no equation of state is asked."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blender.gas import AIR, HELIUM, OXYGEN, Mix, mix, parse_gas
from blender.planning.solve import Mixing, exact_amounts, nearest_amounts

GASES = (HELIUM, OXYGEN, AIR)
NOTHING_IN = 1e-9  # an empty cylinder, as good as


@pytest.mark.parametrize(
    ("total", "o2", "air", "expected"),
    [
        # An ideal gas counts pressures as amounts: derived by arithmetic, O2 = P (f - a)/(1 - a).
        (200.0, 0.32, 0.209, 28.0657),
        (200.0, 0.32, 0.21, 27.8481),
        (3000.0, 0.36, 0.21, 569.62),
    ],
)
def test_ideal_oxygen_stop(total, o2, air, expected):
    top = Mix(air, 0.0, 1.0 - air, 0.0)
    mixing = Mixing(NOTHING_IN, top, 1.0, (OXYGEN, top))
    (found,) = exact_amounts(mixing, o2, 0.0, total)
    assert found.added_mol[0] == pytest.approx(expected, abs=5e-3)


@pytest.mark.parametrize(
    ("have", "o2_before", "o2_after", "total", "gas"),
    [
        # US Navy Diving Manual, raising and lowering oxygen in a helium mix, from memory:
        # 1000 psi 16 -> 20 % by 50 psi of oxygen; 20 -> 16 % by 250 psi of helium.
        (1000.0, 0.16, 0.20, 1050.0, OXYGEN),
        (1000.0, 0.20, 0.16, 1250.0, HELIUM),
    ],
)
def test_ideal_correction_of_heliox(have, o2_before, o2_after, total, gas):
    residual = mix(o2_before, 1.0 - o2_before)
    mixing = Mixing(have, residual, 0.01, (OXYGEN, HELIUM))
    found = exact_amounts(mixing, o2_after, 1.0 - o2_after, total)[0]
    assert found.kept == 1.0
    assert found.added_mol[0 if gas is OXYGEN else 1] == pytest.approx(total - have, rel=1e-9)


def test_drains_no_more_than_needed():
    mixing = Mixing(89.383, parse_gas("EAN40"), 0.01, GASES)
    found = exact_amounts(mixing, 0.32, 0.0, 97.476)[0]
    o2 = found.kept * 89.383 * 0.40 + found.added_mol[2] * AIR.o2
    assert found.added_mol[:2] == (0.0, 0.0)
    assert o2 == pytest.approx(0.32 * 97.476)


def test_fewest_gases_are_preferred():
    bank = parse_gas("EAN32")
    mixing = Mixing(20.0, bank, 0.01, (OXYGEN, bank, AIR))
    solutions = exact_amounts(mixing, 0.32, 0.0, 90.0)
    assert solutions[0].added_mol == (0.0, pytest.approx(70.0), 0.0)
    assert len(solutions) > 1  # oxygen and air would do as well


def test_what_is_full_can_only_be_drained():
    mixing = Mixing(100.0, parse_gas("EAN32"), 0.01, GASES)
    assert exact_amounts(mixing, 0.32, 0.0, 50.0)[0].kept == pytest.approx(0.5)


def test_cannot_be_emptied_further():
    mixing = Mixing(100.0, AIR, 0.9, GASES)
    assert exact_amounts(mixing, 0.32, 0.0, 50.0) == []
    assert nearest_amounts(mixing, 0.32, 0.0, 50.0) is None


fractions = st.floats(0.0, 1.0)


@given(
    residual=st.builds(lambda a, b: mix(a, b * (1 - a)), fractions, fractions),
    target=st.builds(lambda a, b: (a, b * (1 - a)), fractions, fractions),
    have=st.floats(0.1, 100.0),
    total=st.floats(1.0, 200.0),
    least=st.floats(0.001, 1.0),
)
def test_balances_hold_and_nearest_is_no_worse(residual, target, have, total, least):
    mixing = Mixing(have, residual, least, GASES)
    o2, he = target
    exact = exact_amounts(mixing, o2, he, total)
    nearest = None if exact else nearest_amounts(mixing, o2, he, total)
    for found in exact:
        left = found.kept * have
        a_he, a_o2, a_air = found.added_mol
        assert min(found.added_mol) >= 0.0
        assert least - 1e-12 <= found.kept <= 1.0 + 1e-12
        assert left + a_he + a_o2 + a_air == pytest.approx(total, rel=1e-9)
        made = left * residual.o2 + a_o2 + a_air * AIR.o2
        assert made == pytest.approx(o2 * total, abs=1e-9 * total)
        assert left * residual.he + a_he == pytest.approx(he * total, abs=1e-9 * total)
    if nearest is None:
        return
    # No single gas, with the most or the least kept, comes nearer.
    miss = max(abs(nearest.o2 - o2), abs(nearest.he - he))
    for gas in GASES:
        for kept in mixing.kept_range(total):
            left = kept * have
            one = (left * residual.o2 + (total - left) * gas.o2) / total
            two = (left * residual.he + (total - left) * gas.he) / total
            assert miss <= max(abs(one - o2), abs(two - he)) + 1e-12
