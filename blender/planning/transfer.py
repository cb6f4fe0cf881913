"""Gas let over from cylinders into others by its own pressure, until level or to a pressure.

The fuller side gives gas of its own mix, nothing flows back.  Two cylinders may hold what they
like: the gas that flows is the giver's.  Of three or more opened at once all must hold alike.
If they do not, what each ends up with depends on which valve is open how far: a cylinder in the
middle takes from the fuller, gives to the emptier, and may take the mixture back.  Nobody can
reckon that, so it is refused, with the same cylinders one after the other instead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from blender.errors import InputError, NoFillError
from blender.levelling import level
from blender.planning.supplies import plain_name
from blender.planning.what_if import shown_bar
from blender.vessel import STANDARD_AMBIENT_BAR, Contents, root

# Mixes this near to each other count as alike; common practice, no source.
ALIKE = 0.005
_SAME_BAR = 1e-6
_ROUNDING = 1e-9
_NEARLY_ALL = 1.0 - 1e-6


@dataclass(frozen=True, slots=True)
class Transfer:
    """What each cylinder holds afterwards.

    Parameters
    ----------
    givers, takers : tuple of Contents
        In the order given.
    gauge_bar : float
        Gauge pressure of the takers [bar].
    moved_mol : float
        What the givers lost [mol].
    """

    givers: tuple[Contents, ...]
    takers: tuple[Contents, ...]
    gauge_bar: float
    moved_mol: float


def transfer(
    givers: Sequence[Contents],
    takers: Sequence[Contents],
    temperature_c: float,
    ambient_bar: float = STANDARD_AMBIENT_BAR,
    to_bar: float | None = None,
) -> Transfer:
    """Let gas over until all are level, or one into another to a pressure.

    Parameters
    ----------
    givers, takers : sequence of Contents
        What they hold before; one of each, or more if all hold alike.
    temperature_c : float
        Temperature of all of them, settled [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar].
    to_bar : float or None
        Gauge pressure at which it is shut [bar]; None until level.

    Returns
    -------
    Transfer
        What each holds then.

    Raises
    ------
    InputError
        If a pressure is asked for with more than two cylinders, or below what the taker has.
    NoFillError
        If it would flow back, does not reach the pressure, or the mixes are unlike.

    Examples
    --------
    >>> from blender.gas import AIR, parse_gas
    >>> from blender.vessel import contents_at
    >>> full = contents_at(parse_gas("EAN32"), 200.0, 20.0, 0.012)
    >>> low = contents_at(AIR, 20.0, 20.0, 0.010)
    >>> done = transfer([full], [low], 20.0)
    >>> round(done.gauge_bar, 2), round(done.takers[0].mix.o2, 4)
    (114.84, 0.3001)
    """
    _check_downhill(givers, takers, temperature_c, ambient_bar)
    everything = (*givers, *takers)
    if len(everything) > 2:
        if to_bar is not None:
            given = f"a pressure, with {len(everything)} cylinders"
            raise InputError("--to", given, "shut at a pressure one --from into one --into")
        _check_alike(givers, takers, temperature_c, ambient_bar)
        level_bar, after = level(everything, temperature_c, ambient_bar)
        return _done(givers, after, level_bar)
    done = _levelled(givers[0], takers[0], temperature_c, ambient_bar)
    if to_bar is None:
        return done
    return _to_pressure(givers[0], takers[0], temperature_c, ambient_bar, to_bar, done)


def _done(givers: Sequence[Contents], after: Sequence[Contents], gauge_bar: float) -> Transfer:
    count = len(givers)
    left = tuple(after[:count])
    moved_mol = sum(a.total_mol for a in givers) - sum(b.total_mol for b in left)
    return Transfer(left, tuple(after[count:]), gauge_bar, moved_mol)


def _levelled(
    giver: Contents, taker: Contents, temperature_c: float, ambient_bar: float
) -> Transfer:
    """Let gas over until both show the same."""

    def excess(moved_mol: float) -> float:
        full, left = _moved(giver, taker, moved_mol)
        shows = shown_bar(left, temperature_c, ambient_bar)
        return shown_bar(full, temperature_c, ambient_bar) - shows

    moved_mol = root(excess, 0.0, _NEARLY_ALL * giver.total_mol)
    return _two(giver, taker, moved_mol, temperature_c, ambient_bar)


def _moved(giver: Contents, taker: Contents, moved_mol: float) -> tuple[Contents, Contents]:
    """Return what the taker and the giver hold after an amount [mol] went over."""
    full = taker.with_gas(giver.mix, moved_mol)
    return full, giver.kept(1.0 - moved_mol / giver.total_mol)


def _two(
    giver: Contents, taker: Contents, moved_mol: float, temperature_c: float, ambient_bar: float
) -> Transfer:
    full, left = _moved(giver, taker, moved_mol)
    return Transfer((left,), (full,), full.gauge_bar(temperature_c, ambient_bar), moved_mol)


def _to_pressure(
    giver: Contents,
    taker: Contents,
    temperature_c: float,
    ambient_bar: float,
    to_bar: float,
    levelled: Transfer,
) -> Transfer:
    """Shut it at a pressure, below the one at which both are level."""
    shows_bar = taker.gauge_bar(temperature_c, ambient_bar)
    if to_bar < shows_bar - _SAME_BAR:
        allowed = f"the --into shows {shows_bar:.1f} bar at {temperature_c:g} degC; give more"
        raise InputError("--to", f"{to_bar:.1f} bar", allowed)
    if to_bar > levelled.gauge_bar + _SAME_BAR:
        text = (
            f"by itself it goes no further than {levelled.gauge_bar:.1f} bar, where both are level"
        )
        raise NoFillError(
            f"{text}; use a fuller cylinder, or a booster",
            code="level",
            alternatives=[
                _described("level", "until both are level", levelled, temperature_c, ambient_bar)
            ],
        )

    def excess(moved_mol: float) -> float:
        full, _ = _moved(giver, taker, moved_mol)
        return full.gauge_bar(temperature_c, ambient_bar) - to_bar

    moved_mol = root(excess, 0.0, levelled.moved_mol)
    return _two(giver, taker, moved_mol, temperature_c, ambient_bar)


def _check_downhill(
    givers: Sequence[Contents], takers: Sequence[Contents], at_c: float, ambient_bar: float
) -> None:
    """Refuse what would flow from a taker into a giver."""
    lowest = min(space.gauge_bar(at_c, ambient_bar) for space in givers)
    highest = max(space.gauge_bar(at_c, ambient_bar) for space in takers)
    if lowest < highest - _SAME_BAR:
        raise NoFillError(
            f"at {at_c:g} degC a --from shows {lowest:.1f} bar and an --into {highest:.1f} bar: "
            "gas would flow back, out of the cylinder that is to be filled; open only a fuller "
            "one, or turn them round",
            code="backflow",
        )


def _check_alike(
    givers: Sequence[Contents], takers: Sequence[Contents], at_c: float, ambient_bar: float
) -> None:
    mixes = [space.mix for space in (*givers, *takers)]
    spreads = ([gas.o2 for gas in mixes], [gas.he for gas in mixes])
    if max(max(spread) - min(spread) for spread in spreads) <= ALIKE + _ROUNDING:
        return
    named = ", ".join(dict.fromkeys(plain_name(gas) for gas in mixes))
    in_turn = one_by_one(givers, takers, at_c, ambient_bar)
    how = "two at a time, the lowest --from first"
    raise NoFillError(
        f"opened at once, unlike mixes ({named}) flow from each into each, and what a cylinder "
        "ends up with depends on how far each valve is open; open two at a time",
        code="unlike-mixes",
        alternatives=[_described("one-by-one", how, in_turn, at_c, ambient_bar)],
    )


def one_by_one(
    givers: Sequence[Contents], takers: Sequence[Contents], temperature_c: float, ambient_bar: float
) -> Transfer:
    """Let gas over two cylinders at a time: each taker from every giver, the lowest first.

    Parameters
    ----------
    givers, takers : sequence of Contents
        What they hold before.
    temperature_c : float
        Temperature of all of them, settled [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar].

    Returns
    -------
    Transfer
        What each holds then; `gauge_bar` is that of the lowest taker.
    """

    def shows(space: Contents) -> float:
        return space.gauge_bar(temperature_c, ambient_bar)

    left, filled = list(givers), []
    for taker in takers:
        inside = taker
        for place in sorted(range(len(left)), key=lambda i: shows(left[i])):
            if shows(left[place]) > shows(inside):
                done = _levelled(left[place], inside, temperature_c, ambient_bar)
                left[place], inside = done.givers[0], done.takers[0]
        filled.append(inside)
    return _done(givers, [*left, *filled], min(shows(inside) for inside in filled))


def _described(
    kind: str, text: str, done: Transfer, temperature_c: float, ambient_bar: float
) -> dict[str, Any]:
    """Return what each cylinder holds then, JSON-ready."""

    def state(space: Contents) -> dict[str, float]:
        gauge_bar = space.gauge_bar(temperature_c, ambient_bar)
        return {"pressure_bar": gauge_bar, "o2": space.mix.o2, "he": space.mix.he}

    figures = ", ".join(
        f"{space.gauge_bar(temperature_c, ambient_bar):.1f} bar of {space.mix.o2:.2%} O2"
        for space in done.takers
    )
    return {
        "kind": kind,
        "text": f"{text}: {figures}",
        "temperature_c": temperature_c,
        "from": [state(space) for space in done.givers],
        "into": [state(space) for space in done.takers],
    }
