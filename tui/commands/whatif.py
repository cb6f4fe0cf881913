"""`fillwright whatif`: what becomes of a cylinder that is just topped, and how far to top it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from blender.atmosphere import MAX_ALTITUDE_M, MIN_ALTITUDE_M, WATER_KG_M3, Place, place
from blender.depth import depth_figures
from blender.errors import InputError, ModelRangeError, NoFillError
from blender.gas import Mix, parse_gas
from blender.planning.cautions import HYPOXIC_O2, OXYGEN_SERVICE_O2
from blender.planning.options import Options
from blender.planning.request import GasAt, PlanRequest, parse_gas_at
from blender.planning.supplies import check_argon, plain_name
from blender.planning.what_if import Outcome, Topping, what_if
from blender.units import parse_gauge_pressure, parse_length, parse_percent, parse_size
from tui.commands import depth as dive
from tui.commands.plan import CAUTION

_MOST = 12


def answer(
    cylinder: str,
    have: str,
    top: Sequence[str] = (),
    to: Sequence[str] = (),
    then: Sequence[str] = (),
    reach: str | None = None,
    ppo2: str = "1.4",
    water: str | None = None,
    altitude: str | None = None,
    **options: Any,
) -> dict[str, Any]:
    """Answer from what was typed; the rest of the options are those of a plan.

    Raises
    ------
    InputError
        If something cannot be read, or the pressures do not suit the gases.
    NoFillError
        If none of the tops reaches the oxygen asked for.
    """
    begun, others = _gases(top, "--top"), _gases(then, "--then")
    request = _request(cylinder, have, options)
    stops_bar = _stops(to, len(others), reach is not None)
    reach_o2 = None if reach is None else _fraction(reach)
    temperatures_c = _temperatures(request.temperatures_c, 1 + len(others))
    limit, where = dive.parse_ppo2(ppo2), _place(water, altitude)
    tops: list[dict[str, Any]] = []
    failures: list[NoFillError] = []
    for typed, gas in zip(top, begun, strict=True):
        chain = zip((gas, *others), stops_bar, temperatures_c, strict=True)
        toppings = [Topping(*one) for one in chain]
        try:
            found = _described(request, _let_in(request, toppings, reach_o2), limit, where)
        except NoFillError as error:
            failures.append(error)
            told = {"error": {"code": error.code, "text": error.text}}
            found = told | {"alternatives": error.alternatives}
        tops.append({"top": typed, **found})
    if len(failures) == len(begun):
        raise _none_does(failures)
    asked = {key: request.as_dict()[key] for key in _ASKED}
    return {"request": asked | {"typed": {"cylinder": cylinder, "have": have}}, "tops": tops}


def _let_in(request: PlanRequest, toppings: Sequence[Topping], reach_o2: float | None) -> Outcome:
    around, settle_c = request.ambient_bar, request.settle_at_c
    outcome = what_if(request.residual(), toppings, reach_o2, around, request.limit_bar)
    try:
        outcome.contents.gauge_bar(settle_c, around)
    except ModelRangeError as outside:
        given = f"{outcome.steps[-1].to_bar:.1f} bar, settled at {settle_c:g} degC"
        allowed = "the equation of state ends at 500 bar absolute; give less"
        raise ModelRangeError("--to", given, allowed) from outside
    return outcome


_ASKED = ("cylinder_l", "have", "temperatures_c", "settle_at_c", "ambient_bar", "pairs")


def _request(cylinder: str, have: str, options: dict[str, Any]) -> PlanRequest:
    """Read what a plan reads too; nothing is wanted but what there is."""
    held = parse_gas_at(have, "--have")
    return Options(**options).request(
        parse_size(cylinder, "--cylinder").volume_m3, held, GasAt(held.gauge_bar, held.mix)
    )


def _gases(typed: Sequence[str], field: str) -> tuple[Mix, ...]:
    if len(typed) > _MOST or (not typed and field == "--top"):
        raise InputError(field, f"{len(typed)} gases", f"give 1 to {_MOST} gases to top with")
    gases = tuple(parse_gas(text, field) for text in typed)
    for gas, text in zip(gases, typed, strict=True):
        check_argon(gas, text, field)
    return gases


def _stops(to: Sequence[str], later: int, has_reach: bool) -> list[float | None]:
    """Read the pressures: one for the top, one for each gas after it; the last may be open."""
    needed = 1 + later - has_reach
    if len(to) != needed:
        allowed = (
            f"give {needed}: one for --top and one for each --then"
            + ", the last left open by --reach" * has_reach
        )
        raise InputError("--to", f"{len(to)} pressures", allowed)
    stops: list[float | None] = [parse_gauge_pressure(text, "--to") for text in to]
    return [*stops, None] if has_reach else stops


def _fraction(reach: str) -> float:
    return round(parse_percent(reach, "--reach") / 100.0, 12)


def _temperatures(given: tuple[float, ...], count: int) -> tuple[float, ...]:
    if len(given) not in (1, count):
        allowed = f"give {count}, one per gas let in, or one for all"
        raise InputError("--temperature", f"a list of {len(given)}", allowed)
    return given if len(given) == count else given * count


def _place(water: str | None, altitude: str | None) -> Place:
    kind = None if water is None else dive.choice(water, "--water", tuple(WATER_KG_M3))
    height = None
    if altitude is not None:
        height, _ = parse_length(altitude, "--altitude", MIN_ALTITUDE_M, MAX_ALTITUDE_M)
    return place(kind, height)


def _described(
    request: PlanRequest, outcome: Outcome, limit: float, where: Place
) -> dict[str, Any]:
    inside, settle_c = outcome.contents, request.settle_at_c
    gas = inside.mix
    result = {
        "o2": gas.o2,
        "he": gas.he,
        "pressure_bar": inside.gauge_bar(settle_c, request.ambient_bar),
        "settled_temperature_c": settle_c,
        "name": plain_name(gas),
    }
    steps = [step.as_dict() for step in outcome.steps]
    return {
        "steps": steps,
        "result": result,
        **_depth(gas, limit, where),
        "warnings": _warnings(outcome),
    }


def _depth(gas: Mix, limit: float, where: Place) -> dict[str, Any]:
    """Return what the gas allows under water; nothing if nobody may breathe it."""
    try:
        return {"depth": depth_figures(gas, limit, where)}
    except InputError as error:
        return {"not_breathable": error.allowed}


def _warnings(outcome: Outcome) -> list[dict[str, str]]:
    found = []
    richest = max(step.gas.o2 for step in outcome.steps if step.gas)
    lowest = min(step.holds.o2 for step in outcome.steps)
    if lowest < HYPOXIC_O2 - 1e-9:
        text = f"DO NOT BREATHE at the surface: it holds only {lowest:.1%} oxygen"
        on_the_way = "" if outcome.contents.mix.o2 == lowest else " on the way"
        found.append({"code": "hypoxic-step", "text": text + on_the_way})
    if richest > OXYGEN_SERVICE_O2:
        text = (
            f"gas with {richest:.1%} oxygen goes in: only into a cylinder, valve and whip that "
            "are clean for oxygen, slowly"
        )
        found.append({"code": "oxygen-service", "text": text})
    return found


def _none_does(failures: Sequence[NoFillError]) -> NoFillError:
    texts = dict.fromkeys(error.text for error in failures)
    alternatives = [other for error in failures for other in error.alternatives]
    return NoFillError("; ".join(texts), code=failures[0].code, alternatives=alternatives)


def lines(found: dict[str, Any]) -> list[str]:
    """Write each top out: the stops, the mix, what it allows."""
    have = found["request"]["have"]
    told = [f"From {have['pressure_bar']:.1f} bar of {plain_name(Mix(**have['gas']))}:"]
    for one in found["tops"]:
        told += _told(one)
    return [*told, dive.ANALYSE_TEXT, CAUTION]


def _told(one: dict[str, Any]) -> list[str]:
    if "error" in one:
        return [f"{one['top']}: not possible: {one['error']['text']}"]
    told = [
        f"{plain_name(Mix(**step['gas']))} to {step['to_bar']:.1f} bar at "
        f"{step['temperature_c']:.0f} degC ({step['mass_g']:.0f} g): {_holds(step['holds'])}"
        for step in one["steps"]
    ]
    result = one["result"]
    depth = one.get("depth")
    allows = f"NOT for breathing: {one['not_breathable']}" if depth is None else _allows(depth)
    told.append(
        f"   {result['name']}, {result['pressure_bar']:.1f} bar at "
        f"{result['settled_temperature_c']:.0f} degC; {allows}"
    )
    return told + [f"   ! {warning['text']}" for warning in one["warnings"]]


def _allows(depth: dict[str, Any]) -> str:
    said = f"MOD {depth['mod_m_shown']} m / {depth['mod_ft_shown']} ft at ppO2 {depth['ppo2']:g}"
    if depth["floor_m_shown"]:
        said += f", not above {depth['floor_m_shown']} m / {depth['floor_ft_shown']} ft"
    return said


def _holds(holds: dict[str, float]) -> str:
    helium = f", He {holds['he']:.1%}" if holds["he"] > 5e-5 else ""
    return f"O2 {holds['o2']:.2%}{helium}"
