"""What is asked of the planner: a cylinder, what is in it, what is wanted, and with what."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from blender.errors import InputError
from blender.gas import AIR, Mix, parse_gas
from blender.humidity import AirState
from blender.planning.booster import Booster
from blender.planning.doubts import Doubts
from blender.planning.draw import Equipment
from blender.planning.supplies import DEFAULT_SUPPLIES, TOP_NAME, Supply, check_argon, check_names
from blender.planning.tower import TOWER_NAME, Tower
from blender.realgas import PAIR_SETS, PUBLISHED
from blender.units import parse_gauge_pressure, parse_temperature
from blender.vessel import STANDARD_AMBIENT_BAR, Contents, contents_at

ROLES = ("helium", "oxygen", TOP_NAME)
# What may be injected into a compressor's intake, in the order of the inlets along it.
INJECTED = (("oxygen",), ("helium", "oxygen"))
# Nothing richer goes into a banked fill, if the request does not say otherwise.  Lines for oxygen
# service in print lie between 22 and 40 % (29 CFR 1910.430, 46 CFR 197.326: over 40 %).
OXYGEN_LINE = 0.40
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class GasAt:
    """A gas at a gauge pressure, and at a temperature if one was given.

    Parameters
    ----------
    gauge_bar : float
        Gauge pressure [bar].
    mix : Mix
        The gas.
    temperature_c : float or None
        Temperature of the gas at that pressure [degC], None if not given.
    gas_text : str
        The gas as typed.

    Examples
    --------
    >>> parse_gas_at("60bar@33C:EAN28", "have").temperature_c
    33.0
    """

    gauge_bar: float
    mix: Mix
    temperature_c: float | None = None
    gas_text: str = ""

    @property
    def oxygen_only(self) -> bool:
        """True for the bare word: fill with oxygen alone, to at least the station's minimum."""
        return self.gas_text.strip().lower() in ("oxygen", "o2")


def parse_gas_at(text: str, field: str) -> GasAt:
    """Read a gas at a pressure: ``60bar:EAN28`` or ``60bar@33C:EAN28``.

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        The field's name, for the error message.

    Returns
    -------
    GasAt
        What was understood.

    Raises
    ------
    InputError
        If it cannot be read, or the gas is mostly argon.

    Examples
    --------
    >>> round(parse_gas_at("700psi@75F:air", "have").gauge_bar, 3)
    48.263
    """
    return _gas_at(text, field)


@lru_cache(maxsize=128)  # each gate of an act reads the same words again
def _gas_at(text: str, field: str) -> GasAt:
    pressure_text, colon, gas_text = text.partition(":")
    if not colon or len(text) > 120:
        raise InputError(field, repr(text[:120]), "give PRESSURE:GAS such as 60bar:EAN28")
    pressure_text, at, temperature_text = pressure_text.partition("@")
    temperature_c = parse_temperature(temperature_text, field) if at else None
    gas = parse_gas(gas_text, field)
    check_argon(gas, text, field)
    gauge_bar = parse_gauge_pressure(pressure_text, field)
    return GasAt(gauge_bar, gas, temperature_c, gas_text.strip())


