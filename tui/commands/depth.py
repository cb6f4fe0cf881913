"""`fillwright depth`: what a gas allows under water."""

from __future__ import annotations

from typing import Any

from blender.atmosphere import MAX_ALTITUDE_M, MIN_ALTITUDE_M, WATER_KG_M3, place
from blender.depth import (
    LIMIT_DENSITY_G_L,
    MAX_DEPTH_M,
    MAX_PPO2,
    MIN_PPO2,
    NARCOTIC_LIMIT,
    RECOMMENDED_DENSITY_G_L,
    WORKING_PPO2,
    depth_figures,
    require_breathable,
)
from blender.errors import InputError
from blender.gas import AIR_O2, Mix, name_of, parse_gas
from blender.rounding import RELATIVE_TOLERANCE, round_down, round_up
from blender.units import parse_length, parse_number

ANALYSE_TEXT = (
    "These figures hold for exactly this mix: analyse the gas before every dive, and stay "
    "inside your training, your tables and your local rules."
)
_WIDTH, _HEIGHT = 78, 24


def answer(
    gas: str,
    ppo2: str = "1.4",
    water: str | None = None,
    altitude: str | None = None,
    at: str | None = None,
    oxygen_narcotic: str = "yes",
) -> dict[str, Any]:
    """Answer the command from its options as typed, with JSON-ready unrounded figures."""
    breathed = parse_gas(gas, "GAS")
    require_breathable(breathed, "GAS")
    limit = parse_ppo2(ppo2)
    kind = None if water is None else choice(water, "--water", tuple(WATER_KG_M3))
    height = None
    if altitude is not None:
        height, _ = parse_length(altitude, "--altitude", MIN_ALTITUDE_M, MAX_ALTITUDE_M)
    where = place(kind, height)
    at_surface = breathed.o2 * where.metric.surface
    if at_surface > limit * (1.0 + RELATIVE_TOLERANCE):
        allowed = f"this gas has {at_surface:.3g} bar already at the surface; give at least that"
        raise InputError("--ppo2", repr(ppo2), allowed)
    depth = None if at is None else parse_length(at, "--at", 0.0, MAX_DEPTH_M)
    narcotic = choice(oxygen_narcotic, "--oxygen-narcotic", ("yes", "no")) == "yes"
    result: dict[str, Any] = {
        "name": mix_name(breathed),
        "gas": breathed.as_dict(),
        "water": kind,
        "altitude_m": height,
        **depth_figures(breathed, limit, where, depth, narcotic),
    }
    return result | {"warnings": warnings_of(result)}


def warnings_of(figures: dict[str, Any]) -> list[dict[str, str]]:
    """Return the cautions of a gas: everywhere, and at the depth asked for."""
    return _limit_warnings(figures) + _depth_warnings(figures)


def parse_ppo2(text: str) -> float:
    """Read a ppO2 [bar or ata]; its unit may be left out."""
    number = text.strip().lower().removesuffix("bar").removesuffix("ata")
    try:
        value = parse_number(number, "--ppo2")
    except InputError as error:
        raise InputError("--ppo2", repr(text), error.allowed) from None
    if not MIN_PPO2 <= value <= MAX_PPO2:
        allowed = f"allowed is {MIN_PPO2} to {MAX_PPO2} bar; {WORKING_PPO2} is the working limit"
        raise InputError("--ppo2", repr(text), allowed)
    return value


def choice(text: str, field: str, allowed: tuple[str, ...]) -> str:
    """Read one of a few words."""
    word = text.strip().lower()
    if word not in allowed:
        raise InputError(field, repr(text), "allowed is " + " or ".join(allowed))
    return word


def mix_name(gas: Mix) -> str:
    """Name a mix with a decimal only where it needs one."""
    whole = all(abs(x * 100.0 - round(x * 100.0)) < 1e-9 for x in (gas.o2, gas.he))
    return name_of(gas, 0 if whole else 1)


def _above(value: float, limit: float) -> bool:
    return value > limit * (1.0 + RELATIVE_TOLERANCE)


def _warning(code: str, text: str) -> dict[str, str]:
    return {"code": code, "text": text}


def _limit_warnings(figures: dict[str, Any]) -> list[dict[str, str]]:
    """Cautions about the gas, wherever it is breathed."""
    found = []
    if figures["floor_m"] > RELATIVE_TOLERANCE and figures["gas"]["o2"] > AIR_O2 - 0.0005:
        text = f"at this altitude the open air itself is below ppO2 {figures['floor_ppo2']:g}"
        found.append(_warning("thin-air", text))
    elif figures["floor_m"] > RELATIVE_TOLERANCE:
        floor = _both(figures, "floor")
        text = f"HYPOXIC at the surface: do not breathe it above {floor}"
        found.append(_warning("hypoxic", text))
    if _above(figures["ppo2"], WORKING_PPO2):
        text = f"ppO2 {figures['ppo2']:g} is above the usual working limit of {WORKING_PPO2}"
        found.append(_warning("high-ppo2", text))
    if figures["altitude_m"]:
        text = "tables and limits made for sea level do not hold at altitude as they stand"
        found.append(_warning("altitude", text))
    if figures["altitude_m"] is not None and figures["water"] is None:
        found.append(_warning("water-assumed", "water not given: counted as salt"))
    if figures["gas"]["he"] >= 0.0005:
        text = "no EAD: it says nothing about decompression from a helium mix"
        found.append(_warning("no-ead", text))
    return found


