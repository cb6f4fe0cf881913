"""The terms of all four gases gathered by their exponents, for the scalar and the batch path.

alpha(delta, tau) = sum over (c, d) of A_cd delta^d exp(-delta^c), with
A_cd = sum over t of (sum of x_i n_i) tau^t: 21 groups where term by term there would be 60.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from blender.realgas.coefficients import coefficients


@dataclass(frozen=True, slots=True)
class TauPower:
    """One tau^t of a group: t in eighths (all are whole), and (gas, n) of each gas having it."""

    eighths: int
    shares: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Group:
    """All terms with one delta^d exp(-delta^c)."""

    c: int
    d: int
    powers: tuple[TauPower, ...]


@cache
def term_groups() -> tuple[Group, ...]:
    """Return the groups, ascending by c and then by d.

    Examples
    --------
    >>> len(term_groups())
    21
    """
    gathered: dict[tuple[int, int], dict[int, list[tuple[int, float]]]] = {}
    for gas, fluid in enumerate(coefficients().fluids):
        for term in fluid.terms:
            eighths = int(term.t * 8.0)
            assert eighths == term.t * 8.0
            by_power = gathered.setdefault((term.c, term.d), {})
            by_power.setdefault(eighths, []).append((gas, term.n))
    return tuple(
        Group(c, d, tuple(TauPower(e, tuple(shares)) for e, shares in sorted(by_power.items())))
        for (c, d), by_power in sorted(gathered.items())
    )


@cache
def tau_exponents() -> tuple[int, ...]:
    """Return every exponent of tau in use, in eighths, ascending.

    Examples
    --------
    >>> tau_exponents()[:4]
    (0, 1, 2, 3)
    """
    return tuple(sorted({power.eighths for group in term_groups() for power in group.powers}))


@cache
def groups_by_c() -> tuple[tuple[int, tuple[tuple[int, int], ...]], ...]:
    """Return per c the pairs (position, d) of its groups.

    Examples
    --------
    >>> groups_by_c()[-1]
    (6, ((18, 5), (19, 6), (20, 7)))
    """
    groups = term_groups()
    return tuple(
        (c, tuple((k, g.d) for k, g in enumerate(groups) if g.c == c))
        for c in sorted({g.c for g in groups})
    )
