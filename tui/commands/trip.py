"""`fillwright trip`: a run of the compressor that stopped, or is put right while it goes on."""

from __future__ import annotations

from typing import Any

from blender.errors import InputError
from blender.planning import GasAt, parse_gas_at, parse_want
from blender.planning.options import Options
from blender.planning.recipe import Assurance, Plan
from blender.planning.trip import Trip, trip
from blender.units import parse_gauge_pressure, parse_percent, parse_size, parse_temperature
from tui.commands import plan as plan_command

_METHODS = ("partial-pressure", "continuous-flow")  # the first is what is typed if nothing is
_FIGURES = (
    "to_bar", "temperature_c", "amount_mol", "intake_o2", "intake_reading", "intake_he",
    "reading_after_helium", "reading_before_oxygen", "intake_without_helium", "oxygen_l_min",
    "helium_l_min", "minutes",
)  # fmt: skip


def answer(
    cylinder: str,
    have: str,
    want: str,
    *,
    reached: str,
    average: str,
    average_helium: str | None = None,
    running: bool = False,
    **options: Any,
) -> dict[str, Any]:
    """Answer from what was typed; the options are those of a plan by continuous flow.

    Raises
    ------
    InputError
        If something cannot be read, or does not go together.
    NoFillError
        If the rest cannot be delivered; it says what the cylinder holds, and what can be done.
    """
    supply, method = tuple(options.pop("supply", ())), options.pop("method", _METHODS[0])
    if method not in _METHODS:
        raise InputError("--method", repr(method), "a trip is the compressor's: continuous-flow")
    held = parse_gas_at(have, "--have")
    request = Options(method=_METHODS[1], supply=supply, **options).request(
        parse_size(cylinder, "--cylinder").volume_m3, held, parse_want(want, "--want")
    )
    o2 = _fraction(average, "--average")
    he = None if average_helium is None else _fraction(average_helium, "--average-helium")
    found = trip(request, _reached(reached, held), o2, he, running=running)
    typed = {"cylinder": cylinder, "have": have, "want": want, "reached": reached}
    return _described(found, o2, he, request.as_dict() | {"typed": typed})


def _reached(typed: str, held: GasAt) -> GasAt:
    """Read the pressure reached: ``150bar`` or ``150bar@30C``."""
    pressure, at, temperature = typed.partition("@")
    at_c = parse_temperature(temperature, "--reached") if at else None
    return GasAt(parse_gauge_pressure(pressure, "--reached"), held.mix, at_c)


def _fraction(typed: str, field: str) -> float:
    return round(parse_percent(typed, field) / 100.0, 12)


def _described(found: Trip, o2: float, he: float | None, asked: dict[str, Any]) -> dict[str, Any]:
    now, flow, plan = found.now, found.rest, found.plan.as_dict()
    asked |= {
        "reached": {"pressure_bar": found.reached_bar, "temperature_c": found.reached_c},
        "average_intake_o2": o2,
        "running": found.running,
    }
    figures = flow.as_dict() if flow else {}
    told: dict[str, Any] = {
        "request": asked if he is None else asked | {"average_intake_he": he},
        "first": found.first,
        "now": {
            "o2": now.mix.o2,
            "he": now.mix.he,
            "pressure_bar": found.reached_bar,
            "temperature_c": found.reached_c,
            "amount_mol": now.total_mol,
            "added_mol": found.added_mol,
            **_uncertainties(found.sure),
        },
        "plan": plan,
        "result": plan["result"],
        "warnings": plan["warnings"],
        "alternatives": plan["alternatives"],
    }
    if figures:
        told["rest"] = {key: figures[key] for key in _FIGURES if key in figures}
    return told if found.air is None else told | {"air": _result(found.air)}


def _uncertainties(sure: Assurance | None) -> dict[str, float | None]:
    return {
        "o2_uncertainty": sure.o2_uncertainty if sure else None,
        "he_uncertainty": sure.he_uncertainty if sure else None,
    }


def _result(plan: Plan) -> dict[str, float]:
    return {"o2": plan.result.o2, "he": plan.result.he, "pressure_bar": plan.pressure_bar}


def lines(found: dict[str, Any]) -> list[str]:
    """Write it out: what to do at once, what the cylinder holds, then the rest."""
    now, air = found["now"], found.get("air")
    told = [
        f"{found['first'][0].upper()}{found['first'][1:]}.",
        f"The cylinder now holds O2 {now['o2']:.2%}{_helium(now)} at {now['pressure_bar']:.1f} bar "
        f"and {now['temperature_c']:.0f} degC: calculated, DO NOT BREATHE.",
    ]
    if air is not None:
        told.append(
            f"Finished with air alone it would hold O2 {air['o2']:.2%}{_helium(air)} at "
            f"{air['pressure_bar']:.1f} bar."
        )
    plan = found["plan"]
    plan["request"]["typed"] = found["request"]["typed"]
    return [*told, *plan_command.lines(plan)]


def _helium(gas: dict[str, float]) -> str:
    return f", He {gas['he']:.2%}" if gas["he"] > 5e-5 else ""