def _depth_warnings(figures: dict[str, Any]) -> list[dict[str, str]]:
    """Cautions about the gas at the depth that was asked for."""
    if figures["at_m"] is None:
        return []
    unit = "ft" if figures["ppo2_unit"] == "ata" else "m"
    found = []
    if _above(figures["ppo2_at"], figures["ppo2"]):
        text = f"TOO DEEP for this gas: its maximum depth is {_both(figures, 'mod')}"
        found.append(_warning("beyond-mod", text))
    if _above(figures["floor_ppo2"], figures["ppo2_at"]):
        text = f"TOO SHALLOW for this gas: hypoxic above {_both(figures, 'floor')}"
        found.append(_warning("above-floor", text))
    if _above(figures[f"end_{unit}"], NARCOTIC_LIMIT[unit]):
        text = f"narcosis: END is deeper than {NARCOTIC_LIMIT[unit]:g} {unit}"
        found.append(_warning("narcotic", text))
    density = figures["density_g_l"]
    if _above(density, LIMIT_DENSITY_G_L):
        text = f"gas denser than {LIMIT_DENSITY_G_L} g/L: carbon dioxide builds up; choose helium"
        found.append(_warning("too-dense", text))
    elif _above(density, RECOMMENDED_DENSITY_G_L):
        text = f"gas denser than the recommended {RECOMMENDED_DENSITY_G_L} g/L"
        found.append(_warning("dense", text))
    return found


def lines(answer: dict[str, Any]) -> list[str]:
    """Lay the answer out for a terminal of 80 columns."""
    gas = answer["gas"]
    parts = {"oxygen": gas["o2"], "helium": gas["he"], "nitrogen + argon": gas["n2"] + gas["ar"]}
    heading = ", ".join(f"{name} {x * 100:.1f} %" for name, x in parts.items() if x > 1e-9)
    text = [f"{answer['name']}: {heading}", f"Counted by {answer['convention']}", ""]
    text += _limit_lines(answer)
    if answer["at_m"] is not None:
        text += ["", *_depth_lines(answer)]
    text.append("")
    for caution in [*(w["text"] for w in answer["warnings"]), ANALYSE_TEXT]:
        text += wrapped(f"! {caution}")
    # Many cautions push the blank lines out, so that none of them scrolls off.
    return text if len(text) < _HEIGHT else [row for row in text if row]


def _limit_lines(answer: dict[str, Any]) -> list[str]:
    counted = "oxygen counted" if answer["oxygen_narcotic"] else "nitrogen only"
    return [
        _row(f"Maximum depth (MOD) at ppO2 {answer['ppo2']:g}", answer, "mod"),
        _row(f"Least depth (floor) at ppO2 {answer['floor_ppo2']:g}", answer, "floor"),
        _row(f"Narcotic limit (MND), {counted}", answer, "mnd"),
        _time_row(f"Oxygen exposure at ppO2 {answer['ppo2']:g}", answer, "_at_mod_min"),
    ]


def _depth_lines(answer: dict[str, Any]) -> list[str]:
    at_m, at_ft, unit = answer["at_m"], answer["at_ft"], answer["ppo2_unit"]
    oxygen = round_up(answer["ppo2_at"], 0.01)
    density, best = round_up(answer["density_g_l"], 0.1), round_down(answer["best_o2"] * 100, 0.1)
    return [
        f"At {at_m:.1f} m ({at_ft:.1f} ft)",
        f"{'ppO2':44}{oxygen:.2f} {unit}",
        _row("Equivalent air depth (EAD)", answer, "ead"),
        _row("Equivalent narcotic depth (END)", answer, "end"),
        f"{'Gas density (taken at 0 degC)':44}{density:.1f} g/L",
        _time_row("Oxygen exposure", answer, "_min"),
        f"{'Richest mix for this depth':44}{best:.1f} % oxygen",
    ]


def _row(label: str, answer: dict[str, Any], key: str) -> str:
    return f"{label:44}{_both(answer, key)}"


def _both(answer: dict[str, Any], key: str) -> str:
    """Give a depth rounded to the safe side, in metres and in feet."""
    metre, feet = answer[f"{key}_m_shown"], answer[f"{key}_ft_shown"]
    if metre is None:
        return "does not apply"
    if metre == 0 and key == "floor":
        return "the surface"
    return f"{metre} m / {feet} ft"


def _time_row(label: str, answer: dict[str, Any], key: str) -> str:
    single, day = answer[f"exposure{key}"], answer[f"exposure_24h{key}"]
    if single is None:
        return f"{label:44}outside the table (0.60 to 1.60)"
    return f"{label:44}{single} min one dive, {day} min in 24 h"


def wrapped(caution: str) -> list[str]:
    """Break a caution into lines, the second and later ones indented."""
    rows = [""]
    for word in caution.split():
        if rows[-1] and len(rows[-1]) + len(word) >= _WIDTH:
            rows.append(" ")
        rows[-1] += f" {word}" if rows[-1] else word
    return rows
