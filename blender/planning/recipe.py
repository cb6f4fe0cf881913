"""A plan as a list of steps, and how it is written as JSON."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import Any

from blender.gas import Mix
from blender.planning.request import PlanRequest
from blender.planning.supplies import TOP_NAME


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
    oxygen_mol, helium_mol : float or None
        Of a flow step: what is injected into the intake [mol]; the rest is the top gas.
    intake_he, reading_after_helium, reading_before_oxygen : float or None
        Where helium is injected: its fraction delivered, dry, and what a true meter between the
        two inlets reads while both run, and before the oxygen is on [1].
    intake_without_helium, helium_l_min : float or None
        Oxygen fraction delivered if the helium stops [1]; helium to inject [L/min].
    helium_supply : str or None
        Name of the supply the helium is injected from.
    helium_supply_from_bar, helium_supply_to_bar : float or None
        Its gauge pressures before and after, at 20 degC [bar].
    oxygen_supply : str or None
        Where `supply` is the filter tower: the supply that oxygen is injected from meanwhile.
        `gas` is then the tower's old gas, and the intake figures are for what the compressor
        draws in, which goes into the tower.
    oxygen_supply_from_bar, oxygen_supply_to_bar : float or None
        Its gauge pressures before and after, at 20 degC [bar].
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
    oxygen_mol: float | None = None
    helium_mol: float | None = None
    boosted: bool | None = None
    whip_mol: float | None = None
    whip_gas: Mix | None = None
    whip_gas_mol: float | None = None
    scale_g: float | None = None
    scale_vented_g: float | None = None
    intake_he: float | None = None
    reading_after_helium: float | None = None
    reading_before_oxygen: float | None = None
    intake_without_helium: float | None = None
    helium_l_min: float | None = None
    helium_supply: str | None = None
    helium_supply_from_bar: float | None = None
    helium_supply_to_bar: float | None = None
    oxygen_supply: str | None = None
    oxygen_supply_from_bar: float | None = None
    oxygen_supply_to_bar: float | None = None

    @property
    def drawn_from(self) -> dict[str, float]:
        """Gauge pressures after the step of the bottles drawn from, by name [bar]."""
        drawn = (
            (self.supply, self.supply_to_bar),
            (self.oxygen_supply, self.oxygen_supply_to_bar),
            (self.helium_supply, self.helium_supply_to_bar),
        )
        return {name: bar for name, bar in drawn if name is not None and bar is not None}

    @property
    def draws(self) -> tuple[tuple[str, float], ...]:
        """What each supply gives, the whip's filling with it: names and amounts [mol].

        Where a filter tower's old gas goes in, it is what the compressor draws in meanwhile.
        """
        if self.supply is None or self.amount_mol is None:
            return ()
        if self.action != "flow":
            return ((self.supply, self.amount_mol + (self.whip_mol or 0.0)),)
        oxygen_mol, helium_mol = self.oxygen_mol or 0.0, self.helium_mol or 0.0
        injected = (
            (self.oxygen_supply or self.supply, oxygen_mol),
            (self.helium_supply or TOP_NAME, helium_mol),
            (TOP_NAME, self.amount_mol - oxygen_mol - helium_mol),
        )
        return tuple((name, mol) for name, mol in injected if mol > 0.0)

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
class Contribution:
    """What one doubt may cost a mix.

    Parameters
    ----------
    cause : str
        A stable word for it.
    text : str
        It in plain words.
    o2, he : float
        How far it alone may put the mix off, at its bound [1].
    """

    cause: str
    text: str
    o2: float
    he: float

    def in_words(self) -> str:
        """Return what it costs, in points."""
        helium = f", {self.he * 100:.1f} He" if self.he >= 0.0005 else ""
        return f"{self.text}: {self.o2 * 100:.1f} points{' O2' if helium else ''}{helium}"


@dataclass(frozen=True, slots=True)
class Assurance:
    """How far a plan's mix may be off before it is analysed.

    Parameters
    ----------
    o2_uncertainty, he_uncertainty : float
        Expanded uncertainties, k = 2 [1].
    pressure_uncertainty_bar : float
        That of the settled pressure, k = 2 [bar].
    gauge : str
        The gauge it is reckoned with.
    gauge_stated : bool
        Whether anybody said so, or a station has every gauge of the fill on record.
    on_record : tuple of str
        Names of the gauges on record that it is reckoned with.
    contributions : tuple of Contribution
        What may be off, the largest first.
    drawn : pair of pairs of float, or None
        Where 95 % of simulated fills lie: O2 and helium [1].
    """

    o2_uncertainty: float
    he_uncertainty: float
    pressure_uncertainty_bar: float
    gauge: str
    gauge_stated: bool
    contributions: tuple[Contribution, ...]
    drawn: tuple[tuple[float, float], tuple[float, float]] | None = None
    on_record: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The assurance JSON-ready."""
        found: dict[str, Any] = {
            "coverage_factor": 2,
            "pressure_uncertainty_bar": self.pressure_uncertainty_bar,
            "gauge": self.gauge,
            "gauge_stated": self.gauge_stated,
            "gauges_on_record": list(self.on_record),
            "contributions": [
                {**asdict(one), "words": one.in_words()} for one in self.contributions
            ],
        }
        if self.drawn is not None:
            o2, he = self.drawn
            found["simulated_95"] = {"o2": list(o2), "he": list(he)}
        return found


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
    assurance : Assurance or None
        How far the mix may be off; None where nobody has worked it out.
    """

    request: PlanRequest
    steps: tuple[Step, ...]
    result: Mix
    pressure_bar: float
    warnings: tuple[Caution, ...] = ()
    alternatives: tuple[dict[str, Any], ...] = ()
    scale: Scale | None = None
    assurance: Assurance | None = None

    def result_dict(self) -> dict[str, Any]:
        """The result JSON-ready; uncertainties nobody has worked out are null."""
        sure = self.assurance
        return {
            "o2": self.result.o2,
            "he": self.result.he,
            "pressure_bar": self.pressure_bar,
            "settled_temperature_c": self.request.settle_at_c,
            "o2_uncertainty": sure.o2_uncertainty if sure else None,
            "he_uncertainty": sure.he_uncertainty if sure else None,
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
            **({"uncertainty": self.assurance.as_dict()} if self.assurance else {}),
        }
