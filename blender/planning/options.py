"""The planning options as they are typed, and the request they make."""

from __future__ import annotations

import re
from dataclasses import dataclass, fields

from blender.gas import parse_gas
from blender.humidity import parse_air_state
from blender.planning.booster import parse_booster
from blender.planning.doubts import Doubts, parse_gauge
from blender.planning.mass import parse_scale
from blender.planning.request import ROLES, GasAt, PlanRequest
from blender.planning.supplies import DEFAULT_SUPPLIES, check_argon, parse_supply
from blender.planning.tower import parse_tower
from blender.planning.whip import parse_whip
from blender.units import (
    parse_ambient,
    parse_flow,
    parse_gauge_pressure,
    parse_percent,
    parse_temperature,
)

USUAL_TOP = "air"


@dataclass(frozen=True, slots=True)
class Options:
    """Planning options as typed; None is what was not given.

    Parameters
    ----------
    method : str
        ``partial-pressure``, ``continuous-flow``, ``banked`` or ``mass``.
    supply : tuple of str
        Supplies; none means unlimited oxygen and helium.
    top : str or None
        The top gas; None is air, which nobody asked for.
    temperature, settle_at, ambient, limit, rated_intake, intake_air, delivery : str
        See `PlanRequest`; with their units.
    oxygen_minimum, purge_to, order, way : str
        As above.
    draw, whip, booster, compressor_max : str
        As above: ``b3,b1``, ``0.15L``, ``15bar/30/250bar``, ``232bar``.
    oxygen_line, scale : str
        As above: ``40%``, ``5g``.
    gauge, temperature_kind : str
        See `Doubts`: ``1.6@400bar``, ``gas``.
    air_first, least_step : str
        See `PlanRequest`: ``100psi``, ``0.5bar``.
    inject, tower : str
        As above: ``helium,oxygen``, ``3L@150bar:air``.

    Examples
    --------
    >>> from blender.planning.request import parse_gas_at, parse_want
    >>> have, want = parse_gas_at("60bar:EAN28", "have"), parse_want("230bar:EAN32")
    >>> Options(limit="232bar").request(0.012, have, want).limit_bar
    232.0
    """

    method: str = "partial-pressure"
    supply: tuple[str, ...] = ()
    top: str | None = None
    temperature: str | None = None
    settle_at: str = "20C"
    ambient: str | None = None
    limit: str | None = None
    rated_intake: str | None = None
    intake_air: str | None = None
    delivery: str | None = None
    oxygen_minimum: str = "99%"
    purge_to: str = "10bar"
    order: str | None = None
    way: str | None = None
    draw: str | None = None
    whip: str | None = None
    booster: str | None = None
    compressor_max: str | None = None
    oxygen_line: str | None = None
    scale: str | None = None
    gauge: str | None = None
    temperature_kind: str | None = None
    air_first: str | None = None
    least_step: str | None = None
    inject: str | None = None
    tower: str | None = None

    def request(self, volume_m3: float, have: GasAt, want: GasAt) -> PlanRequest:
        """Return the request these options make.

        Raises
        ------
        InputError
            If an option cannot be read; it names the option.
        """
        typed_top = USUAL_TOP if self.top is None else self.top
        top = parse_gas(typed_top, "--top")
        check_argon(top, typed_top, "--top")
        return PlanRequest(
            volume_m3=volume_m3,
            have=have,
            want=want,
            method=self.method,
            supplies=tuple(parse_supply(text, "--supply") for text in self.supply)
            or DEFAULT_SUPPLIES,
            top=top,
            temperatures_c=_temperatures(self.temperature),
            settle_at_c=parse_temperature(self.settle_at, "--settle-at"),
            ambient_bar=parse_ambient(self.ambient or "1.01325bar", "--ambient"),
            limit_bar=_maybe_pressure(self.limit),
            order=ROLES if self.order is None else tuple(_words(self.order)),
            rated_intake=_maybe_fraction(self.rated_intake, "--rated-intake"),
            intake_air=None
            if self.intake_air is None
            else parse_air_state(self.intake_air, "--intake-air"),
            delivery_l_min=None
            if self.delivery is None
            else parse_flow(self.delivery, "--delivery"),
            oxygen_minimum=_fraction(self.oxygen_minimum, "--oxygen-minimum"),
            purge_to_bar=parse_gauge_pressure(self.purge_to, "--purge-to"),
            way=(self.way or "").strip(),
            draw=() if self.draw is None else tuple(_words(self.draw)),
            whip_m3=0.0 if self.whip is None else parse_whip(self.whip, "--whip"),
            booster=None if self.booster is None else parse_booster(self.booster, "--booster"),
            compressor_max_bar=_maybe_pressure(self.compressor_max, "--compressor-max"),
            oxygen_line=_maybe_fraction(self.oxygen_line, "--oxygen-line"),
            scale_g=None if self.scale is None else parse_scale(self.scale, "--scale"),
            air_first_bar=_maybe_pressure(self.air_first, "--air-first") or 0.0,
            least_step_bar=_maybe_pressure(self.least_step, "--least-step") or 0.0,
            doubts=Doubts(
                None if self.gauge is None else parse_gauge(self.gauge, "--gauge"),
                (self.temperature_kind or "gas").strip().lower(),
            ),
            inject=() if self.inject is None else tuple(_words(self.inject)),
            tower=None if self.tower is None else parse_tower(self.tower, "--tower"),
        )

    def typed(self) -> dict[str, str | list[str]]:
        """Return the options that were given or have a default, as typed."""
        found: dict[str, str | list[str]] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if value is not None and value != ():
                found[field.name] = list(value) if isinstance(value, tuple) else value
        return found


def _temperatures(typed: str | None) -> tuple[float, ...]:
    """Read one temperature or a list; a comma after a unit parts them, others are decimal."""
    if typed is None:
        return (20.0,)
    parts = re.split(r"(?<=[A-Za-z])\s*,", typed) if len(typed) <= 200 else [typed]
    return tuple(parse_temperature(part, "--temperature") for part in parts)


def _words(typed: str) -> list[str]:
    return [word.strip() for word in typed.split(",")]


def _maybe_pressure(typed: str | None, field: str = "--limit") -> float | None:
    return None if typed is None else parse_gauge_pressure(typed, field)


def _maybe_fraction(typed: str | None, field: str) -> float | None:
    return None if typed is None else _fraction(typed, field)


def _fraction(typed: str, field: str) -> float:
    return round(parse_percent(typed, field) / 100.0, 12)
