"""Laws a fill cannot break, and independent integrations of the same law."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from blender.errors import InputError, ModelRangeError
from blender.gas import AIR, ARGON, HELIUM, OXYGEN, Mix, parse_gas
from blender.heat import filling
from blender.heat.filling import Feed, fill
from blender.heat.state import Warm
from blender.heat.wall import Wall
from blender.vessel import Contents, contents_at
from tests.heat.independent import Aga, Air, Cylinder, adiabatic_from_bank
from tests.heat.test_reference import LUMP, NONE, ROOM, STEEL, start_at

R = 8.314462618


@pytest.mark.parametrize("gas", [ARGON, HELIUM])
@pytest.mark.parametrize(("from_bar", "to_bar"), [(0.02, 0.5), (0.1, 0.5), (0.4, 0.5)])
def test_a_thin_gas_of_single_atoms_follows_the_closed_form(gas, from_bar, to_bar):
    """T2 = g T0 / (1 + (g T0/T1 - 1) P1/P2) with g = 5/3: the ideal gas, any textbook."""
    way = fill(start_at(gas, from_bar), Feed(gas, ROOM), NONE, ROOM, to_bar * 1e5, 0.0)
    expected = 5 / 3 * ROOM / (1 + (5 / 3 - 1) * from_bar / to_bar)
    assert way[-1].gas_k == pytest.approx(expected, abs=0.3)


def test_a_thin_gas_shares_its_heat_with_perfect_metal():
    """Ideal gas: n1 cv T0 + m cp T0 + C T0 = (n1 + m) cv T + C T, solved for T."""
    capacity, to_pa, volume = 2.0, 0.5e5, 0.012
    start = start_at(ARGON, 0.1)
    way = fill(start, Feed(ARGON, ROOM), Wall(capacity, math.inf, 0.0), ROOM, to_pa, 0.0)
    n1, n2 = start.contents.total_mol, way[-1].contents.total_mol
    warm = (1.5 * R * n1 + 2.5 * R * (n2 - n1) + capacity) * ROOM / (1.5 * R * n2 + capacity)
    assert way[-1].gas_k == way[-1].wall_k == pytest.approx(warm, abs=0.1)
    assert n2 == pytest.approx(to_pa * volume / (R * warm), rel=2e-3)


@pytest.mark.parametrize(
    ("have", "gas", "from_bar", "to_bar", "bank_bar"),
    [
        ("EAN28", "air", 60, 232, 300),
        ("air", "oxygen", 1, 60, 200),
        ("EAN32", "helium", 40, 120, 200),
        ("18/45", "EAN40", 100, 232, 250),
        ("heliox 20/80", "air", 150, 200, 400),
    ],
)
def test_any_mix_without_heat_loss_from_a_bank(have, gas, from_bar, to_bar, bank_bar):
    """Against the algebra n2 u2 - n1 u1 = h (n2 - n1) in pyaga8's GERG-2008: no march at all."""
    first, second = parse_gas(have), parse_gas(gas)

    def made(n1, n2):
        share = n1 / n2
        return Aga([share * a + (1 - share) * b
                    for a, b in zip(first.fractions, second.fractions, strict=True)])  # fmt: skip

    hot = adiabatic_from_bank(
        Aga(first.fractions), Aga(second.fractions), made, 0.012, ROOM,
        from_bar * 1e5, to_bar * 1e5, bank_bar * 1e5,
    )  # fmt: skip
    feed = Feed(second, ROOM, bank_bar * 1e5)
    way = fill(start_at(first, from_bar), feed, NONE, ROOM, to_bar * 1e5, 0.0)
    assert way[-1].gas_k == pytest.approx(hot, abs=1e-4)


