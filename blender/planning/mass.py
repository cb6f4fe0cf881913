"""Blending by mass: the recipe of partial pressures, closed by a scale instead of a gauge.

Mass does not depend on temperature, so the readings hold while the gas is hot.  The scale is
zeroed with the cylinder on it, hose connected and valve shut; from then on it shows the gain
since the start, negative after a drain.  The stop in bar stays as a cross-check.

What the scale's steps cost: a display of step d is taken as rectangular, half-width d/2, so its
standard uncertainty is d/2/sqrt(3) = 0.29 d (JCGM 100, F.2.2.1, from memory); zero and every
reading contribute through their own effect on the mix; expanded with k = 2.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from blender.errors import InputError
from blender.gas import Mix
from blender.planning.oxygen import plan_oxygen
from blender.planning.partial_pressure import attempt as by_partial_pressure
from blender.planning.recipe import Caution, Plan, Scale, Step
from blender.planning.request import PlanRequest
from blender.planning.weak_bank import or_what_helps
from blender.propagation import COVERAGE_FACTOR
from blender.units import KG_PER_LB, parse_number
from blender.vessel import MOLAR_MASS_G_MOL, Contents, amount_for_pressure

# Above this many points the steps of the scale spoil the mix: half the usual tolerance of 1 %
# (common practice, no source).
COARSE = 0.005
MIN_STEP_G, MAX_STEP_G = 0.001, 5000.0
_NUDGE_G = 1e-3
_NEARLY_NOTHING = 1e-9
_TYPED = re.compile(r"\s*([\d.,]+)\s*(g|kg|lb)\s*", re.ASCII | re.IGNORECASE)
_GRAMS = {"g": 1.0, "kg": 1000.0, "lb": KG_PER_LB * 1000.0}


def plan_mass(request: PlanRequest) -> Plan:
    """Plan a fill by mass.

    Parameters
    ----------
    request : PlanRequest
        What was asked; `scale_g` is what the scale can tell.

    Returns
    -------
    Plan
        The steps of a partial-pressure plan with what the scale shows after each.

    Raises
    ------
    InputError
        If the list of temperatures does not suit.
    NoFillError
        As by partial pressure.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32")
    >>> found = plan_mass(PlanRequest(0.012, have, want, method="mass", scale_g=5.0))
    >>> [step.scale_g for step in found.steps if step.action == "add"]
    [405.0, 2340.0]
    """
    if request.want.oxygen_only:
        return weighed(plan_oxygen(request))
    return or_what_helps(request, attempt)


def attempt(request: PlanRequest) -> Plan:
    """Plan without looking for alternatives to a short bank.

    Parameters
    ----------
    request : PlanRequest
        What was asked.

    Returns
    -------
    Plan
        As of the function above.

    Raises
    ------
    ShortageError
        If the bottles do not hold enough.
    NoFillError
        For every other reason.
    """
    return weighed(by_partial_pressure(request))


def molar_mass_g_mol(gas: Mix) -> float:
    """Molar mass of a gas [g/mol].

    Parameters
    ----------
    gas : Mix
        The gas.

    Returns
    -------
    float
        Molar mass [g/mol].

    Examples
    --------
    >>> from blender.gas import AIR
    >>> round(molar_mass_g_mol(AIR), 2)
    28.96
    """
    return sum(x * m for x, m in zip(gas.fractions, MOLAR_MASS_G_MOL, strict=True))


def parse_scale(text: str, field: str = "--scale") -> float:
    """Read the smallest step a scale shows and return it in [g].

    Parameters
    ----------
    text : str
        What was typed, with its unit.
    field : str
        The field's name, for the error message.

    Returns
    -------
    float
        The step [g].

    Raises
    ------
    InputError
        If it cannot be read, or is not 0.001 g to 5 kg.

    Examples
    --------
    >>> parse_scale("5g"), parse_scale("0.05kg")
    (5.0, 50.0)
    """
    found = _TYPED.fullmatch(text) if len(text) <= 40 else None
    if found is None:
        raise InputError(field, repr(text[:40]), "give the step the scale shows, such as 5g")
    step_g = round(parse_number(found[1], field) * _GRAMS[found[2].lower()], 9)
    if not MIN_STEP_G <= step_g <= MAX_STEP_G:
        raise InputError(field, repr(text), "a scale shows steps of 0.001 g to 5 kg")
    return step_g


# -- what the scale shows -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Move:
    """Gas that moves: what goes in after what was left in the whip, or out if there is no gas."""

    gas: Mix | None
    first: tuple[Mix, float] | None = None

    def applied(self, contents: Contents, gain_g: float) -> Contents:
        """Return the contents after the scale gained a mass [g]."""
        if self.gas is None:
            kept = 1.0 + gain_g / contents.mass_g
            return contents.kept(max(kept, _NEARLY_NOTHING))
        if self.first is not None:
            contents = contents.with_gas(*self.first)
            gain_g -= self.first[1] * molar_mass_g_mol(self.first[0])
        return contents.with_gas(self.gas, max(gain_g, 0.0) / molar_mass_g_mol(self.gas))


def weighed(plan: Plan) -> Plan:
    """Add to a plan what the scale shows, and what its steps cost.

    Parameters
    ----------
    plan : Plan
        A plan in steps of partial pressure.

    Returns
    -------
    Plan
        With `scale_g` at each step that moves gas, and the cautions of a scale.
    """
    moves, gains_g, steps = [], [0.0], []
    for step, own in _moves(plan):
        for move, gain_g in own:
            moves.append(move)
            gains_g.append(gains_g[-1] + gain_g)
        shown_g = [_shown(plan, gain_g) for gain_g in gains_g[len(gains_g) - len(own) :]]
        steps.append(_marked(step, shown_g))
    scale = _cost(plan, moves, gains_g)
    warnings = (*plan.warnings, *_cautions(plan, scale))
    return replace(plan, steps=tuple(steps), scale=scale, warnings=warnings)


def _moves(plan: Plan) -> Iterator[tuple[Step, list[tuple[_Move, float]]]]:
    """Yield each step with the gas it moves and the mass the scale gains by it [g]."""
    inside = plan.request.residual()
    for step in plan.steps:
        own: list[tuple[_Move, float]] = []
        mass_g = step.mass_g or 0.0
        if step.action == "drain":
            own.append((_Move(None), -mass_g))
        elif step.action in ("add", "purge"):
            first = _first_in(step)
            first_g = first[1] * molar_mass_g_mol(first[0]) if first else 0.0
            own.append((_Move(step.gas, first), mass_g + first_g))
        for move, gain_g in own:
            inside = move.applied(inside, gain_g)
        if step.action == "purge":
            vented_g = inside.mass_g - _mass_at_start(plan, step)
            own.append((_Move(None), -vented_g))
            inside = _Move(None).applied(inside, -vented_g)
        yield step, own


def _first_in(step: Step) -> tuple[Mix, float] | None:
    if step.whip_gas is None or step.whip_gas_mol is None:
        return None
    return step.whip_gas, step.whip_gas_mol


def _mass_at_start(plan: Plan, step: Step) -> float:
    """Mass of what the cylinder holds once a purge is vented to where it began [g]."""
    request, from_bar, at_c = plan.request, step.from_bar, step.temperature_c
    assert from_bar is not None
    assert at_c is not None
    amount_mol = amount_for_pressure(
        step.holds, from_bar, at_c, request.volume_m3, request.ambient_bar, request.pairs
    )
    return amount_mol * molar_mass_g_mol(step.holds)


def _shown(plan: Plan, gain_g: float) -> float:
    """Return a gain as the scale shows it [g]."""
    step_g = plan.request.scale_g
    return gain_g if step_g is None else round(round(gain_g / step_g) * step_g, 9)


def _marked(step: Step, shown_g: Sequence[float]) -> Step:
    if not shown_g:
        return step
    vented_g = shown_g[1] if len(shown_g) > 1 else None
    return replace(step, scale_g=shown_g[0], scale_vented_g=vented_g)


# -- what its steps cost --------------------------------------------------------------------


def _cost(plan: Plan, moves: Sequence[_Move], gains_g: Sequence[float]) -> Scale | None:
    """Return what the steps of the scale do to the mix; None if they are not known."""
    step_g = plan.request.scale_g
    if step_g is None:
        return None

    def mix_at(readings_g: Sequence[float]) -> Mix:
        inside = plan.request.residual()
        for move, before, after in zip(moves, readings_g, readings_g[1:], strict=False):
            inside = move.applied(inside, after - before)
        return inside.mix

    there = mix_at([_shown(plan, gain_g) for gain_g in gains_g])
    exact, o2, he = mix_at(gains_g), 0.0, 0.0
    for place in range(len(gains_g)):
        nudged = mix_at([g + _NUDGE_G * (i == place) for i, g in enumerate(gains_g)])
        o2 += (nudged.o2 - exact.o2) ** 2
        he += (nudged.he - exact.he) ** 2
    expanded = COVERAGE_FACTOR * step_g / 2.0 / math.sqrt(3.0) / _NUDGE_G
    return Scale(step_g, expanded * math.sqrt(o2), expanded * math.sqrt(he), there.o2, there.he)


def _cautions(plan: Plan, scale: Scale | None) -> Iterator[Caution]:
    how = (
        "zero the scale with the cylinder on it, hose connected and valve shut; let nothing pull, "
        "lean or hang on it, and watch the gauge too: its limits hold as ever"
    )
    if scale is None:
        yield Caution("by-mass", f"{how}; say with --scale what steps it shows")
        return
    helium = f" and {scale.he_uncertainty * 100:.2f} He" if plan.result.he > 1e-6 else ""
    cost = (
        f"the scale's steps of {scale.resolution_g:g} g cost {scale.o2_uncertainty * 100:.2f} "
        f"points O2{helium} either way (k = 2); at the rounded readings the mix is "
        f"{scale.o2:.2%} O2" + (f", {scale.he:.2%} He" if plan.result.he > 1e-6 else "")
    )
    yield Caution("by-mass", f"{how}; {cost}")
    o2 = abs(scale.o2 - plan.result.o2) + scale.o2_uncertainty
    he = abs(scale.he - plan.result.he) + scale.he_uncertainty
    if max(o2, he) > COARSE:
        yield Caution(
            "scale-coarse",
            f"this scale may put the mix {max(o2, he) * 100:.1f} points off: use a finer one, or "
            "fill by the gauge; the analysis decides",
        )
