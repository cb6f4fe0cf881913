"""The `plan` command as a pure function: typed strings in, the answer out."""

from __future__ import annotations

import math
import re
from typing import Any

from blender.errors import InputError
from blender.gas import Mix
from blender.planning import parse_gas_at, parse_want, plan
from blender.planning.certainty import with_certainty
from blender.planning.options import Options
from blender.planning.supplies import TOP_NAME, plain_name
from blender.planning.tower import TOWER_NAME
from blender.units import KG_PER_LB, bar_to_psi, c_to_f, parse_size


def answer(
    cylinder: str, have: str, want: str, *, simulate: str | None = None, **options: Any
) -> dict[str, Any]:
    """Plan a fill from what was typed; every bad word is an `InputError` naming its option.

    The options are the fields of `blender.planning.options.Options`.
    """
    draws = _draws(simulate)
    supply = tuple(options.pop("supply", ()))
    request = Options(supply=supply, **options).request(
        parse_size(cylinder, "--cylinder").volume_m3,
        parse_gas_at(have, "--have"),
        parse_want(want, "--want"),
    )
    found = with_certainty(plan(request), draws).as_dict()
    found["request"]["typed"] = {"cylinder": cylinder, "have": have, "want": want}
    return found


def lines(found: dict[str, Any]) -> list[str]:
    """Write an answer out the way it is read at the panel."""
    typed = found["request"].get("typed", {})
    face = _Face(" ".join(typed.values()))
    want = found["request"]["want"]
    written = [
        f"To {face.pressure(want['pressure_bar'])} of {_name(want['gas'])} by "
        f"{_by(found['method'])}, settled at {face.temperature(found['request']['settle_at_c'])}."
    ]
    for number, step in enumerate(found["steps"], start=1):
        written += [f"{number}. {_WRITERS[step['action']](step, face)}"]
        written += [f"   then it holds {_holds(step['holds'])}"]
    result = found["result"]
    written += [
        f"Result {_holds(result)} at {face.pressure(result['pressure_bar'])} and "
        f"{face.temperature(result['settled_temperature_c'])} if the stops are hit exactly."
    ]
    written += _certainty(found)
    written += [f"! {warning['text']}" for warning in found["warnings"]]
    written += [f"Or: {other['text']}" for other in found["alternatives"]]
    return [*written, CAUTION]


MOST_DRAWS = 100_000
CAUTION = (
    "For trained blenders. Local codes and the cylinder's own markings come first. Do not breathe "
    "from it, or hand it over, before it has been analysed."
)


def _draws(typed: str | None) -> int:
    """Read how many fills to simulate."""
    if typed is None:
        return 0
    count = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 8 else 0
    if not 100 <= count <= MOST_DRAWS:
        raise InputError("--simulate", repr(typed[:40]), f"100 to {MOST_DRAWS} fills")
    return count


def _certainty(found: dict[str, Any]) -> list[str]:
    """Say how far the mix may be off, and what that comes from."""
    sure, result = found.get("uncertainty"), found["result"]
    if sure is None:
        return []
    helium = f", He +- {result['he_uncertainty'] * 100:.1f}" if result["he"] > 5e-5 else ""
    unstated = "" if sure["gauge_stated"] else "; nobody said which gauge, see --gauge"
    if sure["gauges_on_record"]:
        unstated = f"; by gauge {' and '.join(sure['gauges_on_record'])} as on record"
    lines = [
        f"Sure to O2 +- {result['o2_uncertainty'] * 100:.1f}{helium} points (k = 2, before any "
        f"analysis{unstated}). Most of it:"
    ]
    lines += [f"   {one['words']}" for one in sure["contributions"][:2]]
    if "simulated_95" in sure:
        low, high = sure["simulated_95"]["o2"]
        lines += [f"   simulated, 95 in 100 fills hold between {low:.2%} and {high:.2%} O2"]
    return lines


def _by(method: str) -> str:
    return "banked mixes" if method == "banked" else method


class _Face:
    """Shows pressures and temperatures in the units that were typed."""

    def __init__(self, typed: str) -> None:
        self._shows_psi = "psi" in typed.lower()
        self._shows_f = re.search(r"\d\s*°?(?:deg)?f", typed, re.IGNORECASE) is not None

    def pressure(self, bar: float) -> str:
        """Return a gauge pressure, in psi as well if psi was typed."""
        psi = f" ({bar_to_psi(bar):.0f} psi)" if self._shows_psi else ""
        return f"{bar:.1f} bar{psi}"

    def pressure_down(self, bar: float) -> str:
        """Return a gauge pressure that is never above the true one."""
        psi = f" ({math.floor(bar_to_psi(bar) + 1e-6)} psi)" if self._shows_psi else ""
        return f"{math.floor(bar * 10.0 + 1e-6) / 10.0:.1f} bar{psi}"

    def mass(self, grams: float) -> str:
        """Return a mass, in pounds as well if psi was typed."""
        pounds = f" ({grams / KG_PER_LB / 1000.0:.3f} lb)" if self._shows_psi else ""
        return f"{grams:.2f}".rstrip("0").rstrip(".") + f" g{pounds}"

    def temperature(self, celsius: float) -> str:
        """Return a temperature."""
        return f"{c_to_f(celsius):.0f} degF" if self._shows_f else f"{celsius:.0f} degC"


