"""What becomes of a cylinder if it is just topped: forwards and backwards.

Forwards: top with this to that pressure, then with that, and so on.  Backwards: to which
pressure must it be topped for a wanted oxygen fraction.  Of an amount a of a gas g let into n
of a mix x comes y = (n x + a g) / (n + a), so that a = n (y - x) / (g - y); only the pressure
of that amount takes the equation of state.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from blender.errors import InputError, ModelRangeError, NoFillError
from blender.gas import Mix
from blender.planning.recipe import Step
from blender.planning.supplies import plain_name
from blender.vessel import STANDARD_AMBIENT_BAR, Contents, amount_for_pressure, root

# Backwards no further than this [bar]: no cylinder takes more, and the equation of state ends soon
# after.
HIGHEST_BAR = 450.0
_NO_GAS = (0.0, 0.0, 0.0, 0.0)
_SAME = 1e-9
_SAME_BAR = 1e-6
_BEYOND_BAR = 1000.0
# A mixture may take a little more than the gas alone would.
_MORE_THAN_PURE = 1.1


@dataclass(frozen=True, slots=True)
class Topping:
    """One gas let in.

    Parameters
    ----------
    gas : Mix
        The gas.
    to_bar : float or None
        Gauge pressure it is let in to [bar]; None where `reach_o2` says how far.
    temperature_c : float
        Temperature of the gas in the cylinder at that stop [degC].
    """

    gas: Mix
    to_bar: float | None
    temperature_c: float = 20.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was done, and what the cylinder holds then."""

    steps: tuple[Step, ...]
    contents: Contents


def what_if(
    contents: Contents,
    toppings: Sequence[Topping],
    reach_o2: float | None = None,
    ambient_bar: float = STANDARD_AMBIENT_BAR,
    limit_bar: float | None = None,
) -> Outcome:
    """Let gases in one after the other, the last to a pressure or to an oxygen fraction.

    Parameters
    ----------
    contents : Contents
        What is in the cylinder.
    toppings : sequence of Topping
        What is let in; with `reach_o2` the last has no pressure of its own.
    reach_o2 : float or None
        Oxygen fraction to be reached with the last [1].
    ambient_bar : float
        Ambient (absolute) pressure [bar].
    limit_bar : float or None
        Highest gauge pressure of a stop [bar].

    Returns
    -------
    Outcome
        The stops, and what the cylinder holds.

    Raises
    ------
    InputError
        If a stop lies below what the cylinder shows, above the limit, or beyond the range of the
        equation of state.
    NoFillError
        If the oxygen fraction cannot be reached, or only above the limit.

    Examples
    --------
    >>> from blender.gas import AIR, parse_gas
    >>> from blender.vessel import contents_at
    >>> held = contents_at(parse_gas("EAN28"), 60.0, 20.0, 0.012)
    >>> topped = what_if(held, [Topping(parse_gas("EAN32"), 230.0)])
    >>> round(topped.contents.mix.o2, 4)
    0.3089
    >>> found = what_if(topped.contents, [Topping(AIR, None)], reach_o2=0.30)
    >>> round(found.steps[-1].to_bar, 1)
    258.0
    """
    steps: list[Step] = []
    for topping in toppings:
        before = contents
        if topping.to_bar is None:
            assert reach_o2 is not None
            contents = _to_o2(contents, topping, reach_o2, ambient_bar, limit_bar)
        else:
            contents = _to_pressure(contents, topping, topping.to_bar, ambient_bar, limit_bar)
        steps.append(_step(before, contents, topping, ambient_bar))
    return Outcome(tuple(steps), contents)


