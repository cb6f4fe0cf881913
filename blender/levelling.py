"""Cylinders opened to each other on a manifold: gas flows over until their pressures are equal."""

from __future__ import annotations

from collections.abc import Sequence

from blender.vessel import (
    STANDARD_AMBIENT_BAR,
    Contents,
    added_to_reach,
    amount_for_pressure,
    root,
)

_SMALL_MOL = 1e-8


def level(
    spaces: Sequence[Contents],
    temperature_c: float,
    ambient_bar: float = STANDARD_AMBIENT_BAR,
) -> tuple[float, list[Contents]]:
    """Gas spaces opened to each other: gas flows until their pressures are equal.

    Those that end lower than they began give gas of their own mix; it mixes in the manifold
    and goes into the others.  Nothing flows back.

    Parameters
    ----------
    spaces : sequence of Contents
        What each holds before.
    temperature_c : float
        Temperature of all of them [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar].

    Returns
    -------
    tuple of float and list of Contents
        The gauge pressure of all [bar], and what each holds then, in the order given.

    Examples
    --------
    >>> from blender.gas import parse_gas
    >>> from blender.vessel import contents_at
    >>> low = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    >>> high = contents_at(parse_gas("EAN50"), 100.0, 20.0, 0.012)
    >>> pressure, (low, high) = level([low, high], 20.0)
    >>> round(pressure, 3), round(low.mix.o2, 5), round(high.mix.o2, 5)
    (80.045, 0.33497, 0.5)
    """
    shown = [space.gauge_bar(temperature_c, ambient_bar) for space in spaces]

    def after(gauge_bar: float) -> list[Contents]:
        given = [
            _given(space, gauge_bar, temperature_c, ambient_bar) if was > gauge_bar else 0.0
            for space, was in zip(spaces, shown, strict=True)
        ]
        stream = _stream(spaces, given, first=shown.index(max(shown)))
        return [
            space.kept(1.0 - gone / space.total_mol)
            if was >= gauge_bar
            else space.with_gas(
                stream.mix, added_to_reach(space, stream.mix, gauge_bar, temperature_c, ambient_bar)
            )
            for space, was, gone in zip(spaces, shown, given, strict=True)
        ]

    total = sum(space.total_mol for space in spaces)

    def excess(gauge_bar: float) -> float:
        return sum(space.total_mol for space in after(gauge_bar)) - total

    found = root(excess, min(shown), max(shown), _SMALL_MOL)
    return found, after(found)


def _given(space: Contents, gauge_bar: float, temperature_c: float, around: float) -> float:
    """Return what a space gives until it shows a lower pressure [mol]; rounding gives nothing."""
    left = amount_for_pressure(
        space.mix, gauge_bar, temperature_c, space.volume_m3, around, space.pairs
    )
    return max(space.total_mol - left, 0.0)


def _stream(spaces: Sequence[Contents], given: Sequence[float], first: int) -> Contents:
    """Return the gas in the manifold; before any has flowed, that of the highest pressure."""
    if sum(given) <= 0.0:
        return spaces[first]
    together = Contents((0.0, 0.0, 0.0, 0.0), 1.0, spaces[first].pairs)
    for space, gone in zip(spaces, given, strict=True):
        together = together.with_gas(space.mix, gone)
    return together