def _name(gas: dict[str, float]) -> str:
    return plain_name(Mix(**gas))


def _drawn(step: dict[str, Any]) -> str:
    """Return the gas of a step, and where it comes from unless that is called the same."""
    gas = _name(step["gas"])
    return gas if gas == step["supply"] else f"{gas} from {step['supply']}"


def _holds(holds: dict[str, float]) -> str:
    helium = f", He {holds['he']:.1%}" if holds["he"] > 5e-5 else ""
    return f"O2 {holds['o2']:.1%}{helium}"


def _drain(step: dict[str, Any], face: _Face) -> str:
    return (
        f"Drain slowly, outdoors or to a vent line, {_until_scale(step, face)}to "
        f"{face.pressure_down(step['to_bar'])} at "
        f"{face.temperature(step['temperature_c'])} (rounded down; exactly {step['to_bar']:.3f} "
        f"bar). The gas cools and the gauge rises again{_after_drain(step)}."
    )


def _until_scale(step: dict[str, Any], face: _Face) -> str:
    return f"until the scale shows {face.mass(step['scale_g'])}, " if "scale_g" in step else ""


def _after_drain(step: dict[str, Any]) -> str:
    if "scale_g" in step:
        return ", the scale's reading stays: that one counts"
    return ": read it after the rest and plan the rest of the fill from that reading"


def _rest(step: dict[str, Any], face: _Face) -> str:
    return (
        f"Rest until mixed and at {face.temperature(step['temperature_c'])}; the gauge should show "
        f"{face.pressure(step['to_bar'])}."
    )


def _add(step: dict[str, Any], face: _Face) -> str:
    bottle = ""
    if "supply_to_bar" in step:
        bottle = (
            f"; {step['supply']} goes from {face.pressure(step['supply_from_bar'])} to "
            f"{face.pressure(step['supply_to_bar'])}"
        )
    by = " with the booster" if step.get("boosted") else ""
    if "scale_g" in step:
        return (
            f"Add {_drawn(step)}{by} until the scale shows "
            f"{face.mass(step['scale_g'])} ({face.mass(step['mass_g'])} of this gas); cross-check: "
            f"the gauge at {face.pressure(step['to_bar'])} if the gas is at "
            f"{face.temperature(step['temperature_c'])}{bottle}."
        )
    return (
        f"Add {_drawn(step)}{by} to {face.pressure(step['to_bar'])} at "
        f"{face.temperature(step['temperature_c'])} ({step['mass_g']:.0f} g){bottle}."
    )


def _purge(step: dict[str, Any], face: _Face) -> str:
    shown = vented = ""
    if "scale_g" in step:
        shown = f" (scale {face.mass(step['scale_g'])})"
        vented = f" (scale {face.mass(step['scale_vented_g'])})"
    return (
        f"Purge: let {_name(step['gas'])} in to {face.pressure(step['to_bar'])}{shown}, let it "
        f"mix, vent to {face.pressure(step['from_bar'])}{vented}."
    )


def _flow(step: dict[str, Any], face: _Face) -> str:
    oxygen = ""
    if "minutes" in step:
        oxygen = f", {step['oxygen_l_min']:.1f} L/min oxygen for {step['minutes']:.1f} min"
    old = ""
    if step.get("supply") == TOWER_NAME:
        old = f"the filter tower's {_name(step['gas'])} goes in first; hold from the start: "
    return (
        f"Compressor with {_injected(step)} to {face.pressure(step['to_bar'])} at "
        f"{face.temperature(step['temperature_c'])}: {old}{_helium(step)}intake "
        f"{step['intake_o2']:.2%} O2 dry, a true meter in the intake reads "
        f"{step['intake_reading']:.2%}{oxygen}{_bottles(step, face)}."
    )


def _injected(step: dict[str, Any]) -> str:
    if "intake_he" in step:
        return "helium, then oxygen in the intake"
    is_shut = step.get("supply") == TOP_NAME
    return "the oxygen shut" if is_shut else "oxygen in the intake"


def _helium(step: dict[str, Any]) -> str:
    """Return what to hold after the helium, for the gas that is injected first."""
    if "intake_he" not in step:
        return ""
    flow = f", {step['helium_l_min']:.1f} L/min helium" if "helium_l_min" in step else ""
    return (
        f"helium {step['intake_he']:.2%}, a true meter after it reads "
        f"{step['reading_before_oxygen']:.2%} before the oxygen is on and "
        f"{step['reading_after_helium']:.2%} with it{flow}; then "
    )


def _bottles(step: dict[str, Any], face: _Face) -> str:
    """Return where the bottles go that are injected from."""
    told = ""
    for key in ("supply", "oxygen_supply", "helium_supply"):
        if f"{key}_to_bar" in step:
            from_bar, to_bar = step[f"{key}_from_bar"], step[f"{key}_to_bar"]
            told += f"; {step[key]} goes from {face.pressure(from_bar)} to {face.pressure(to_bar)}"
    return told


def _analyse(_step: dict[str, Any], _face: _Face) -> str:
    return "Analyse; the label states what was analysed."


_WRITERS = {
    "drain": _drain,
    "rest": _rest,
    "add": _add,
    "purge": _purge,
    "flow": _flow,
    "analyse": _analyse,
}
