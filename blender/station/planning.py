"""Making the plan of a fill: from what is in the cylinder now to what is wanted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.gas import AIR, Mix, mix, parse_gas
from blender.planning import plan as make_plan
from blender.planning.certainty import in_words, with_certainty
from blender.planning.choice import ORDERS
from blender.planning.options import Options
from blender.planning.recipe import Plan, Step
from blender.planning.request import GasAt, PlanRequest, parse_gas_at, parse_want
from blender.planning.supplies import BOTTLE_TEMPERATURE_C, TOP_NAME, Supply, parse_supply
from blender.record import read
from blender.record.models import CylinderRow, FillRow, SupplyRow
from blender.station import gates
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.asking import LetIn, fitness_gates
from blender.station.compressors import planned_with
from blender.station.contents import ambient_bar, as_umol, contents
from blender.station.desk import Act, Station
from blender.station.gates import Gate
from blender.station.gauges import on_the_dial, panel
from blender.station.numbers import bar, celsius, mbar, millikelvin, mol, ppm
from blender.station.rules import Rules, in_force
from blender.station.steps import step_facts
from blender.station.wording import mass_text
from blender.vessel import Contents, contents_at

# Acts before which nothing has been let in: the residual counts as it was typed.
_FRESH = ("requested", "planned")
_AFTER = {"analysed": "correcting", "requested": "planned"}


def plan(
    station: Station,
    actor: Actor,
    number: int,
    options: Options,
    *,
    drawn: Mapping[str, Supply] | None = None,
) -> Answer:
    """Plan a fill, or plan it again from where it stands; the gates are asked first.

    While gas is in, the plan starts from the calculated contents; after an analysis, from
    what was analysed.  Without supplies among the options the station's own are used; `drawn`
    are those that fills before this one will have drawn from, as they will be.

    Raises
    ------
    InputError
        If an option cannot be read.
    NoFillError
        If no such fill is possible; it carries the nearest that is.
    """
    with station.act(actor, "plan") as act:
        fill, where = act.fill(number)
        cylinder = read.cylinder(act.conn, fill.serial)
        if refused := act.refused(fill, [where]):
            return refused
        request = as_drawn(request_of(act.conn, fill, cylinder, options), drawn or {})
        made = with_certainty(make_plan(request))
        answers = [where, *_gates(act, fill, cylinder, made)]
        if refused := act.refused(fill, answers):
            return refused
        state = _AFTER.get(fill.state, fill.state)
        act.enter("fill.planned", _entry(fill, made, options, state), "planned")
        dial = on_the_dial(act.conn, fill, read.steps(act.conn, number))
    described = made.as_dict()
    described["request"]["typed"] = {"have": fill.have_typed, "want": fill.want_typed}
    facts = {"plan": described, **({"on_the_dial": dial} if dial else {})}
    minds = [{"code": "gauge-corrected", "text": f"{one}."} for one in dial]
    minds += [{"code": "unused-option", "text": one} for one in _not_used(options, made) if one]
    described["warnings"] = [*described["warnings"], *minds]
    told = " ".join([_told(made), *(one["text"] for one in minds)])
    return Answer(number, state, answers, text=told, facts=facts)


def _not_used(options: Options, made: Plan) -> tuple[str, ...]:
    return _unused(options), _unused_top(options, made), _unused_draw(made)


_OF_FLOW = ("rated_intake", "intake_air", "delivery", "inject", "tower")


def _unused(options: Options) -> str:
    """Say which options were given that the method makes no use of."""
    if options.method == "continuous-flow":
        return ""
    given = [f"--{name.replace('_', '-')}" for name in _OF_FLOW if getattr(options, name)]
    if not given:
        return ""
    return (
        f"Not used: {', '.join(given)}; this plan is by {options.method}, give "
        "--method continuous-flow for the compressor."
    )


def _unused_top(options: Options, made: Plan) -> str:
    """Say that a top gas that was asked for does not go in; of the usual one nobody asked."""
    goes_in = any(step.supply == TOP_NAME or step.action == "flow" for step in made.steps)
    if options.top is None or goes_in:
        return ""
    return f"Not used: --top {options.top}; nothing of it goes in."


def _unused_draw(made: Plan) -> str:
    """Say which supplies were to be opened in an order and are not opened at all."""
    used = {name for step in made.steps for name in (step.supply, *dict(step.draws))}
    left = [name for name in made.request.draw if name not in used]
    if not left:
        return ""
    named = ", ".join(left)
    return (
        f"Not used: --draw {named}; the order of bottles is among those of one gas, and this plan "
        f"takes other gas. To fill from {named} alone, name it with --supply."
    )


def _told(made: Plan) -> str:
    stops = [
        f"{step.action} {step.supply or ''} {_until(step)}".replace("  ", " ")
        for step in made.steps
        if step.to_bar is not None and step.action != "rest"
    ]
    return f"Plan: {'; '.join(stops)}. Result O2 {made.result.o2 * 100:.2f} %{_sure(made)}."


def _until(step: Step) -> str:
    if step.scale_g is not None:
        return f"until the scale reads {mass_text(step.scale_g)}"
    return f"to {step.to_bar:.1f} bar"


def _sure(made: Plan) -> str:
    """Say how far the mix may be off, and what most of that comes from."""
    if made.assurance is None:
        return ""
    most = in_words(made.assurance, 1)
    return f" +- {made.assurance.o2_uncertainty * 100:.1f} (most of it: {most[0]})"


def as_drawn(request: PlanRequest, drawn: Mapping[str, Supply]) -> PlanRequest:
    """Return a request with some of its supplies as they will be."""
    supplies = tuple(drawn.get(supply.name, supply) for supply in request.supplies)
    return replace(request, supplies=supplies)


def request_of(
    conn: Connection, fill: FillRow, cylinder: CylinderRow, options: Options
) -> PlanRequest:
    """Put together what the planner needs, from the record and the options typed."""
    have = _have(fill, cylinder)
    want = parse_want(fill.want_typed, "--want")
    around = options.ambient or (fill.ambient_typed or None)
    own = [row for row in read.supplies(conn) if not row.retired]
    typed = tuple(text for text in options.supply if "=" in text)
    rules = in_force(conn)
    described = replace(
        planned_with(conn, options),
        ambient=around,
        supply=typed,
        order=options.order or _ruled_order(rules),
        air_first=options.air_first or f"{rules.air_first_bar:.6f}bar",
        least_step=options.least_step or f"{rules.least_step_bar:.6f}bar",
    )
    request = described.request(cylinder.size_ml / 1e6, have, want)
    request = replace(request, doubts=replace(request.doubts, panel=panel(conn)))
    if options.supply:
        return replace(request, supplies=_chosen(options.supply, own))
    tops = [row for row in own if _is_air(row)]
    supplies = tuple(supply_of(row) for row in own if not _is_air(row))
    if not supplies and not tops:
        return request
    return replace(request, supplies=supplies or request.supplies)


def _ruled_order(rules: Rules) -> str | None:
    order = ORDERS.get(rules.gas_order)
    return ",".join(order) if order else None


def _chosen(texts: Iterable[str], own: list[SupplyRow]) -> tuple[Supply, ...]:
    """Return the supplies asked for: described in full, or by name as the record has them."""
    known, found = {row.name: row for row in own}, []
    for text in texts:
        if "=" in text:
            found.append(parse_supply(text, "--supply"))
        elif (row := known.get(text.strip())) is None:
            names = ", ".join(known) or "none"
            raise InputError(
                "--supply",
                repr(text[:80]),
                f"no supply of that name is in use (there are: {names}); name one, or describe it "
                "as NAME=GAS@PRESSURExVOLUME",
            )
        elif not _is_air(row):  # plain air is the top gas anyway
            found.append(supply_of(row))
    return tuple(found)


def _is_air(row: SupplyRow) -> bool:
    return row.he_ppm == 0 and row.o2_ppm == ppm(AIR.o2) and row.size_ml == 0


def supply_of(row: SupplyRow) -> Supply:
    """Return a recorded supply as the planner takes it, at what it should show now."""
    gas = parse_gas(row.gas_typed, "supply")
    if row.size_ml == 0:
        return Supply(row.name, gas)
    volume = row.size_ml / 1e6
    amounts = tuple(mol(row.content_umol) * part for part in gas.fractions)
    inside = Contents((amounts[0], amounts[1], amounts[2], amounts[3]), volume)
    gauge = inside.gauge_bar(BOTTLE_TEMPERATURE_C) if row.content_umol else 0.0
    return Supply(row.name, gas, max(gauge, 0.0), volume)


def _have(fill: FillRow, cylinder: CylinderRow) -> GasAt:
    """Return what is in the cylinder, as the planner takes it."""
    if fill.state in _FRESH:
        return parse_gas_at(fill.have_typed, "--have")
    inside = contents(fill, cylinder)
    gauge, at_c = bar(fill.gauge_mbar), celsius(fill.temp_mk)
    if fill.state == "analysed":
        return GasAt(gauge, analysed_mix(fill), at_c, "as analysed")
    # The calculated amount is what counts: the gauge is made to agree with it.
    gauge = inside.gauge_bar(at_c, ambient_bar(fill))
    return GasAt(gauge, _to_the_ppm(inside.mix), at_c, "as calculated")


def _to_the_ppm(gas: Mix) -> Mix:
    """Return a gas to the ppm: what is left of rounding amounts is no reason to drain any."""
    o2, he, ar = round(gas.o2, 6), round(gas.he, 6), round(gas.ar, 6)
    return Mix(o2, he, round(1.0 - o2 - he - ar, 12), ar)


def analysed_mix(fill: FillRow) -> Mix:
    """Return the mix a fill was analysed as."""
    return mix(fill.o2_ppm / 1e6, max(fill.he_ppm, 0) / 1e6)


def _gates(act: Act, fill: FillRow, cylinder: CylinderRow, made: Plan) -> list[Gate]:
    """Ask the gates that a plan has to pass."""
    rules, request = act.rules, made.request
    gases = [
        step.gas for step in made.steps if step.gas and step.action in ("add", "flow", "purge")
    ]
    drains = any(step.action == "drain" for step in made.steps)
    settled = contents_at(
        made.result,
        made.pressure_bar,
        request.settle_at_c,
        request.volume_m3,
        request.ambient_bar,
    )
    customer = read.person(act.conn, fill.customer)
    # What is calculated to be in it rests on what was known at check-in, or on an analysis since.
    source = "analysed" if read.analyses(act.conn, fill.fill) else fill.residual
    left_bar = parse_gas_at(fill.have_typed, "--have").gauge_bar
    return [
        *stamp_gates(act, cylinder),
        *pressure_gates(act, cylinder, settled, request.ambient_bar),
        gates.oxygen_clean(cylinder.clean, gases, rules),
        gates.residual(source, left_bar, gases, rules),
        gates.certification(customer.certified if customer else "", made.result),
        gates.mixed_before_drain(drains=drains, unmixed=_is_unmixed(act, fill)),
        *fitness_gates(act, fill, cylinder, LetIn.of(made.steps), method=request.method),
    ]


def _is_unmixed(act: Act, fill: FillRow) -> bool:
    """Tell whether gas was let in since it was last analysed."""
    if fill.state not in ("filling", "held"):
        return False
    analysed = max((row.seq for row in read.analyses(act.conn, fill.fill)), default=0)
    readings = read.readings(act.conn, fill.fill, standing_only=True)
    return any(row.supply and row.seq > analysed for row in readings)


def stamp_gates(act: Act, cylinder: CylinderRow) -> list[Gate]:
    """Ask whether the cylinder's stamps are in date."""
    return [
        gates.periodic_test(cylinder.tested, act.today, act.rules),
        gates.inspection(cylinder.inspected, act.today, act.rules),
    ]