def parse_want(text: str, field: str = "--want") -> GasAt:
    """Read what is wanted: ``230bar:EAN32``, or ``150bar:oxygen`` for oxygen only.

    Parameters
    ----------
    text : str
        What was typed.
    field : str
        The field's name, for the error message.

    Returns
    -------
    GasAt
        What was understood; it has no temperature.

    Raises
    ------
    InputError
        If it cannot be read, has a temperature of its own, or nobody could breathe it.

    Examples
    --------
    >>> parse_want("150bar:oxygen").oxygen_only, parse_want("150bar:1.0/0").oxygen_only
    (True, False)
    """
    want = parse_gas_at(text, field)
    if want.temperature_c is not None:
        raise InputError(field, repr(text), "say where it counts with settle-at, not with @")
    if want.mix.o2 <= 0.0 or not want.mix.breathable_kind:
        raise InputError(field, repr(text), "this is no gas for breathing; ask for one with oxygen")
    return want


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """Everything a plan depends on.

    Parameters
    ----------
    volume_m3 : float
        Water capacity of the gas space [m3].
    have, want : GasAt
        What is in the cylinder, and what shall be.
    method : str
        ``partial-pressure``, ``continuous-flow``, ``banked`` or ``mass``.
    supplies : tuple of Supply
        What can be let in besides `top`.
    top : Mix
        The unlimited gas the fill is topped with, usually air.
    temperatures_c : tuple of float
        Temperature of the gas at each stop [degC], one per adding gas, or one for all.
        The first also serves the residual (unless `have` has its own), drain and purge.
    settle_at_c : float
        Temperature at which the wanted pressure counts [degC].
    ambient_bar : float
        Ambient (absolute) pressure [bar]; gauges count from it.
    limit_bar : float or None
        Highest settled gauge pressure allowed [bar].
    order : tuple of str
        The order of ``helium``, ``oxygen`` and ``top``.
    rated_intake : float or None
        Highest oxygen fraction the compressor is rated for [1]; continuous flow needs it.
    intake_air : AirState or None
        Temperature and humidity of the air drawn in; None is taken as dry.
    delivery_l_min : float or None
        Delivery of the compressor at its inlet [L/min].
    purge_to_bar : float
        Gauge pressure oxygen is let in to at each purge [bar].
    oxygen_minimum : float
        What a request for oxygen must reach [1].
    pairs : str
        Name of the set of pair parameters of the equation of state.
    way : str
        Which way on from a gas that is not what was wanted, see `ways`; empty for the usual.
    draw : tuple of str
        Supplies in the order in which to open them; of their gases no others are opened.
    whip_m3 : float
        Dead volume of the whip, see `whip` [m3].
    booster : Booster or None
        The booster, if there is one.
    compressor_max_bar : float or None
        Highest gauge pressure the top gas is compressed to [bar].
    oxygen_line : float or None
        Richest gas that goes into a banked fill [1]; None is `OXYGEN_LINE`.
    scale_g : float or None
        Smallest step the scale shows [g], for a fill by mass; None if nobody said.
    doubts : Doubts
        How far what is read may be off.
    inject : tuple of str
        What is injected into the intake, see `INJECTED`; empty is oxygen alone.
    tower : Tower or None
        The filter tower with its old gas, if the plan is to allow for it.
    air_first_bar : float
        Least gauge pressure in the cylinder before rich gas is let in [bar]; 0 is no such rule.
    least_step_bar : float
        A gas that would raise the gauge by less is left out where the mix lands near enough
        without it [bar]; by mass the scale's step counts instead.  0 leaves nothing out.

    Examples
    --------
    >>> from blender.planning import plan
    >>> request = PlanRequest(
    ...     0.012, parse_gas_at("60bar@20C:EAN28", "have"), parse_want("230bar:EAN32")
    ... )
    >>> [round(step.to_bar, 3) for step in plan(request).steps if step.action == "add"]
    [84.425, 230.0]
    """

    volume_m3: float
    have: GasAt
    want: GasAt
    method: str = "partial-pressure"
    supplies: tuple[Supply, ...] = DEFAULT_SUPPLIES
    top: Mix = AIR
    temperatures_c: tuple[float, ...] = (20.0,)
    settle_at_c: float = 20.0
    ambient_bar: float = STANDARD_AMBIENT_BAR
    limit_bar: float | None = None
    order: tuple[str, ...] = ROLES
    rated_intake: float | None = None
    intake_air: AirState | None = None
    delivery_l_min: float | None = None
    purge_to_bar: float = 10.0
    oxygen_minimum: float = 0.99
    pairs: str = PUBLISHED
    way: str = ""
    draw: tuple[str, ...] = ()
    whip_m3: float = 0.0
    booster: Booster | None = None
    compressor_max_bar: float | None = None
    oxygen_line: float | None = None
    scale_g: float | None = None
    doubts: Doubts = field(default_factory=Doubts)
    inject: tuple[str, ...] = ()
    tower: Tower | None = None
    air_first_bar: float = 0.0
    least_step_bar: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what cannot be planned with at all."""
        check_names(self.supplies)
        if sorted(self.order) != sorted(ROLES):
            raise InputError(
                "--order", ",".join(self.order), f"name each once of {', '.join(ROLES)}"
            )
        if self.pairs not in PAIR_SETS:
            raise InputError("pairs", repr(self.pairs), f"the sets are {', '.join(PAIR_SETS)}")
        if not self.temperatures_c:
            raise InputError("--temperature", "nothing", "give one for all stops or one per gas")
        if not 0.0 < self.purge_to_bar <= 50.0:
            raise InputError("--purge-to", f"{self.purge_to_bar:g} bar", "a purge goes to 0-50 bar")
        if not 0.0 <= self.air_first_bar <= 50.0:
            given = f"{self.air_first_bar:g} bar"
            raise InputError("--air-first", given, "0 to 50 bar before oxygen; 100 psi is usual")
        if not 0.0 <= self.least_step_bar <= 2.0:
            given = f"{self.least_step_bar:g} bar"
            raise InputError("--least-step", given, "0 to 2 bar; 0.5 bar is half of what is read")
        self._check_method_options()
        self._check_run()

    def _check_run(self) -> None:
        """Refuse what belongs to a run of the compressor where there is none."""
        if self.method != "continuous-flow":
            self.check_plain(f"--method {self.method}")
        if self.way:
            self.check_plain(f"--way {self.way}")
        if self.inject and self.inject not in INJECTED:
            allowed = "oxygen, or helium,oxygen in this order: helium first along the intake"
            raise InputError("--inject", ",".join(self.inject), allowed)
        if self.tower and any(supply.name == TOWER_NAME for supply in self.supplies):
            raise InputError(
                "--supply", TOWER_NAME, "with --tower the filter tower has that name; use another"
            )

    def check_plain(self, where: str) -> None:
        """Refuse what only a run of the compressor can make use of.

        Parameters
        ----------
        where : str
            What cannot.

        Raises
        ------
        InputError
            If something is to be injected, or there is a tower to allow for.
        """
        allowed = "it belongs to --method continuous-flow, without --way"
        if self.inject:
            raise InputError("--inject", f"{','.join(self.inject)} with {where}", allowed)
        if self.tower is not None:
            litres = self.tower.volume_m3 * 1000.0
            raise InputError("--tower", f"{litres:g} L with {where}", allowed)

    def _check_method_options(self) -> None:
        """Refuse an option of another method, and a banked fill topped with rich gas."""
        if self.oxygen_line is not None and self.method != "banked":
            given = f"{self.oxygen_line:g} with --method {self.method}"
            raise InputError("--oxygen-line", given, "it belongs to --method banked")
        if self.scale_g is not None and self.method != "mass":
            given = f"{self.scale_g:g} g with --method {self.method}"
            raise InputError("--scale", given, "it belongs to --method mass")
        if not self.lets_in(self.top):
            allowed = f"a banked fill handles nothing above {self.richest_o2:.1%} O2"
            raise InputError("--top", f"{self.top.o2:.1%} O2", allowed)

    @property
    def richest_o2(self) -> float:
        """Largest oxygen fraction that may go in by this method [1]."""
        if self.method != "banked":
            return 1.0
        return OXYGEN_LINE if self.oxygen_line is None else self.oxygen_line

    def lets_in(self, gas: Mix) -> bool:
        """Tell whether a gas may go in by this method."""
        return gas.o2 <= self.richest_o2 + _ROUNDING

    @property
    def first_temperature_c(self) -> float:
        """Temperature of the gas before anything is let in [degC]."""
        return self.temperatures_c[0]

    @property
    def equipment(self) -> Equipment:
        """What stands between the supplies and the cylinder."""
        return Equipment(self.draw, self.whip_m3, self.booster, self.compressor_max_bar)

    def residual(self) -> Contents:
        """Return what is in the cylinder, at the temperature of its reading."""
        have = self.have
        at_c = self.first_temperature_c if have.temperature_c is None else have.temperature_c
        return contents_at(
            have.mix, have.gauge_bar, at_c, self.volume_m3, self.ambient_bar, self.pairs
        )

    def as_dict(self) -> dict[str, Any]:
        """The request as understood, JSON-ready: bar gauge, L, degC; what was not given is out."""
        have_c = self.have.temperature_c
        described: dict[str, Any] = {
            "cylinder_l": self.volume_m3 * 1000.0,
            "have": {
                "pressure_bar": self.have.gauge_bar,
                "temperature_c": self.first_temperature_c if have_c is None else have_c,
                "gas": self.have.mix.as_dict(),
            },
            "want": {"pressure_bar": self.want.gauge_bar, "gas": self.want.mix.as_dict()},
            "method": self.method,
            "supplies": [supply.as_dict() for supply in self.supplies],
            "top": self.top.as_dict(),
            "temperatures_c": list(self.temperatures_c),
            "settle_at_c": self.settle_at_c,
            "ambient_bar": self.ambient_bar,
            "order": list(self.order),
            "pairs": self.pairs,
        }
        if self.want.oxygen_only:
            described["oxygen_minimum"] = self.oxygen_minimum
            described["purge_to_bar"] = self.purge_to_bar
        optional = {
            "limit_bar": self.limit_bar,
            "rated_intake": self.rated_intake,
            "delivery_l_min": self.delivery_l_min,
            "draw": list(self.draw) or None,
            "whip_l": self.whip_m3 * 1000.0 or None,
            "booster": self.booster.as_dict() if self.booster else None,
            "compressor_max_bar": self.compressor_max_bar,
            "oxygen_line": self.richest_o2 if self.method == "banked" else None,
            "scale_g": self.scale_g,
            "air_first_bar": self.air_first_bar or None,
            "least_step_bar": self.least_step_bar or None,
            "inject": list(self.inject) or None,
            "tower": self.tower.as_dict() if self.tower else None,
        }
        described |= {key: value for key, value in optional.items() if value is not None}
        if self.way:
            described["way"] = self.way
        if self.doubts != Doubts():
            described |= self.doubts.as_dict()
        if self.intake_air is not None:
            described["intake_air"] = {
                "temperature_c": self.intake_air.temperature_c,
                "humidity": self.intake_air.humidity,
            }
        return described