@pytest.mark.parametrize(("from_bar", "to_bar"), [(1, 232), (60, 232), (100, 300), (5, 50)])
def test_air_without_heat_loss_from_a_bank_live(from_bar, to_bar):
    """Against CoolProp's air of Lemmon 2000, computed now."""
    air = Air()
    hot = adiabatic_from_bank(
        air, air, lambda *_: air, 0.012, ROOM, from_bar * 1e5, to_bar * 1e5, 310e5
    )
    feed = Feed(AIR, ROOM, 310e5)
    way = fill(start_at(AIR, from_bar), feed, NONE, ROOM, to_bar * 1e5, 0.0)
    assert way[-1].gas_k == pytest.approx(hot, abs=0.5)


@pytest.mark.parametrize("inside", [0.0, 20.0])
def test_air_at_the_cylinders_own_pressure_live(inside):
    """Against Runge-Kutta in CoolProp's air of Lemmon 2000, computed now."""
    other = Cylinder(Air(), 0.012, STEEL, inside, 5.0, ROOM, 60e5)
    other.fill(232e5, 240.0, 100)
    wall = Wall(STEEL, inside, 5.0)
    way = fill(start_at(AIR, 60), Feed(AIR, ROOM), wall, ROOM, 232e5, 240.0)
    assert way[-1].gas_k == pytest.approx(other.warm, abs=0.5)
    assert way[-1].wall_k == pytest.approx(other.wall, abs=0.1)


@pytest.mark.parametrize("gas", ["air", "EAN32", "18/45", "oxygen", "helium"])
def test_the_march_against_another_integration(gas):
    """Runge-Kutta on explicit rates in pyaga8's GERG-2008: the same model, so within 0.03 K."""
    mix = parse_gas(gas)
    other = Cylinder(Aga(mix.fractions), 0.012, STEEL, 30.0, 6.0, ROOM, 40e5)
    other.fill(200e5, 300.0)
    way = fill(start_at(mix, 40), Feed(mix, ROOM), Wall(STEEL, 30.0, 6.0), ROOM, 200e5, 300.0)
    assert way[-1].gas_k == pytest.approx(other.warm, abs=0.03)
    assert way[-1].wall_k == pytest.approx(other.wall, abs=0.01)
    assert way[-1].contents.total_mol == pytest.approx(other.moles, rel=1e-4)


def test_finer_steps_change_nothing_that_matters(monkeypatch):
    def ends():
        for gas, from_bar, to_bar, seconds in (
            (AIR, 1, 30, 60), (AIR, 1, 230, 30), (AIR, 60, 230, 300), (HELIUM, 1, 230, 60),
        ):  # fmt: skip
            feed = Feed(gas, ROOM)
            way = fill(start_at(gas, from_bar), feed, LUMP, ROOM, to_bar * 1e5, seconds)
            yield way[-1].gas_k

    coarse = list(ends())
    monkeypatch.setattr(filling, "STEP_PA", filling.STEP_PA / 8)
    monkeypatch.setattr(filling, "STEP_S", filling.STEP_S / 8)
    assert coarse == pytest.approx(list(ends()), abs=0.05)


@st.composite
def mixes(draw):
    o2, share = draw(st.floats(0.0, 1.0)), draw(st.floats(0.0, 1.0))
    he = share * (1.0 - o2)
    return Mix(o2, he, (1.0 - o2 - he) * 0.95, (1.0 - o2 - he) * 0.05)


