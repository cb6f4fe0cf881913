"""`fillwright analyse`: what a reading means, and what becomes of the cylinder."""

from __future__ import annotations

from typing import Any

from blender.analysis import (
    Calibration,
    check_ambient,
    correct,
    expanded,
    uncertainty_components,
    unstated_calibration,
)
from blender.decision import Reading, decide
from blender.depth import DEFAULT_PPO2, MIN_BREATHABLE_O2, limits_from_readings, require_breathable
from blender.errors import InputError
from blender.gas import AIR, Mix, parse_gas
from blender.humidity import parse_air_state
from blender.rounding import deeper, shallower
from blender.units import bar_to_pa, pa_to_bar, parse_ambient, parse_number, parse_percent
from tui.commands.depth import mix_name, wrapped

HIGHEST_READING_PERCENT = 106.0  # a meter set too high on damp air shows this on oxygen
SUM_EXCESS = 0.005
DIVER_TEXT = "The diver analyses this cylinder too, again before use, and signs for it."
_UNCOUNTED = "the reading is taken as it is, its uncertainty made larger"


def answer(
    reading: str,
    helium: str | None = None,
    calibrated: str | None = None,
    calibration_air: str | None = None,
    calibration_ambient: str = "1.01325bar",
    ambient: str = "1.01325bar",
    wanted: str | None = None,
) -> dict[str, Any]:
    """Answer the command from its options as typed, with JSON-ready unrounded figures."""
    shown = _reading(reading)
    now_pa = bar_to_pa(parse_ambient(ambient, "--ambient"))
    calibration = _calibration(calibrated, calibration_air, calibration_ambient)
    check_ambient(calibration.ambient_pa, now_pa, "--ambient")
    o2 = correct(shown, calibration, now_pa, "--reading")
    he = None if helium is None else _helium(helium, o2)
    goal = _wanted(wanted, he)
    verdict = decide([Reading(o2, he)], goal)
    parts = uncertainty_components(shown, calibration, now_pa)
    return {
        "o2": o2,
        "o2_uncertainty": expanded(parts),
        "he": he,
        "he_uncertainty": None,
        "decision": verdict.decision,
        "reasons": [{"code": code, "text": text} for code, text in verdict.reasons],
        "reading_percent": shown,
        "calibration": _as_dict(calibration),
        "ambient_bar": pa_to_bar(now_pa),
        "uncertainty_components": parts,
        "wanted": None if goal is None else {"o2": goal.o2, "he": goal.he, "name": mix_name(goal)},
        **_limits(o2),
        "warnings": _warnings(calibration, calibration_air, o2),
    }


def _reading(text: str) -> float:
    value = parse_number(text.strip().removesuffix("%"), "--reading")
    if not 0.0 <= value <= HIGHEST_READING_PERCENT:
        raise InputError("--reading", repr(text), "a reading is 0 to 100 %")
    return value


def _helium(text: str, o2: float) -> float:
    he = round(parse_percent(text, "--helium") / 100.0, 12)
    if o2 + he > 1.0 + SUM_EXCESS:
        total = (o2 + he) * 100.0
        allowed = f"with the oxygen it makes {total:.1f} %; together they are at most 100 %"
        raise InputError("--helium", repr(text), allowed)
    return he


def _wanted(text: str | None, he: float | None) -> Mix | None:
    if text is None:
        return None
    goal = parse_gas(text, "--wanted")
    require_breathable(goal, "--wanted")
    if goal.he > 0.0 and he is None:
        allowed = f"helium reading needed: {mix_name(goal)} has helium, and it is never taken as 0"
        raise InputError("--helium", "nothing", allowed, code="helium-needed")
    return goal


def _calibration(calibrated: str | None, air: str | None, ambient: str) -> Calibration:
    ambient_pa = bar_to_pa(parse_ambient(ambient, "--calibration-ambient"))
    state = None if air is None else parse_air_state(air, "--calibration-air")
    if calibrated is None:
        if state is not None:
            allowed = "it needs --calibrated beside it, such as air@20.9"
            raise InputError("--calibration-air", repr(air), allowed)
        return unstated_calibration(ambient_pa)
    name, at, figure = calibrated.rpartition("@")
    if not at:
        raise InputError("--calibrated", repr(calibrated), "give gas@shown, such as air@20.9")
    gas = parse_gas(name, "--calibrated")
    shown = parse_percent(figure, "--calibrated")
    if gas.o2 < 0.01 or not 0.9 <= shown / 100.0 / gas.o2 <= 1.1:
        allowed = "a meter is set on a gas with oxygen, to within a tenth of that gas's oxygen"
        raise InputError("--calibrated", repr(calibrated), allowed)
    return Calibration(gas, shown, ambient_pa, state if gas == AIR else None)


