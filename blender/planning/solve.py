"""Which amounts of which gases make a mix: exactly, or as nearly as can be.

For a total N the residual kept (a fraction k) and the amounts a_i of the gases let in obey
three balances, of O2, of helium and of the total:

    k r + sum of a_i g_i = N t,    least_kept <= k <= 1,    a_i >= 0

which is a small linear programme.  As little as possible is drained: k is made largest, so
a solution has at most three unknowns that are not at a bound, and all of them are tried.
What can be reached at all is, in the plane of O2 and He, the convex hull of "residual plus
one gas alone" with the most and with the least kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from blender.gas import Mix

# Amounts this small, as a fraction of the total, are rounding and nothing else.
NOTHING = 1e-10
_SINGULAR = 1e-9

Row = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Mixing:
    """What there is to mix: the residual, how far it may be drained, and the gases.

    Parameters
    ----------
    residual_mol : float
        Amount of gas in the cylinder [mol].
    residual : Mix
        That gas.
    least_kept : float
        Fraction of it that stays when the cylinder is emptied to the ambient pressure [1].
    gases : tuple of Mix
        The gases that can be let in, no two alike.
    most_kept : float
        Largest fraction that may stay [1].
    """

    residual_mol: float
    residual: Mix
    least_kept: float
    gases: tuple[Mix, ...]
    most_kept: float = 1.0

    def kept_range(self, total_mol: float) -> tuple[float, float]:
        """Return the least and the largest fraction kept that fit into a total [mol].

        Parameters
        ----------
        total_mol : float
            The total wanted [mol].

        Returns
        -------
        tuple of float
            Least and largest [1]; the largest is below the least if nothing fits.
        """
        return self.least_kept, min(self.most_kept, total_mol / self.residual_mol)


@dataclass(frozen=True, slots=True)
class Amounts:
    """A solution: the fraction of the residual kept [1] and the amount of each gas [mol]."""

    kept: float
    added_mol: tuple[float, ...]


def exact_amounts(mixing: Mixing, o2: float, he: float, total_mol: float) -> list[Amounts]:
    """Amounts that make a mix exactly, best first.

    The best drains least; then uses the fewest gases; then the least rich in oxygen.

    Parameters
    ----------
    mixing : Mixing
        What there is to mix.
    o2, he : float
        Wanted mole fractions [1].
    total_mol : float
        Wanted total amount [mol].

    Returns
    -------
    list of Amounts
        Empty if the mix cannot be made exactly.

    Examples
    --------
    >>> from blender.gas import AIR, OXYGEN, parse_gas
    >>> mixing = Mixing(30.497, parse_gas("EAN28"), 0.017, (OXYGEN, AIR))
    >>> [round(a, 3) for a in exact_amounts(mixing, 0.32, 0.0, 110.030)[0].added_mol]
    [12.664, 66.869]
    """
    least, most = mixing.kept_range(total_mol)
    if most < least:
        return []
    target = (o2 * total_mol, he * total_mol, total_mol)
    for found in (
        _with_kept(mixing, target, most),
        _with_some_kept(mixing, target, least, most),
        _with_kept(mixing, target, least),
    ):
        solutions = sorted(found, key=lambda amounts: _preference(mixing, amounts))
        if solutions:
            return solutions
    return []


def _preference(mixing: Mixing, amounts: Amounts) -> tuple[float, int, float]:
    used = [gas for gas, mol in zip(mixing.gases, amounts.added_mol, strict=True) if mol > 0.0]
    return (-round(amounts.kept, 12), len(used), max((gas.o2 for gas in used), default=0.0))


def _with_kept(mixing: Mixing, target: Row, kept: float) -> Iterator[Amounts]:
    """Yield the solutions with a given fraction kept."""
    left = mixing.residual_mol * kept
    rest = (
        target[0] - left * mixing.residual.o2,
        target[1] - left * mixing.residual.he,
        target[2] - left,
    )
    for chosen in _choices(mixing, 3):
        columns = [_column(mixing.gases[i]) for i in chosen]
        solved = _solve(columns, rest, target[2])
        if solved is not None and all(mol > NOTHING * target[2] for mol in solved):
            yield Amounts(kept, _spread(mixing, chosen, solved))


def _with_some_kept(mixing: Mixing, target: Row, least: float, most: float) -> Iterator[Amounts]:
    """Yield the solutions in which the fraction kept is an unknown."""
    residual = _column(mixing.residual)
    for chosen in _choices(mixing, 2):
        columns = [residual, *(_column(mixing.gases[i]) for i in chosen)]
        solved = _solve(columns, target, target[2])
        if solved is not None and all(mol > NOTHING * target[2] for mol in solved):
            kept = solved[0] / mixing.residual_mol
            if least <= kept <= most:
                yield Amounts(kept, _spread(mixing, chosen, solved[1:]))


def _choices(mixing: Mixing, most: int) -> Iterator[tuple[int, ...]]:
    for count in range(most + 1):
        yield from combinations(range(len(mixing.gases)), count)


def _column(gas: Mix) -> Row:
    return (gas.o2, gas.he, 1.0)


def _spread(mixing: Mixing, chosen: Sequence[int], mol: Sequence[float]) -> tuple[float, ...]:
    amounts = [0.0] * len(mixing.gases)
    for i, value in zip(chosen, mol, strict=True):
        amounts[i] = value
    return tuple(amounts)


def _solve(columns: Sequence[Row], target: Row, scale: float) -> list[float] | None:
    """Solve up to three columns for three balances; None if they cannot meet them.

    Gauss-Jordan with full row pivoting; balances left over must be met by themselves.
    """
    rows = [[column[i] for column in columns] + [target[i]] for i in range(3)]
    count = len(columns)
    for j in range(count):
        pivot = max(range(j, 3), key=lambda i: abs(rows[i][j]))
        if abs(rows[pivot][j]) < _SINGULAR:
            return None
        rows[j], rows[pivot] = rows[pivot], rows[j]
        head = rows[j]
        for i in range(3):
            if i != j and rows[i][j]:
                factor = rows[i][j] / head[j]
                rows[i] = [a - factor * b for a, b in zip(rows[i], head, strict=True)]
    if any(abs(rows[i][count]) > NOTHING * scale for i in range(count, 3)):
        return None
    return [rows[j][count] / rows[j][j] for j in range(count)]


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest mix that can be made: its fractions [1] and amounts."""

    o2: float
    he: float
    amounts: Amounts


