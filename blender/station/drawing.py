"""What a gauge reading means for the supplies: each gave its part of what went in.

A plan says what each supply gives until the stop, with what fills the whip and what a compressor
draws in for its filter tower.  As far as the gauge has come, so much of that is gone.
"""

from __future__ import annotations

from blender.gas import AIR_N2
from blender.record.models import StepRow
from blender.station.judging import Outcome
from blender.station.numbers import bar, celsius
from blender.station.steps import gas_of, more_of, moved_mol
from blender.vessel import Contents, added_to_reach


def drawn(
    step: StepRow, before: Contents, outcome: Outcome, around: float
) -> list[tuple[str, float]]:
    """Return what left each supply: names and amounts [mol].

    Parameters
    ----------
    step : StepRow
        The step.
    before : Contents
        What was in the cylinder.
    outcome : Outcome
        What is in it then.
    around : float
        Ambient (absolute) pressure the gauges count from [bar].
    """
    gone_mol = _let_in(step, before, outcome, around)
    if gone_mol <= 0.0:
        return []
    draws, planned_mol = more_of(step).draws, moved_mol(step)
    if draws and planned_mol > 0.0:
        return [(name, amount * gone_mol / planned_mol) for name, amount in draws]
    if step.action == "flow":
        gone_mol = _injected(before, outcome)
    return [(step.supply, gone_mol)] if gone_mol > 0.0 else []


def _let_in(step: StepRow, before: Contents, outcome: Outcome, around: float) -> float:
    """Return what went into the cylinder; a purge lets gas in and out again [mol]."""
    if step.action == "purge" and outcome.closes:
        up_to, at_c = bar(step.to_mbar), celsius(step.temp_mk)
        return added_to_reach(before, gas_of(step), up_to, at_c, around)
    return outcome.inside.total_mol - before.total_mol if step.action in ("add", "flow") else 0.0


def _injected(before: Contents, outcome: Outcome) -> float:
    """Return the oxygen of a flow entered without its draws: what air, by its nitrogen, is not."""
    gained = outcome.inside.total_mol - before.total_mol
    return gained - (outcome.inside.amounts_mol[2] - before.amounts_mol[2]) / AIR_N2