def _to_pressure(
    contents: Contents, topping: Topping, to_bar: float, ambient_bar: float, limit_bar: float | None
) -> Contents:
    gas, at_c = topping.gas, topping.temperature_c
    shows_bar = contents.gauge_bar(at_c, ambient_bar)
    if to_bar < shows_bar - _SAME_BAR:
        allowed = f"it shows {shows_bar:.1f} bar at {at_c:g} degC by then; give more"
        raise InputError("--to", f"{to_bar:.1f} bar", allowed)
    if limit_bar is not None and to_bar > limit_bar:
        raise InputError("--to", f"{to_bar:.1f} bar", f"the limit is {limit_bar:.1f} bar")
    volume, pairs = contents.volume_m3, contents.pairs
    try:
        full_mol = amount_for_pressure(gas, to_bar, at_c, volume, ambient_bar, pairs)
    except ModelRangeError as outside:
        allowed = "the equation of state ends at 500 bar absolute; give less"
        raise ModelRangeError("--to", f"{to_bar:.1f} bar", allowed) from outside
    amount_mol = root(
        lambda mol: shown_bar(contents.with_gas(gas, mol), at_c, ambient_bar) - to_bar,
        0.0,
        _MORE_THAN_PURE * full_mol,
    )
    return contents.with_gas(gas, amount_mol)


def shown_bar(contents: Contents, temperature_c: float, ambient_bar: float) -> float:
    """Gauge pressure of a gas space, or more than any gauge shows.

    Parameters
    ----------
    contents : Contents
        What it holds.
    temperature_c : float
        Temperature of the gas [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar].

    Returns
    -------
    float
        Gauge pressure; beyond the equation of state 1000, so that a search finds its way back
        [bar].
    """
    try:
        return contents.gauge_bar(temperature_c, ambient_bar)
    except ModelRangeError:
        return _BEYOND_BAR


def _to_o2(
    contents: Contents,
    topping: Topping,
    reach_o2: float,
    ambient_bar: float,
    limit_bar: float | None,
) -> Contents:
    gas, here = topping.gas, contents.mix.o2
    if abs(reach_o2 - here) <= _SAME:
        return contents
    if abs(reach_o2 - gas.o2) <= _SAME or (reach_o2 - here) / (gas.o2 - reach_o2) <= 0.0:
        raise NoFillError(
            f"topping {plain_name(contents.mix)} with {plain_name(gas)} never gives "
            f"{reach_o2:.2%} O2, only what lies between {here:.2%} and {gas.o2:.2%}; top with "
            "another gas",
            code="unreachable",
        )
    amount_mol = contents.total_mol * (reach_o2 - here) / (gas.o2 - reach_o2)
    highest_bar = HIGHEST_BAR if limit_bar is None else min(limit_bar, HIGHEST_BAR)
    mixed = contents.with_gas(gas, amount_mol)
    if shown_bar(mixed, topping.temperature_c, ambient_bar) > highest_bar + _SAME_BAR:
        raise _too_high(contents, topping, reach_o2, ambient_bar, highest_bar)
    return mixed


def _too_high(
    contents: Contents, topping: Topping, reach_o2: float, ambient_bar: float, highest_bar: float
) -> NoFillError:
    """Say how far it gets, with that as the nearest."""
    text = f"{reach_o2:.2%} O2 would take more than {highest_bar:.1f} bar"
    if contents.gauge_bar(topping.temperature_c, ambient_bar) >= highest_bar:
        return NoFillError(f"{text}; drain some first, or top with another gas", code="limit")
    there = _to_pressure(contents, topping, highest_bar, ambient_bar, None)
    step = _step(contents, there, topping, ambient_bar)
    nearest = f"at {highest_bar:.1f} bar it is {there.mix.o2:.2%} O2"
    return NoFillError(
        f"{text}; {nearest}; drain some first, or top with another gas",
        code="limit",
        alternatives=[{"kind": "limit", "text": nearest, "steps": [step.as_dict()]}],
    )


def _step(before: Contents, after: Contents, topping: Topping, ambient_bar: float) -> Step:
    moved_mol = max(after.total_mol - before.total_mol, 0.0)
    mass_g = Contents(_NO_GAS, before.volume_m3).with_gas(topping.gas, moved_mol).mass_g
    facts: dict[str, Any] = {"amount_mol": moved_mol, "mass_g": mass_g}
    at_c = topping.temperature_c
    return Step(
        "add",
        after.mix,
        gas=topping.gas,
        from_bar=before.gauge_bar(at_c, ambient_bar),
        to_bar=after.gauge_bar(at_c, ambient_bar),
        temperature_c=at_c,
        **facts,
    )
