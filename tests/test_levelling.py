"""Cylinders opened to each other: nothing is lost, all end alike, whatever their order."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.gas import mix, parse_gas
from blender.levelling import level
from blender.vessel import Contents, contents_at, levelled


@st.composite
def _spaces(draw: st.DrawFn) -> Contents:
    helium = draw(st.sampled_from([0.0, 0.2, 0.45]))
    oxygen = draw(st.floats(0.1, 0.5))
    pressure = draw(st.floats(0.5, 230.0))
    return contents_at(mix(oxygen, helium), pressure, 20.0, draw(st.sampled_from([0.007, 0.012])))


def test_the_lower_of_two_takes_the_gas_of_the_higher() -> None:
    low = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    high = contents_at(parse_gas("EAN50"), 100.0, 20.0, 0.012)
    # Worked out beforehand with an independent implementation of the equation of state.
    pressure, (first, second) = level([low, high], 20.0)
    assert pressure == pytest.approx(80.045, abs=5e-4)
    assert first.mix.o2 == pytest.approx(0.33497, abs=5e-6)
    assert second.mix.o2 == pytest.approx(0.5, abs=1e-12)
    assert first.total_mol - low.total_mol == pytest.approx(10.158, abs=5e-4)


@settings(max_examples=25, deadline=None)
@given(st.lists(_spaces(), min_size=2, max_size=3))
def test_amounts_are_kept_and_pressures_made_equal(spaces: list[Contents]) -> None:
    pressure, after = level(spaces, 20.0)
    for part in range(4):
        before = sum(space.amounts_mol[part] for space in spaces)
        assert sum(s.amounts_mol[part] for s in after) == pytest.approx(before, abs=1e-6)
    for was, now in zip(spaces, after, strict=True):
        assert now.gauge_bar(20.0) == pytest.approx(pressure, abs=1e-6)
        if was.gauge_bar(20.0) > pressure + 1e-6:
            assert now.mix.o2 == pytest.approx(was.mix.o2, abs=1e-12)
    shown = [space.gauge_bar(20.0) for space in spaces]
    assert min(shown) - 1e-6 <= pressure <= max(shown) + 1e-6


@settings(max_examples=15, deadline=None)
@given(st.lists(_spaces(), min_size=3, max_size=3), st.permutations(range(3)))
def test_the_order_they_are_named_in_does_not_matter(
    spaces: list[Contents], order: list[int]
) -> None:
    pressure, after = level(spaces, 20.0)
    again, turned = level([spaces[n] for n in order], 20.0)
    assert again == pytest.approx(pressure, abs=1e-7)
    for place, number in enumerate(order):
        assert turned[place].amounts_mol == pytest.approx(after[number].amounts_mol, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(_spaces(), _spaces())
def test_two_are_as_two_on_a_whip(one: Contents, other: Contents) -> None:
    _, after = level([one, other], 20.0)
    for ours, theirs in zip(after, levelled(one, other, 20.0), strict=True):
        assert ours.amounts_mol == pytest.approx(theirs.amounts_mol, abs=1e-6)


def test_alike_cylinders_stay_as_they_are() -> None:
    space = contents_at(parse_gas("EAN32"), 50.0, 20.0, 0.012)
    pressure, after = level([space, space, space], 20.0)
    assert pressure == pytest.approx(50.0, abs=1e-6)
    assert [s.total_mol for s in after] == pytest.approx([space.total_mol] * 3, abs=1e-9)


def test_alike_but_for_rounding_they_stay_as_they_are() -> None:
    spaces = [
        Contents((23.094081181672454, 0.0, 23.11382940926331, 0.2763481396345613), 0.012),
        Contents((7.886558681005643, 0.0, 18.734752454012913, 0.22399204802928901), 0.007),
        Contents(
            (7.697705229104128, 5.185822470133307, 12.891454865909903, 0.15412978551919926), 0.007
        ),
    ]
    pressure, after = level(spaces, 20.0)
    assert pressure == pytest.approx(90.928226, abs=1e-6)
    for was, now in zip(spaces, after, strict=True):
        assert now.amounts_mol == pytest.approx(was.amounts_mol, abs=1e-6)
