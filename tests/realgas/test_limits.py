"""What lies outside the range of the model is refused on both paths, by name."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.errors import ModelRangeError
from blender.realgas import Mixture, batch
from blender.realgas.limits import MAX_DENSITY_MOL_M3, MAX_PRESSURE_PA

AIR = (0.20946, 0.0, 0.78120, 0.00934)
NAN, INF = math.nan, math.inf


@pytest.mark.parametrize("temperature_k", [229.99, 500.01, 0.0, -1.0, NAN, INF, -INF])
def test_temperature_out_of_range(temperature_k):
    for call in (
        lambda: Mixture(AIR).density(temperature_k, 1e5),
        lambda: Mixture(AIR).pressure(temperature_k, 40.0),
        lambda: Mixture(AIR).compressibility(temperature_k, 1e5),
        lambda: Mixture(AIR).second_virial(temperature_k),
        lambda: Mixture(AIR).internal_energy(temperature_k, 40.0),
        lambda: Mixture(AIR).enthalpy(temperature_k, 40.0),
        lambda: Mixture(AIR).isochoric_heat_capacity(temperature_k, 40.0),
        lambda: batch.density([300.0, temperature_k], 1e5, AIR),
        lambda: batch.pressure([300.0, temperature_k], 40.0, AIR),
        lambda: batch.second_virial([300.0, temperature_k], AIR),
        lambda: batch.Isotherm(AIR, temperature_k),
    ):
        with pytest.raises(ModelRangeError, match=r"temperature.*230 to 500 K"):
            call()


@pytest.mark.parametrize("pressure_pa", [-1e-9, -1e5, MAX_PRESSURE_PA * 1.0001, NAN, INF, -INF])
def test_pressure_out_of_range(pressure_pa):
    for call in (
        lambda: Mixture(AIR).density(300.0, pressure_pa),
        lambda: Mixture(AIR).compressibility(300.0, pressure_pa),
        lambda: batch.density(300.0, [1e5, pressure_pa], AIR),
        lambda: batch.compressibility(300.0, [1e5, pressure_pa], AIR),
        lambda: batch.Isotherm(AIR, 300.0).density([1e5, pressure_pa]),
    ):
        with pytest.raises(ModelRangeError, match=r"pressure.*0 to 500 bar"):
            call()


@pytest.mark.parametrize("density", [-1e-9, 17_500.0, MAX_DENSITY_MOL_M3 * 1.01, 1e9, NAN, INF])
def test_density_out_of_range(density):
    """Air at 300 K reaches 500 bar at 15.2 kmol/m3."""
    for name in ("pressure", "internal_energy", "enthalpy", "isochoric_heat_capacity"):
        with pytest.raises(ModelRangeError, match="density"):
            getattr(Mixture(AIR), name)(300.0, density)
        with pytest.raises(ModelRangeError, match="density"):
            getattr(batch, name)(300.0, [40.0, density], AIR)
    with pytest.raises(ModelRangeError, match="density"):
        batch.Isotherm(AIR, 300.0).pressure([40.0, density])


@pytest.mark.parametrize(
    "fractions",
    [
        (0.2, 0.0, 0.7, 0.0),
        (0.5, 0.5, 0.5, -0.5),
        (1.0 + 1e-6, -1e-6, 0.0, 0.0),
        (NAN, 0.0, 1.0, 0.0),
        (INF, 0.0, 0.0, 0.0),
        (0.5, 0.5, 0.0),
        (0.2, 0.2, 0.2, 0.2, 0.2),
        (),
    ],
)
def test_fractions_that_are_no_mixture(fractions):
    for call in (
        lambda: Mixture(fractions),
        lambda: batch.density(300.0, 1e5, fractions),
        lambda: batch.Isotherm(fractions, 300.0),
    ):
        with pytest.raises(ModelRangeError, match="mole fractions"):
            call()


def test_message_names_the_state():
    t = [300.0] * 9000 + [600.0]
    with pytest.raises(ModelRangeError, match=r"600.0 K \(state 9000\)"):
        batch.density(t, 1e5, AIR)


def test_what_rounding_leaves_below_zero_is_zero():
    dusty = (1.0, -1e-17, 0.0, 0.0)
    assert Mixture(dusty).fractions == (1.0, 0.0, 0.0, 0.0)
    assert batch.density(300.0, 1e5, dusty)[0] == batch.density(300.0, 1e5, (1, 0, 0, 0))[0]


def test_density_at_the_pressure_limit_is_accepted_back():
    for temperature_k in (230.0, 300.0, 500.0):
        density = Mixture(AIR).density(temperature_k, MAX_PRESSURE_PA)
        assert Mixture(AIR).pressure(temperature_k, density) == pytest.approx(MAX_PRESSURE_PA)


parts = st.tuples(*[st.floats(0.0, 1.0)] * 4).filter(lambda p: sum(p) > 1e-3)


@settings(deadline=None, derandomize=True)
@given(
    parts,
    st.floats(230.0, 500.0),
    st.floats(0.0, MAX_PRESSURE_PA),
    st.floats(0.0, MAX_PRESSURE_PA),
    st.sampled_from(("published", "helium-refit")),
)
def test_density_rises_with_pressure(part, temperature_k, one_pa, other_pa, pairs):
    mixture = Mixture([p / sum(part) for p in part], pairs)
    low, high = sorted((one_pa, other_pa))
    at_low, at_high = (mixture.density(temperature_k, p) for p in (low, high))
    if high > low * (1.0 + 1e-9):
        assert at_low < at_high
    assert mixture.pressure(temperature_k, at_high) == pytest.approx(high, rel=1e-10)
