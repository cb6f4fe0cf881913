"""`fillwright best`: the mix for a dive, and what it allows there."""

from __future__ import annotations

from typing import Any

from blender.atmosphere import MAX_ALTITUDE_M, MIN_ALTITUDE_M, WATER_KG_M3, place
from blender.best_mix import DiveLimits, best_mix
from blender.depth import (
    LIMIT_DENSITY_G_L,
    MAX_DEPTH_M,
    NARCOTIC_LIMIT,
    RECOMMENDED_DENSITY_G_L,
    depth_figures,
)
from blender.errors import InputError
from blender.units import M_PER_FT, parse_length, parse_number
from tui.commands import depth as dive

_FOR = {"": "no helium is needed", "end": "helium for the END", "density": "helium for the density"}


def answer(
    at: str,
    ppo2: str = "1.4",
    end: str | None = None,
    density: str = f"{RECOMMENDED_DENSITY_G_L:g}",
    water: str | None = None,
    altitude: str | None = None,
    oxygen_narcotic: str = "yes",
) -> dict[str, Any]:
    """Answer the command from its options as typed, with JSON-ready unrounded figures."""
    metres, unit = parse_length(at, "depth", 0.0, MAX_DEPTH_M)
    kind = None if water is None else dive.choice(water, "--water", tuple(WATER_KG_M3))
    height = None
    if altitude is not None:
        height, _ = parse_length(altitude, "--altitude", MIN_ALTITUDE_M, MAX_ALTITUDE_M)
    where = place(kind, height)
    column, factor = (where.imperial, M_PER_FT) if unit == "ft" else (where.metric, 1.0)
    counted = dive.choice(oxygen_narcotic, "--oxygen-narcotic", ("yes", "no")) == "yes"
    limits = DiveLimits(dive.parse_ppo2(ppo2), _end(end, unit, factor), _density(density), counted)
    found = best_mix(metres / factor, column, limits)
    figures = depth_figures(found.whole, limits.ppo2, where, (metres, unit), counted)
    result: dict[str, Any] = {
        "o2": found.exact.o2,
        "he": found.exact.he,
        "name": dive.mix_name(found.whole),
        "gas": found.whole.as_dict(),
        "helium_for": found.helium_for,
        "end_limit": limits.end,
        "density_limit_g_l": limits.density_g_l,
        "water": kind,
        "altitude_m": height,
        **figures,
    }
    return result | {"warnings": dive.warnings_of(result)}


def _end(text: str | None, unit: str, factor: float) -> float | None:
    """Read the END limit, in the unit of the depth; 30 m or 100 ft if it is not given."""
    if text is None:
        return NARCOTIC_LIMIT[unit]
    if text.strip().lower() == "none":
        return None
    metres, _ = parse_length(text, "--end", 0.0, MAX_DEPTH_M)
    return metres / factor


def _density(text: str) -> float | None:
    word = text.strip().lower().removesuffix("g/l")
    if word == "none":
        return None
    value = parse_number(word, "--density")
    if not 1.0 <= value <= 20.0:
        allowed = f"give {RECOMMENDED_DENSITY_G_L}, {LIMIT_DENSITY_G_L}, another up to 20, or none"
        raise InputError("--density", repr(text), allowed)
    return value


def lines(answer: dict[str, Any]) -> list[str]:
    """Lay the answer out for a terminal of 80 columns."""
    exact = f"exactly {answer['o2']:.2%} oxygen"
    if answer["he"]:
        exact += f", {answer['he']:.2%} helium"
    return [f"{exact}; {_FOR[answer['helium_for']]}; in whole percent:", *dive.lines(answer)]
