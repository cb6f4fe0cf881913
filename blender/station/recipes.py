"""Every recipe a planned fill could be made by, from the station's own gases and rules."""

from __future__ import annotations

from dataclasses import replace

from blender.errors import RefusedError
from blender.planning.certainty import in_words
from blender.planning.choice import ORDERS, USUAL, Choice, choices
from blender.planning.mass import parse_scale
from blender.planning.merits import Terms
from blender.planning.options import Options
from blender.planning.supplies import TOP_NAME
from blender.record import read
from blender.record.journal import Record
from blender.station.planning import request_of
from blender.station.pricing import prices_m3
from blender.station.rules import in_force
from blender.station.wayson import WayOn

_BEFORE = ("requested", "planned")


def recipes(record: Record, number: int, options: Options | None = None) -> list[WayOn]:
    """Return the recipes of a fill that nothing was let in for yet, the best first.

    Parameters
    ----------
    record : Record
        The open record; nothing is entered in it.
    number : int
        The fill.
    options : Options or None
        What was typed beside: supplies, a rated intake, temperatures.

    Raises
    ------
    InputError
        If there is no such fill.
    NoFillError
        If no recipe is possible.
    RefusedError
        If gas was let in already, or the fill is finished.
    """
    asked = options or Options()
    scale_g = parse_scale(asked.scale, "--scale") if asked.scale else None
    typed = replace(asked, method="partial-pressure", scale=None, oxygen_line=None, way=None)
    run = replace(asked, method="continuous-flow", scale=None, oxygen_line=None, way=None)
    typed = replace(typed, inject=None, tower=None)  # belong to the compressor's run alone
    with record.read() as conn:
        fill = read.fill(conn, number)
        if fill.state not in _BEFORE:
            raise RefusedError(
                f"fill {number} is {fill.state}: recipes are chosen before gas goes in; after "
                "that there are ways on"
            )
        rules = in_force(conn)
        cylinder = read.cylinder(conn, fill.serial)
        request = request_of(conn, fill, cylinder, typed)
        flow = request_of(conn, fill, cylinder, run)
        own = {row.name for row in read.supplies(conn)}
        terms = Terms(prices_m3(conn), rules.oxygen_rate_bar_min)
    orders = [name for name in ORDERS if name == rules.gas_order]
    found = choices(
        request, terms, USUAL, orders=orders, scale_g=scale_g, inject=flow.inject, tower=flow.tower
    )
    return [
        WayOn(one.name, _text(one), _drains(one), _options(one, asked, own), _stops_bar(one))
        for one in found
    ]


def _stops_bar(chosen: Choice) -> tuple[float, ...]:
    return tuple(step.to_bar for step in chosen.plan.steps if step.to_bar is not None)


def _options(chosen: Choice, typed: Options, own: set[str]) -> Options:
    """Return what plans a choice again: its method, its order and its supplies.

    A supply of the station is named; what was typed, or is there by default, is described.
    """
    request = chosen.plan.request
    described = {text.partition("=")[0]: text for text in typed.supply}
    supplies = tuple(
        name if name in own else described.get(name, f"{name}={name}")
        for name in (supply.name for supply in request.supplies)
    )
    return replace(
        typed,
        method=request.method,
        order=",".join(request.order),
        supply=supplies,
        draw=",".join(request.draw) or None,
        scale=typed.scale if request.method == "mass" else None,
        oxygen_line=None,
        way=None,
        inject=typed.inject if request.method == "continuous-flow" else None,
        tower=typed.tower if request.method == "continuous-flow" else None,
    )


def _drains(chosen: Choice) -> bool:
    return any(step.action == "drain" for step in chosen.plan.steps)


def _text(chosen: Choice) -> str:
    """Return a recipe in a line or two: its stops, what it takes, and why it stands there."""
    stops = [
        f"{_gas(step.supply)} to {step.to_bar:.1f} bar"
        if step.action != "drain"
        else f"drain to {step.to_bar:.1f} bar"
        for step in chosen.plan.steps
        if step.to_bar is not None and step.action != "rest"
    ]
    figures, sure = chosen.merits, chosen.plan.assurance
    told = [f"{figures.minutes:.0f} min of filling"]
    if figures.cost is not None and figures.cost > 0.0:
        told.insert(0, f"costs {figures.cost:.2f}")
    if figures.miss > 5e-5:
        told.insert(0, f"{figures.miss * 100:.2f} points off the mix")
    if sure is not None:
        told.append(f"O2 +- {sure.o2_uncertainty * 100:.1f} points ({in_words(sure, 1)[0]})")
    why = f". It {chosen.why}" if chosen.why else ""
    return f"{chosen.name.capitalize()}: {', '.join(stops)}; {'; '.join(told)}{why}"


def _gas(name: str | None) -> str:
    return "top gas" if name in (None, TOP_NAME) else str(name)