def _as_dict(calibration: Calibration) -> dict[str, Any] | None:
    if not calibration.stated:
        return None
    air = calibration.air
    return {
        "gas": mix_name(calibration.gas),
        "shown_percent": calibration.shown_percent,
        "true_o2": calibration.o2,
        "ambient_bar": pa_to_bar(calibration.ambient_pa),
        "air_temperature_c": air.temperature_c if air else None,
        "air_humidity": air.humidity if air else None,
    }


def _limits(o2: float) -> dict[str, Any]:
    """Depths the analysed gas allows by handbook; None where nobody may breathe it."""
    if o2 < MIN_BREATHABLE_O2:
        names = ("mod_m", "mod_ft", "floor_m", "floor_ft")
        return {"mod_ppo2": DEFAULT_PPO2} | {k: None for n in names for k in (n, f"{n}_shown")}
    figures = limits_from_readings([o2])
    rounded = {
        f"{name}_shown": (shallower if name.startswith("mod") else deeper)(depth)
        for name, depth in figures.items()
    }
    return {"mod_ppo2": DEFAULT_PPO2, **figures, **rounded}


def _warnings(calibration: Calibration, air: str | None, o2: float) -> list[dict[str, str]]:
    found = []
    if not calibration.stated:
        found.append(("calibration-unstated", f"no calibration given: {_UNCOUNTED}"))
    elif calibration.gas != AIR and air is not None:
        found.append(("air-unused", "the meter was set on dry gas: --calibration-air not used"))
    elif calibration.gas == AIR and air is None:
        text = "calibration air not given: counted as dry; damp air makes the reading too high"
        found.append(("calibration-air-unstated", text))
    if o2 < MIN_BREATHABLE_O2:
        found.append(("not-breathable", "NOT BREATHABLE: next to no oxygen"))
    elif deeper(limits_from_readings([o2])["floor_m"]) > 0:
        found.append(("hypoxic", "HYPOXIC at the surface: not to be breathed above its floor"))
    return [{"code": code, "text": text} for code, text in found]


def lines(answer: dict[str, Any]) -> list[str]:
    """Lay the answer out for a terminal of 80 columns."""
    he = answer["he"]
    helium = "not measured" if he is None else f"{he * 100:.1f} %"
    spread = answer["o2_uncertainty"] * 100
    text = [
        f"{'Oxygen, corrected':26}{answer['o2'] * 100:.2f} % +- {spread:.2f} (k = 2)",
        f"{'Helium':26}{helium}",
        f"{'Meter':26}{_meter_words(answer)}",
        *_limit_lines(answer),
    ]
    if answer["wanted"] is not None:
        text += ["", f"{'Wanted':26}{answer['wanted']['name']}"]
        text += [f"{'Decision':26}{answer['decision'].upper()}"]
        text += [row for reason in answer["reasons"] for row in wrapped(f"- {reason['text']}")]
    text.append("")
    for caution in [*(w["text"] for w in answer["warnings"]), DIVER_TEXT]:
        text += wrapped(f"! {caution}")
    return text


def _meter_words(answer: dict[str, Any]) -> str:
    shows, set_to = f"shows {answer['reading_percent']:g} %", answer["calibration"]
    if set_to is None:
        return shows
    return f"{shows}; set to {set_to['shown_percent']:g} % on {set_to['gas']}" + (
        ""
        if set_to["air_humidity"] is None
        else f" at {set_to['air_temperature_c']:g} degC, {set_to['air_humidity'] * 100:.0f} % RH"
    )


def _limit_lines(answer: dict[str, Any]) -> list[str]:
    if answer["mod_m"] is None:
        return [f"{'Maximum depth (MOD)':26}none: nobody may breathe it"]
    mod = f"{answer['mod_m_shown']} m / {answer['mod_ft_shown']} ft"
    floor = f"{answer['floor_m_shown']} m / {answer['floor_ft_shown']} ft"
    label = f"MOD at ppO2 {answer['mod_ppo2']:g}, handbook"
    return [
        f"{label:26}{mod}",
        f"{'Least depth (floor)':26}{floor if answer['floor_m_shown'] else 'the surface'}",
    ]