@given(
    have=mixes(), gas=mixes(), from_bar=st.floats(0.6, 250.0), rise=st.floats(0.5, 200.0),
    inside=st.floats(0.0, 500.0) | st.just(math.inf), outside=st.floats(0.0, 100.0),
    capacity=st.floats(500.0, 3e4), seconds=st.floats(0.0, 2000.0),
    cold=st.floats(263.15, 323.15), room=st.floats(263.15, 323.15), bank=st.booleans(),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_energy_and_gas_are_conserved(
    have, gas, from_bar, rise, inside, outside, capacity, seconds, cold, room, bank
):
    """Gas by pyaga8, metal and loss by hand: what came in is there, in the metal, or outside."""
    feed = Feed(gas, room, 480e5 if bank else None)
    wall = Wall(capacity, inside, outside)
    start = Warm(contents_at(have, from_bar, cold - 273.15, 0.012, 0.0), cold, cold)
    try:
        way = fill(start, feed, wall, room, (from_bar + rise) * 1e5, seconds)
    except ModelRangeError:
        assume(False)

    def energy(state):
        inside_gas = state.contents
        model = Aga(inside_gas.mix.fractions)
        density = inside_gas.total_mol / inside_gas.volume_m3
        pascal, u, _ = model.dense(state.gas_k, density)
        assert pascal == pytest.approx(state.pressure_pa, rel=1e-9)
        return inside_gas.total_mol * u + capacity * state.wall_k

    def enthalpy(state):
        return Aga(gas.fractions).at(room, 480e5 if bank else state.pressure_pa)[2]

    brought = lost = 0.0
    for one, then in itertools.pairwise(way):
        let_in = then.contents.total_mol - one.contents.total_mol
        brought += 0.5 * (enthalpy(one) + enthalpy(then)) * let_in
        lost += (then.seconds - one.seconds) * outside * (0.5 * (one.wall_k + then.wall_k) - room)
    let_in = way[-1].contents.total_mol - start.contents.total_mol
    scale = way[-1].contents.total_mol * R * 300.0 + capacity * 10.0
    assert energy(way[-1]) - energy(start) + lost == pytest.approx(brought, abs=1e-6 * scale)
    for k, part in enumerate(gas.fractions):
        expected = start.contents.amounts_mol[k] + let_in * part
        assert way[-1].contents.amounts_mol[k] == pytest.approx(expected, rel=1e-9, abs=1e-12)


@given(
    inside=st.floats(0.1, 200.0), outside=st.floats(0.1, 50.0), seconds=st.floats(30.0, 1500.0),
    from_bar=st.floats(1.0, 150.0),
)  # fmt: skip
@settings(max_examples=20, deadline=None)
def test_more_time_and_more_metal_make_it_cooler(inside, outside, seconds, from_bar):
    def ends(wall, seconds, bank=None):
        feed = Feed(AIR, ROOM, bank)
        return fill(start_at(AIR, from_bar), feed, wall, ROOM, 232e5, seconds)[-1].gas_k

    here = ends(Wall(STEEL, inside, outside), seconds)
    assert ends(Wall(STEEL, inside, outside), 2.0 * seconds) < here
    assert ends(Wall(2.0 * STEEL, inside, outside), seconds) < here
    assert ends(Wall(STEEL, 2.0 * inside, outside), seconds) < here
    assert ends(Wall(STEEL, inside, outside), seconds, 300e5) < here
    assert ends(NONE, seconds) > here > ROOM


def test_an_endless_fill_stays_at_the_temperature_of_the_room():
    way = fill(start_at(AIR, 60), Feed(AIR, ROOM), Wall(STEEL, 500.0, 500.0), ROOM, 232e5, 14400.0)
    assert way[-1].gas_k == pytest.approx(ROOM, abs=0.1)


def test_what_cannot_be_filled_is_told():
    with pytest.raises(InputError, match=r"60\.00 bar it holds"):
        fill(start_at(AIR, 60), Feed(AIR, ROOM), LUMP, ROOM, 59e5, 60.0)
    with pytest.raises(ModelRangeError, match="fill slower"):
        fill(start_at(HELIUM, 1), Feed(HELIUM, 320.0), NONE, ROOM, 232e5, 0.0)
    with pytest.raises(ModelRangeError, match="fill slower"):
        fill(start_at(OXYGEN, 300), Feed(OXYGEN, ROOM), NONE, ROOM, 600e5, 0.0)


def test_the_start_may_be_nearly_empty():
    nearly = Warm(Contents((1e-4, 0.0, 4e-4, 0.0), 0.012), ROOM, ROOM)
    way = fill(nearly, Feed(AIR, ROOM), NONE, ROOM, 232e5, 0.0)
    assert way[-1].gas_k == pytest.approx(415.6, abs=1.5)
