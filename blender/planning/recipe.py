"""A plan as a list of steps, and how it is written as JSON."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import Any

from blender.gas import Mix
from blender.planning.request import PlanRequest


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do.  What does not apply is None, and left out of the JSON.

    Parameters
    ----------
    action : str
        ``drain``, ``purge``, ``add``, ``flow``, ``rest`` or ``analyse``.
    holds : Mix
        What the cylinder holds after the step.
    supply : str or None
        Name of the supply drawn from.
    gas : Mix or None
        The gas that moves; of a flow step, the dry gas delivered.
    from_bar, to_bar : float or None
        Gauge pressures before and after, both at `temperature_c` [bar].
    temperature_c : float or None
        Temperature of the gas in the cylinder [degC].
    amount_mol, mass_g : float or None
        Amount [mol] and mass [g] of the gas that moves.
    supply_from_bar, supply_to_bar : float or None
        Gauge pressures of the supply before and after, at 20 degC [bar].
    intake_o2, intake_reading : float or None
        Oxygen fraction delivered, dry, and as a true meter reads it in the damp stream [1].
    oxygen_l_min, minutes : float or None
        Oxygen to inject, counted as the delivery is [L/min], and for how long [min].
    boosted : bool or None
        True if the supply ends below the cylinder's pressure: it takes the booster.
    whip_mol : float or None
        What the supply gives beyond `amount_mol`: it fills the whip and does not go in [mol].
    whip_gas : Mix or None
        Another gas left in the whip, which goes in first; `amount_mol` and `gas` do not count it.
    whip_gas_mol : float or None
        Its amount [mol].
    scale_g : float or None
        What the scale shows after the step: its gain since the start, by mass [g].
    scale_vented_g : float or None
        The same after a purge was vented; `scale_g` is then before [g].
    """

    action: str
    holds: Mix
    supply: str | None = None
    gas: Mix | None = None
    from_bar: float | None = None
    to_bar: float | None = None
    temperature_c: float | None = None
    amount_mol: float | None = None
    mass_g: float | None = None
    supply_from_bar: float | None = None
    supply_to_bar: float | None = None
    intake_o2: float | None = None
    intake_reading: float | None = None
    oxygen_l_min: float | None = None
    minutes: float | None = None
    boosted: bool | None = None
    whip_mol: float | None = None
    whip_gas: Mix | None = None
    whip_gas_mol: float | None = None
    scale_g: float | None = None
    scale_vented_g: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """The step JSON-ready, without the keys that do not apply."""
        described: dict[str, Any] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name == "holds":
                continue
            if value is not None:
                described[field.name] = value.as_dict() if isinstance(value, Mix) else value
        described["holds"] = {"o2": self.holds.o2, "he": self.holds.he}
        return described


@dataclass(frozen=True, slots=True)
class Caution:
    """Something the person at the panel must know: a stable code and a plain sentence."""

    code: str
    text: str

    def as_dict(self) -> dict[str, str]:
        """The caution JSON-ready."""
        return {"code": self.code, "text": self.text}


@dataclass(frozen=True, slots=True)
class Scale:
    """What the steps of a scale do to a mix.

    Parameters
    ----------
    resolution_g : float
        The smallest step it shows [g].
    o2_uncertainty, he_uncertainty : float
        What the steps cost, expanded with k = 2 [1].
    o2, he : float
        The mix when the scale shows exactly its rounded readings [1].
    """

    resolution_g: float
    o2_uncertainty: float
    he_uncertainty: float
    o2: float
    he: float


@dataclass(frozen=True, slots=True)
class Plan:
    """How to come from what is in the cylinder to what is wanted.

    Parameters
    ----------
    request : PlanRequest
        What was asked.
    steps : tuple of Step
        What to do, in order.
    result : Mix
        What the cylinder holds when the stops are hit exactly.
    pressure_bar : float
        Settled gauge pressure at the request's settling temperature [bar].
    warnings : tuple of Caution
        What must be known.
    alternatives : tuple of dict
        Other ways, JSON-ready.
    scale : Scale or None
        What the scale's steps do, for a fill by mass.
    """

    request: PlanRequest
    steps: tuple[Step, ...]
    result: Mix
    pressure_bar: float
    warnings: tuple[Caution, ...] = ()
    alternatives: tuple[dict[str, Any], ...] = ()
    scale: Scale | None = None

    def result_dict(self) -> dict[str, Any]:
        """The result JSON-ready; uncertainties not yet computed are null."""
        return {
            "o2": self.result.o2,
            "he": self.result.he,
            "pressure_bar": self.pressure_bar,
            "settled_temperature_c": self.request.settle_at_c,
            "o2_uncertainty": None,
            "he_uncertainty": None,
        }

    def as_dict(self) -> dict[str, Any]:
        """The whole plan JSON-ready, numbers unrounded."""
        return {
            "request": self.request.as_dict(),
            "method": self.request.method,
            "steps": [step.as_dict() for step in self.steps],
            "result": self.result_dict(),
            "warnings": [caution.as_dict() for caution in self.warnings],
            "alternatives": list(self.alternatives),
            **({"scale": asdict(self.scale)} if self.scale else {}),
        }
