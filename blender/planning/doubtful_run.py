"""What a compressor delivers when its meters, the damp or its tower are not as thought."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import takewhile

import numpy as np
from numpy.typing import NDArray

from blender.gas import Mix
from blender.planning.flow_trimix import injected_helium
from blender.planning.hold_up import old_gas
from blender.planning.intake import dry_share
from blender.planning.oxygen import oxygen_of
from blender.planning.recipe import Step
from blender.planning.request import PlanRequest
from blender.planning.supplies import TOP_NAME
from blender.planning.tower import TOWER_NAME, Tower
from blender.vessel import amount_for_pressure

Array = NDArray[np.float64]
# Gives the errors of a cause, one a fill.
Errors = Callable[[str], Array]
_NUDGE = 1e-3  # [bar] and [K]
_ALONE = 1e-9  # a meter this near to what is injected shows that alone


def is_delivered(step: Step) -> bool:
    """Tell whether a step is gas from the compressor itself, not what its tower held."""
    return step.action == "flow" and step.supply != TOWER_NAME


def runs_on(steps: Sequence[Step]) -> bool:
    """Tell whether the first step is a tower's that no stop ends: the run goes on after it."""
    later = next((step for step in steps[1:] if step.action == "flow"), None)
    return steps[0].supply == TOWER_NAME and later is not None and is_delivered(later)


def delivered(request: PlanRequest, step: Step, place: str, error: Errors) -> Array:
    """Return what is delivered when both meters show what the plan says.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    step : Step
        A flow.
    place : str
        Its place in the plan.
    error : callable
        Gives errors by cause: ``meter``, ``helium-meter`` and ``damp``, true less thought, and
        ``average.PLACE``, ``average-he.PLACE`` of a run so far whose meters were averaged [1].

    Returns
    -------
    ndarray, shape (fills, 4)
        Dry fractions of O2, He, N2 and Ar [1].
    """
    top, oxygen = _column(request.top), _column(oxygen_of(request))
    damp_air = 1.0 / (dry_share(request) - error("damp"))  # with its water, a mole of dry air
    helium_mol, helium = np.zeros_like(damp_air), np.zeros(4)
    if (gas := injected_helium(request)) and step.reading_after_helium is not None:
        helium, first = _column(gas), step.reading_after_helium + error("helium-meter")
        first = first + error(f"average-he.{place}")
        short = np.maximum(first - helium[0], _ALONE)
        helium_mol = np.maximum((top[0] - first * damp_air) / short, 0.0)
    oxygen_mol = np.zeros_like(damp_air)
    if step.supply != TOP_NAME:
        last = (step.intake_reading or 0.0) + error("meter") + error(f"average.{place}")
        missing = last * (damp_air + helium_mol) - top[0] - helium_mol * helium[0]
        oxygen_mol = np.maximum(missing / np.maximum(oxygen[0] - last, _ALONE), 0.0)
    whole = 1.0 + helium_mol + oxygen_mol
    gas_mol = top + helium_mol[:, None] * helium + oxygen_mol[:, None] * oxygen
    fractions: Array = gas_mol / whole[:, None]
    return fractions


def _column(gas: Mix) -> Array:
    return np.array(gas.fractions)


def held_in_tower(request: PlanRequest, error: Errors) -> Array:
    """Return what the tower truly held over what was thought [1].

    Parameters
    ----------
    request : PlanRequest
        With a tower.
    error : callable
        Gives errors by cause: ``tower.volume`` [1], ``class.tower`` and ``step.tower`` [bar],
        ``temperature.tower`` [K].

    Returns
    -------
    ndarray, shape (fills,)
        The ratio of amounts [1].
    """
    tower = request.tower
    assert tower is not None
    at_c = request.first_temperature_c if tower.temperature_c is None else tower.temperature_c
    here = _tower_mol(request, tower, tower.gauge_bar, at_c)
    per_bar = (_tower_mol(request, tower, tower.gauge_bar + _NUDGE, at_c) - here) / _NUDGE
    per_k = (_tower_mol(request, tower, tower.gauge_bar, at_c + _NUDGE) - here) / _NUDGE
    off_mol = per_bar * (error("class.tower") + error("step.tower"))
    off_mol = off_mol + per_k * error("temperature.tower")
    ratio: Array = (1.0 + error("tower.volume")) * (1.0 + off_mol / here)
    return np.maximum(ratio, 0.0)


def _tower_mol(request: PlanRequest, tower: Tower, gauge_bar: float, at_c: float) -> float:
    around, pairs = request.ambient_bar, request.pairs
    return amount_for_pressure(tower.mix, gauge_bar, at_c, tower.volume_m3, around, pairs)


def left_behind(request: PlanRequest, steps: Sequence[Step]) -> float:
    """Share of a tower's gas in a step that would still be in the tower if it mixed fully [1].

    Parameters
    ----------
    request : PlanRequest
        With a tower.
    steps : sequence of Step
        From the tower's step on.

    Returns
    -------
    float
        0 for a tower that was flushed many times over.

    Notes
    -----
    A vessel that is stirred keeps exp(-flow / content) of what it held, one that is pushed out
    in a plug none once its content has passed: textbook washout of a stirred tank, from memory.
    """
    tower_step, later = steps[0], steps[1:]
    run = takewhile(is_delivered, (step for step in later if step.action == "flow"))
    gone_mol = tower_step.amount_mol or 0.0
    passed_mol = gone_mol + sum(step.amount_mol or 0.0 for step in run)
    tower = old_gas(request)
    holds_mol = gone_mol if passed_mol > gone_mol or tower is None else tower.total_mol
    washed_mol = holds_mol * -math.expm1(-passed_mol / holds_mol)
    return max(1.0 - washed_mol / gone_mol, 0.0)