def pressure_gates(act: Act, cylinder: CylinderRow, inside: Contents, around: float) -> list[Gate]:
    """Ask whether what is (or will be) in the cylinder is within its marks."""
    rules = act.rules
    reference = inside.gauge_bar(rules.reference_c, around)
    hot = inside.gauge_bar(rules.hot_c, around)
    return [
        gates.working_pressure(reference, bar(cylinder.wp_mbar), rules),
        gates.developed_pressure(hot, bar(cylinder.tp_mbar), rules),
    ]


def _entry(fill: FillRow, made: Plan, options: Options, state: str) -> dict[str, Any]:
    request = made.request
    zero_g = request.residual().mass_g if request.method == "mass" else None
    helium = fill.has_helium or made.result.he > 0.0
    corrects = {"contents_umol": as_umol(request.residual())} if fill.state == "analysed" else {}
    return {
        **corrects,
        "fill": fill.fill,
        "state": state,
        "method": request.method,
        "options": options.typed(),
        **_rated(request),
        "settle_mk": millikelvin(request.settle_at_c),
        "ambient_typed": options.ambient or fill.ambient_typed,
        "has_helium": helium or any(step.gas and step.gas.he > 0.0 for step in made.steps),
        "pairs": request.pairs,
        "result": {
            "o2_ppm": ppm(made.result.o2),
            "he_ppm": ppm(made.result.he),
            "gauge_mbar": mbar(made.pressure_bar),
            **_certainty(made),
        },
        "warnings": [caution.as_dict() for caution in made.warnings],
        "steps": [step_facts(step, zero_g) for step in made.steps],
    }


def _rated(request: PlanRequest) -> dict[str, int]:
    """Return what the compressor may draw in, typed or from the record, where it runs."""
    if request.method != "continuous-flow" or request.rated_intake is None:
        return {}
    return {"rated_ppm": ppm(request.rated_intake)}


def _certainty(made: Plan) -> dict[str, Any]:
    """Return how far the mix may be off, k = 2, if that is known."""
    sure = made.assurance
    if sure is None:
        return {}
    return {"o2_u_ppm": ppm(sure.o2_uncertainty), "he_u_ppm": ppm(sure.he_uncertainty)}