def nearest_amounts(mixing: Mixing, o2: float, he: float, total_mol: float) -> Nearest | None:
    """Amounts for the mix nearest to one that cannot be made exactly.

    The larger of the O2 and He misses is made smallest, then the other, then the drain.

    Parameters
    ----------
    mixing : Mixing
        What there is to mix.
    o2, he : float
        Wanted mole fractions [1].
    total_mol : float
        Wanted total amount [mol].

    Returns
    -------
    Nearest or None
        None if the residual cannot be drained as far as the total asks.

    Examples
    --------
    >>> from blender.gas import AIR, OXYGEN, parse_gas
    >>> mixing = Mixing(0.291, AIR, 1.0, (parse_gas("oxygen99.5"),))
    >>> round(nearest_amounts(mixing, 1.0, 0.0, 46.279).o2, 4)
    0.9901
    """
    least, most = mixing.kept_range(total_mol)
    if most < least or not mixing.gases:
        return None
    corners = [
        _corner(mixing, i, kept, total_mol)
        for kept in (most, least)
        for i in range(len(mixing.gases))
    ]
    best: tuple[float, float, Nearest] | None = None
    for one, other in combinations([*corners, corners[0]], 2):
        for share in _shares(one, other, o2, he):
            point = _between(one, other, share)
            misses = sorted((abs(point.o2 - o2), abs(point.he - he)), reverse=True)
            if (
                best is None
                or (misses[0], misses[1]) < (best[0] - 1e-13, best[1] - 1e-13)
                or (misses[0] < best[0] - 1e-13)
            ):
                best = (misses[0], misses[1], point)
    assert best is not None  # there are at least two corners, so one pair
    found = best[2]
    exact = exact_amounts(mixing, found.o2, found.he, total_mol)
    return Nearest(found.o2, found.he, exact[0]) if exact else found


def _corner(mixing: Mixing, i: int, kept: float, total_mol: float) -> Nearest:
    """Return what results from the residual kept and gas `i` alone."""
    left = kept * mixing.residual_mol
    rest = max(total_mol - left, 0.0)
    gas, residual = mixing.gases[i], mixing.residual
    return Nearest(
        (left * residual.o2 + rest * gas.o2) / total_mol,
        (left * residual.he + rest * gas.he) / total_mol,
        Amounts(kept, _spread(mixing, (i,), (rest,))),
    )


def _between(one: Nearest, other: Nearest, share: float) -> Nearest:
    def mean(a: float, b: float) -> float:
        return a + share * (b - a)

    mol = zip(one.amounts.added_mol, other.amounts.added_mol, strict=True)
    amounts = Amounts(mean(one.amounts.kept, other.amounts.kept), tuple(mean(a, b) for a, b in mol))
    return Nearest(mean(one.o2, other.o2), mean(one.he, other.he), amounts)


def _shares(one: Nearest, other: Nearest, o2: float, he: float) -> Iterator[float]:
    """Yield where on a line the larger miss, or the other, can be smallest.

    Those are the ends, and where a miss is zero or both are equal.
    """
    yield from (0.0, 1.0)
    at_o2, at_he = one.o2 - o2, one.he - he
    step_o2, step_he = other.o2 - one.o2, other.he - one.he
    for start, step in (
        (at_o2, step_o2),
        (at_he, step_he),
        (at_o2 - at_he, step_o2 - step_he),
        (at_o2 + at_he, step_o2 + step_he),
    ):
        if step:
            share = -start / step
            if 0.0 < share < 1.0:
                yield share
