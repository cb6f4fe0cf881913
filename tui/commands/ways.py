"""`fillwright ways`: the ways on from a gas that is not what was wanted, the best first."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from blender.errors import InputError
from blender.planning import GasAt, PlanRequest, parse_gas_at, parse_want
from blender.planning.options import Options
from blender.planning.ways import ways
from blender.units import parse_size
from blender.vessel import contents_at, joined
from tui.commands.plan import CAUTION

_BLEED = (
    "A bleed takes the gas as it lies at the valve: let it mix, analyse it, and only then drain, "
    "outdoors or to a vent line, slowly."
)


def answer(
    cylinder: str, have: str, want: str, other_half: str | None = None, **options: Any
) -> dict[str, Any]:
    """List the ways on; the options are those of a plan."""
    supply = tuple(options.pop("supply", ()))
    size = parse_size(cylinder, "--cylinder")
    request = Options(supply=supply, **options).request(
        size.volume_m3, parse_gas_at(have, "--have"), parse_want(want, "--want")
    )
    if other_half is not None:
        request = replace(request, have=_opened(request, parse_gas_at(other_half, "--other-half")))
    found: dict[str, Any] = {
        "request": request.as_dict(),
        "ways": [way.as_dict() for way in ways(request)],
    }
    found["request"]["typed"] = {"cylinder": cylinder, "have": have, "want": want}
    return found


def _opened(request: PlanRequest, other: GasAt) -> GasAt:
    """Return what a set holds once the isolator between its halves is opened and gas has mixed."""
    volume, around, pairs = request.volume_m3 / 2.0, request.ambient_bar, request.pairs
    first_c = request.first_temperature_c

    def half(side: GasAt) -> Any:
        at_c = first_c if side.temperature_c is None else side.temperature_c
        return contents_at(side.mix, side.gauge_bar, at_c, volume, around, pairs)

    both = joined(half(request.have), half(other))
    gauge_bar = both.gauge_bar(first_c, around)
    if gauge_bar < 0.0:
        raise InputError("--other-half", f"{other.gauge_bar:g} bar", "give gauge pressures above 0")
    return GasAt(gauge_bar, both.mix, first_c, "both halves together")


def lines(found: dict[str, Any]) -> list[str]:
    """Write the ways out, the best first, with their stops."""
    now = found["request"]["have"]
    helium = f", He {now['gas']['he']:.2%}" if now["gas"]["he"] > 5e-5 else ""
    told = [f"Now {now['pressure_bar']:.1f} bar of O2 {now['gas']['o2']:.2%}{helium}."]
    for number, way in enumerate(found["ways"], start=1):
        told.append(f"{number}. {way['kind']}: {way['text']}")
        told += [f"     {_stop(step)}" for step in way["steps"] if step["action"] != "analyse"]
    return [*told, _BLEED, "`plan --way KIND` plans one of them.", CAUTION]


def _stop(step: dict[str, Any]) -> str:
    named = f" {step['supply']}" if "supply" in step else ""
    return (
        f"{step['action']}{named} to {step['to_bar']:.1f} bar at {step['temperature_c']:.0f} degC"
    )
