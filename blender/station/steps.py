"""A plan's step in the journal's whole numbers, and what of it only some recipes need.

Every step has its stop; draws, the scale, the whip, the booster and helium at the intake lie
beside it under names of their own, so that a step entered before there were such is as it was.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from blender.gas import Mix
from blender.planning.recipe import Step
from blender.record.models import StepRow
from blender.station.numbers import mbar, micromol, millikelvin, mol, ppm

Facts = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class More:
    """What a step says beyond its stop; what does not apply is empty or None.

    Parameters
    ----------
    draws : tuple of pairs
        What each supply gives until the stop, the whip's filling with it: name, amount [mol].
    first_ppm : tuple of int
        Gas that goes in before the step's own, from the whip [ppm of O2, He, N2, Ar].
    first_mol : float
        Its amount [mol].
    boosted, vents : bool
        Whether it takes the booster, and whether the whip is vented after it.
    bottles : tuple of triples
        Bottles drawn from: name, gauge pressures at 20 degC before and after [bar].
    scale_g, vented_g, zero_g : float or None
        By mass: what the scale shows at the stop, and after a purge was vented; what the cylinder
        holds where the scale shows nothing [g].
    helium_supply : str
        Where helium is injected from.
    intake_he, after_helium, before_oxygen, without_helium : float or None
        As of a planned step [1].
    oxygen_l_min, helium_l_min, minutes : float or None
        As of a planned step [L/min], [min].
    """

    draws: tuple[tuple[str, float], ...] = ()
    first_ppm: tuple[int, ...] = ()
    first_mol: float = 0.0
    boosted: bool = False
    vents: bool = False
    bottles: tuple[tuple[str, float, float], ...] = ()
    scale_g: float | None = None
    vented_g: float | None = None
    zero_g: float | None = None
    helium_supply: str = ""
    intake_he: float | None = None
    after_helium: float | None = None
    before_oxygen: float | None = None
    without_helium: float | None = None
    oxygen_l_min: float | None = None
    helium_l_min: float | None = None
    minutes: float | None = None


# In the journal -> of a planned step, and how it becomes a whole number.
_STOP: dict[str, tuple[str, Callable[[float], int]]] = {
    "from_mbar": ("from_bar", mbar),
    "to_mbar": ("to_bar", mbar),
    "temp_mk": ("temperature_c", millikelvin),
    "amount_umol": ("amount_mol", micromol),
    "intake_ppm": ("intake_o2", ppm),
    "reading_ppm": ("intake_reading", ppm),
}


def _thousandths(value: float) -> int:
    return round(value * 1000.0)


_MORE: dict[str, tuple[str, Callable[[float], int]]] = {
    "scale_mg": ("scale_g", _thousandths),
    "vented_mg": ("scale_vented_g", _thousandths),
    "intake_he_ppm": ("intake_he", ppm),
    "after_helium_ppm": ("reading_after_helium", ppm),
    "before_oxygen_ppm": ("reading_before_oxygen", ppm),
    "without_helium_ppm": ("intake_without_helium", ppm),
    "oxygen_ml_min": ("oxygen_l_min", _thousandths),
    "helium_ml_min": ("helium_l_min", _thousandths),
    "milliminutes": ("minutes", _thousandths),
}


def step_facts(step: Step, zero_g: float | None = None) -> dict[str, Any]:
    """Return a step in the journal's integers; what does not apply is left out.

    Parameters
    ----------
    step : Step
        As planned.
    zero_g : float or None
        By mass: what the cylinder holds where the scale shows nothing [g].
    """
    kept: dict[str, Any] = {
        "action": step.action,
        "holds_o2_ppm": ppm(step.holds.o2),
        "holds_he_ppm": ppm(step.holds.he),
    }
    for key, (name, whole) in (_STOP | _MORE).items():
        if (value := getattr(step, name)) is not None:
            kept[key] = whole(value)
    if step.supply:
        kept["supply"] = step.supply
    if step.gas:
        kept["gas_ppm"] = _parts(step.gas)
    return kept | _drawn(step) | ({} if zero_g is None else {"zero_ug": round(zero_g * 1e6)})


def _parts(gas: Mix) -> list[int]:
    return [ppm(part) for part in gas.fractions]


def _drawn(step: Step) -> dict[str, Any]:
    """Return where a step's gas comes from, through what, and what it leaves there."""
    kept: dict[str, Any] = {}
    if step.draws:
        kept["draws"] = [[name, micromol(amount)] for name, amount in step.draws]
    if step.whip_gas and step.whip_gas_mol:
        kept |= {"first_ppm": _parts(step.whip_gas), "first_umol": micromol(step.whip_gas_mol)}
    if step.boosted:
        kept["boosted"] = True
    if step.whip_mol:
        kept["vents"] = True
    if bottles := [
        [name, mbar(before), mbar(after)]
        for name, before, after in (
            (step.supply, step.supply_from_bar, step.supply_to_bar),
            (step.oxygen_supply, step.oxygen_supply_from_bar, step.oxygen_supply_to_bar),
            (step.helium_supply, step.helium_supply_from_bar, step.helium_supply_to_bar),
        )
        if name and before is not None and after is not None
    ]:
        kept["bottles"] = bottles
    return kept | ({"helium_supply": step.helium_supply} if step.helium_supply else {})


