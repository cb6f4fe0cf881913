"""The hot stop settles right: executed in an independent integration and equation of state."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.errors import InputError, ModelRangeError, NoFillError
from blender.gas import AIR, HELIUM, parse_gas
from blender.heat.filling import Feed
from blender.heat.panel import check_bank, check_panel, shut_early, stages
from blender.heat.state import Warm
from blender.heat.stop import HeatedFill, hot_stop
from blender.heat.wall import Wall
from blender.vessel import contents_at
from tests.executor import pressure_bar
from tests.heat.independent import Aga, Cylinder
from tests.heat.test_reference import LUMP, ROOM, STEEL, start_at


def asked(gas=AIR, have=None, from_bar=60.0, want_bar=232.0, seconds=300.0, wall=LUMP, bank=None):
    start = start_at(have or gas, from_bar)
    feed = Feed(gas, ROOM, None if bank is None else bank * 1e5)
    return HeatedFill(start, feed, wall, ROOM, seconds, want_bar * 1e5, ROOM)


@pytest.mark.parametrize("gas", ["air", "EAN32", "18/45"])
@pytest.mark.parametrize(("from_bar", "seconds"), [(60, 300), (2, 600), (100, 60)])
def test_a_fill_shut_at_the_stop_settles_at_the_pressure_wanted(gas, from_bar, seconds):
    """Filled by Runge-Kutta in pyaga8's GERG-2008 to our stop: 200 bar at 20 degC, to 0.1 bar."""
    mix = parse_gas(gas)
    stop = hot_stop(asked(mix, from_bar=from_bar, want_bar=200.0, seconds=seconds))[-1]
    other = Cylinder(Aga(mix.fractions), 0.012, STEEL, 20.0, 5.0, ROOM, from_bar * 1e5)
    other.fill(stop.pressure_pa, seconds, 800)
    settled = Aga(mix.fractions).dense(ROOM, other.moles / 0.012)[0]
    assert settled == pytest.approx(200e5, abs=1e4)
    assert stop.gas_k == pytest.approx(other.warm, abs=0.1)


@given(
    from_bar=st.floats(1.0, 150.0), rise=st.floats(1.0, 150.0), seconds=st.floats(30.0, 3000.0),
    inside=st.floats(0.0, 200.0), outside=st.floats(0.0, 50.0), settle=st.floats(278.15, 308.15),
    have=st.sampled_from(["air", "EAN28", "EAN50", "18/45"]),
    gas=st.sampled_from(["air", "EAN32", "oxygen99.5", "helium"]),
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_any_stop_settles_right(from_bar, rise, seconds, inside, outside, settle, have, gas):
    fill = asked(parse_gas(gas), parse_gas(have), from_bar, from_bar + rise, seconds)
    fill = replace(fill, wall=Wall(STEEL, inside, outside), settle_k=settle)
    try:
        way = hot_stop(fill)
    except InputError as error:
        assert error.exit_code == 2
        return
    inside_gas = way[-1].contents
    shown = pressure_bar(inside_gas.amounts_mol, settle - 273.15, 12.0)
    assert shown == pytest.approx(from_bar + rise, abs=1e-3)
    assert way[-1].seconds == pytest.approx(seconds)


def test_a_fill_in_a_colder_room_than_where_it_counts_stops_below():
    """Nothing says that a stop is above the wanted pressure: here it must not be."""
    cold = 273.15
    start = Warm(contents_at(AIR, 100.0, 0.0, 0.012, 0.0), cold, cold)
    slow = HeatedFill(
        start, Feed(AIR, cold), Wall(STEEL, 500.0, 500.0), cold, 3600.0, 200e5, 303.15
    )
    stop = hot_stop(slow)[-1]
    assert stop.pressure_pa < 195e5
    assert stop.contents.gauge_bar(30.0, 0.0) == pytest.approx(200.0, abs=1e-3)


def test_nothing_to_let_in_is_told():
    with pytest.raises(InputError) as caught:
        hot_stop(asked(from_bar=232.0))
    assert caught.value.field == "--want"
    assert "it holds already" in caught.value.allowed


def test_a_stop_out_of_range_is_told():
    with pytest.raises(ModelRangeError, match="fill slower, in stages") as caught:
        hot_stop(asked(HELIUM, from_bar=1.0, want_bar=300.0, wall=Wall(STEEL, 0.0, 0.0)))
    assert caught.value.field == "--want"


def test_above_the_panels_maximum_is_refused_with_stages_that_stay_below():
    fill = asked()
    stop = hot_stop(fill)[-1]
    check_panel(fill, stop, stop.gauge_bar(0.0), 0.0)
    with pytest.raises(NoFillError):
        check_panel(fill, stop, stop.gauge_bar(0.0) - 0.01, 0.0)
    with pytest.raises(NoFillError) as caught:
        check_panel(fill, stop, 250.0, 0.0)
    assert caught.value.code == "panel-max"
    first, second = caught.value.alternatives
    assert first["kind"] == "in-stages"
    rows = first["stages"]
    assert len(rows) == 2
    assert rows[0]["stop_bar"] == pytest.approx(250.0, abs=1e-4)
    assert rows[1]["stop_bar"] < 250.0
    early = shut_early(fill, stop, 250e5).contents
    assert second["settled_bar"] == pytest.approx(early.gauge_bar(20.0, 0.0), abs=1e-6)


def test_the_stages_done_elsewhere_end_at_the_pressure_wanted():
    """Filled, rested and filled again by Runge-Kutta in pyaga8's GERG-2008."""
    fill = asked()
    found = stages(fill, 250.0, 0.0)
    other = Cylinder(Aga(AIR.fractions), 0.012, STEEL, 20.0, 5.0, ROOM, 60e5)
    before = 0.0
    for stage in found:
        other.fill(stage.stop.pressure_pa, stage.stop.seconds - before)
        assert other.warm == pytest.approx(stage.stop.gas_k, abs=0.1)
        before = stage.rested.seconds
        other.rest(before - stage.stop.seconds, 2000)
        assert other.pascal == pytest.approx(stage.rested.pressure_pa, abs=2e4)
    assert Aga(AIR.fractions).dense(ROOM, other.moles / 0.012)[0] == pytest.approx(232e5, abs=1e4)


def test_no_stages_where_none_help():
    assert stages(asked(), 200.0, 0.0) == ()
    assert stages(replace(asked(), wall=Wall(STEEL, 20.0, 0.0)), 250.0, 0.0) == ()
    fill = asked()
    with pytest.raises(NoFillError) as caught:
        check_panel(fill, hot_stop(fill)[-1], 50.0, 0.0)
    assert caught.value.alternatives == []


def test_a_bank_below_the_stop_is_refused():
    fill = asked(bank=250.0)
    with pytest.raises(NoFillError) as caught:
        check_bank(fill, hot_stop(fill)[-1], 0.0)
    assert caught.value.code == "bank-low"
    (other,) = caught.value.alternatives
    assert 200.0 < other["settled_bar"] < 232.0
    enough = asked(bank=300.0)
    check_bank(enough, hot_stop(enough)[-1], 0.0)
    check_bank(asked(), hot_stop(asked())[-1], 0.0)
