"""The named sets of pair parameters."""

from __future__ import annotations

import pytest

from blender.errors import InputError
from blender.realgas import PAIR_SETS, Mixture, batch, pair_set_provenance
from blender.realgas.coefficients import FLUIDS
from blender.realgas.pairs import pair_parameters, reducing_functions

O2, HE, N2, AR = range(4)


def test_published_is_the_default():
    assert PAIR_SETS[0] == "published"
    fractions = (0.2, 0.8, 0.0, 0.0)
    assert Mixture(fractions).density(293.15, 2e7) == Mixture(fractions, "published").density(
        293.15, 2e7
    )


def test_unknown_set_is_refused():
    for attempt in (
        lambda: Mixture((1, 0, 0, 0), "best"),
        lambda: batch.density(300.0, 1e5, (1, 0, 0, 0), "best"),
        lambda: pair_set_provenance("best"),
    ):
        with pytest.raises(InputError, match="published, helium-refit"):
            attempt()


def test_each_set_says_where_it_is_from():
    assert "Kunz" in pair_set_provenance("published")
    assert "not fitted" in pair_set_provenance("published")
    assert "estimate" in pair_set_provenance("helium-refit")
    assert "not a published set" in pair_set_provenance("helium-refit")


def test_refit_replaces_oxygen_helium_and_argon_helium_only():
    def by_gases(name):
        return {frozenset((p.first, p.second)): p for p in pair_parameters(name)}

    published, refit = by_gases("published"), by_gases("helium-refit")
    assert len(published) == len(refit) == 6
    changed = {gases for gases in published if published[gases] != refit[gases]}
    assert changed == {frozenset((O2, HE)), frozenset((AR, HE))}


def test_nitrox_does_not_depend_on_the_set():
    air = (0.20946, 0.0, 0.78120, 0.00934)
    published, refit = (Mixture(air, pairs).density(293.15, 232e5) for pairs in PAIR_SETS)
    assert published == refit


def _cross_virial(one: int, other: int, share: float, pairs: str) -> float:
    """B12 [cm3/mol] that the mixture's B implies, with `share` of the second gas."""

    def b(x_one: float, x_other: float) -> float:
        fractions = [0.0] * 4
        fractions[one], fractions[other] = x_one, x_other
        return Mixture(fractions, pairs).second_virial(298.0) * 1e6

    x = 1.0 - share
    return (b(x, share) - x * x * b(1.0, 0.0) - share * share * b(0.0, 1.0)) / (2.0 * x * share)


@pytest.mark.parametrize(
    ("gas", "share_of_helium", "expected"),
    [
        (O2, 0.1, 18.3), (O2, 0.3, 17.8), (O2, 0.5, 16.8), (O2, 0.7, 16.4), (O2, 0.8, 16.9),
        (O2, 0.9, 18.0), (AR, 0.1, 16.6), (AR, 0.5, 17.1), (AR, 0.8, 17.9), (AR, 0.9, 19.0),
    ],
)  # fmt: skip
def test_refit_has_the_cross_virial_it_was_made_for(gas, share_of_helium, expected):
    """Values found when the set was made, with another program; they tell beta from 1/beta."""
    b12 = _cross_virial(gas, HE, share_of_helium, "helium-refit")
    assert b12 == pytest.approx(expected, abs=0.1)


def test_cross_virial_of_the_published_set():
    """21.3 cm3/mol for O2-He, far from 17.3 +- 0.6 out of diffusion coefficients."""
    assert _cross_virial(O2, HE, 0.5, "published") == pytest.approx(21.3, abs=0.3)


def test_half_and_half_cylinder_that_would_decide():
    """Z at 200 bar and 293.15 K: 1.100 published, 1.081 refit."""
    published, refit = (
        Mixture((0.5, 0.5, 0.0, 0.0), pairs).compressibility(293.15, 200e5) for pairs in PAIR_SETS
    )
    assert published == pytest.approx(1.100, abs=0.0006)
    assert refit == pytest.approx(1.081, abs=0.0006)


def test_beta_inverts_when_the_pair_is_written_the_other_way():
    """N2-He is written with nitrogen first; with 1/beta helium first gives the same."""
    temperature, _ = reducing_functions("published")
    pair = next(p for p in pair_parameters("published") if {p.first, p.second} == {N2, HE})
    assert (FLUIDS[pair.first], FLUIDS[pair.second]) == ("N2", "He")
    x_n2, x_he = 0.3, 0.7
    swapped = 1.0 / pair.beta_t
    mean_k = (temperature.own[N2] * temperature.own[HE]) ** 0.5
    by_hand = (
        x_n2**2 * temperature.own[N2]
        + x_he**2 * temperature.own[HE]
        + 2.0 * x_he * x_n2 * swapped * pair.gamma_t / (swapped**2 * x_he + x_n2) * mean_k
    )
    assert temperature((0.0, x_he, x_n2, 0.0)) == pytest.approx(by_hand, rel=1e-14)
