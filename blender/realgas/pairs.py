"""Named sets of pair parameters: how two unlike gases bend the mixture's reducing functions.

`published` is GERG-2008 as printed and the default.  Another set replaces some of its
pairs and says in its own data file where the numbers are from.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from blender.errors import InputError
from blender.realgas.coefficients import COEFFICIENT_FILE, FLUIDS, coefficients, read_data

PUBLISHED = "published"
_REPLACEMENT_FILES = {"helium-refit": "pairs_helium_refit.json"}
PAIR_SETS = (PUBLISHED, *_REPLACEMENT_FILES)


@dataclass(frozen=True, slots=True)
class Pair:
    """Reducing parameters of one pair: positions of its gases, then beta and gamma.

    The betas hold for `first` before `second` as written; swapped, they invert.
    """

    first: int
    second: int
    beta_v: float
    gamma_v: float
    beta_t: float
    gamma_t: float


@dataclass(frozen=True, slots=True)
class Reducing:
    """A reducing function sum x_i^2 own_i + sum x_i x_j (x_i + x_j) / (beta^2 x_i + x_j) cross.

    `cross` lists (i, j, 2 beta gamma combined_ij, beta^2).
    """

    own: tuple[float, ...]
    cross: tuple[tuple[int, int, float, float], ...]

    def __call__(self, fractions: tuple[float, ...]) -> float:
        """Return the reducing value of one mixture."""
        o2, he, n2, ar = fractions
        own = self.own
        total = o2 * o2 * own[0] + he * he * own[1] + n2 * n2 * own[2] + ar * ar * own[3]
        for i, j, factor, beta_squared in self.cross:
            x, y = fractions[i], fractions[j]
            if x and y:
                total += x * y * (x + y) / (beta_squared * x + y) * factor
        return total


def pair_set_provenance(name: str) -> str:
    """Say where a set of pair parameters is from and how far it is to be trusted.

    Parameters
    ----------
    name : str
        One of `PAIR_SETS`.

    Returns
    -------
    str
        Provenance in plain words.

    Raises
    ------
    InputError
        If there is no such set.

    Examples
    --------
    >>> pair_set_provenance("helium-refit").startswith("An estimate")
    True
    """
    _checked_name(name)
    if name == PUBLISHED:
        data = read_data(COEFFICIENT_FILE)
        return f"{data['provenance']} {data['caution']}"
    data = read_data(_REPLACEMENT_FILES[name])
    return f"{data['provenance']} {data['uncertainty']} Fitted range: {data['range_fitted']}"


@cache
def pair_parameters(name: str) -> tuple[Pair, ...]:
    """Return the six pairs of a named set.

    Parameters
    ----------
    name : str
        One of `PAIR_SETS`.

    Raises
    ------
    InputError
        If there is no such set.

    Examples
    --------
    >>> len(pair_parameters("published"))
    6
    """
    _checked_name(name)
    chosen = _read_pairs(COEFFICIENT_FILE)
    if name != PUBLISHED:
        chosen |= _read_pairs(_REPLACEMENT_FILES[name])
    return tuple(chosen.values())


@cache
def reducing_functions(name: str) -> tuple[Reducing, Reducing]:
    """Return the reducing functions of temperature [K] and of molar volume [m3/mol]."""
    fluids = coefficients().fluids
    temperature, volume = [], []
    for pair in pair_parameters(name):
        i, j = pair.first, pair.second
        one, other = fluids[i], fluids[j]
        mean_k = (one.critical_temperature_k * other.critical_temperature_k) ** 0.5
        temperature.append((i, j, 2.0 * pair.beta_t * pair.gamma_t * mean_k, pair.beta_t**2))
        roots = (f.critical_density_mol_m3 ** (-1.0 / 3.0) for f in (one, other))
        mean_m3 = sum(roots) ** 3 / 8.0
        volume.append((i, j, 2.0 * pair.beta_v * pair.gamma_v * mean_m3, pair.beta_v**2))
    own_k = tuple(fluid.critical_temperature_k for fluid in fluids)
    own_m3 = tuple(1.0 / fluid.critical_density_mol_m3 for fluid in fluids)
    return Reducing(own_k, tuple(temperature)), Reducing(own_m3, tuple(volume))


def _read_pairs(file: str) -> dict[frozenset[int], Pair]:
    """Read a file's pairs by the gases they join, whichever is written first."""
    found = {}
    for written, raw in read_data(file)["pairs"].items():
        i, j = (FLUIDS.index(name) for name in written.split("-"))
        found[frozenset((i, j))] = Pair(i, j, raw["bv"], raw["gv"], raw["bt"], raw["gt"])
    return found


def _checked_name(name: str) -> None:
    if name not in PAIR_SETS:
        raise InputError("pair parameters", repr(name), f"the sets are {', '.join(PAIR_SETS)}")