def more_of(step: StepRow) -> More:
    """Return what a recorded step says beyond its stop."""
    return _read(step.more)


@lru_cache(maxsize=256)
def _read(text: str) -> More:
    return more_in(json.loads(text))


def more_in(facts: Facts) -> More:
    """Return what a step of an entry says beyond its stop.

    Examples
    --------
    >>> more_in({"scale_mg": 1234000, "draws": [["o1", 2500000]]}).draws
    (('o1', 2.5),)
    """

    def part(key: str, of: float = 1000.0) -> float | None:
        return facts[key] / of if key in facts else None

    return More(
        draws=tuple((str(name), mol(umol)) for name, umol in facts.get("draws", ())),
        first_ppm=tuple(facts.get("first_ppm", ())),
        first_mol=mol(facts.get("first_umol", 0)),
        boosted=bool(facts.get("boosted")),
        vents=bool(facts.get("vents")),
        bottles=tuple((str(n), a / 1000.0, b / 1000.0) for n, a, b in facts.get("bottles", ())),
        scale_g=part("scale_mg"),
        vented_g=part("vented_mg"),
        zero_g=part("zero_ug", 1e6),
        helium_supply=str(facts.get("helium_supply", "")),
        intake_he=part("intake_he_ppm", 1e6),
        after_helium=part("after_helium_ppm", 1e6),
        before_oxygen=part("before_oxygen_ppm", 1e6),
        without_helium=part("without_helium_ppm", 1e6),
        oxygen_l_min=part("oxygen_ml_min"),
        helium_l_min=part("helium_ml_min"),
        minutes=part("milliminutes"),
    )


def gas_of(step: StepRow) -> Mix:
    """Return the gas a step lets in."""
    return _gas_in(step.gas)


@lru_cache(maxsize=256)
def _gas_in(text: str) -> Mix:
    return _mix(json.loads(text))


def moved_of(step: StepRow) -> Mix:
    """Return all that goes in by a step, with what was left in the whip.

    That goes in first; on the way it counts as mixed with the rest, at the stop it is exact.
    """
    more = more_of(step)
    if not more.first_mol:
        return gas_of(step)
    first, own_mol = _mix(more.first_ppm), mol(step.amount_umol)
    pairs = zip(gas_of(step).fractions, first.fractions, strict=True)
    return _mix([own * own_mol + other * more.first_mol for own, other in pairs])


def moved_mol(step: StepRow) -> float:
    """Return how much goes in by a step as planned, with what was left in the whip [mol]."""
    return mol(step.amount_umol) + more_of(step).first_mol


def _mix(parts: list[float] | tuple[int, ...]) -> Mix:
    o2, he, n2, ar = (part / sum(parts) for part in parts)
    return Mix(o2, he, n2, ar)
