"""The ways on of a fill whose gas is not what was wanted, from the station's own gases."""

from __future__ import annotations

from dataclasses import dataclass, replace

from blender.errors import RefusedError
from blender.planning.options import Options
from blender.planning.request import PlanRequest
from blender.planning.ways import Way, ways
from blender.record import read
from blender.record.journal import Record
from blender.record.models import CylinderRow
from blender.station.numbers import bar
from blender.station.planning import request_of
from blender.station.rules import Rules, in_force
from blender.vessel import contents_at

_OPEN = ("filling", "held", "resting", "analysed", "recheck", "correcting")


@dataclass(frozen=True, slots=True)
class WayOn:
    """One way on, to be chosen at the Panel.

    Parameters
    ----------
    kind : str
        Its name, for `Options.way`.
    text : str
        What to do and where it leads.
    drains : bool
        Whether gas is let out: only after rest and analysis.
    options : Options
        What plans it.
    stops_bar : tuple of float
        The gauge pressures of its steps, which the text has rounded [bar].
    """

    kind: str
    text: str
    drains: bool
    options: Options
    stops_bar: tuple[float, ...] = ()


def ways_on(record: Record, number: int, rules: Rules | None = None) -> list[WayOn]:
    """Return the ways on of a fill that has gas in it, the one to be preferred first.

    Parameters
    ----------
    record : Record
        The open record; nothing is entered in it.
    number : int
        The fill.
    rules : Rules or None
        The station's; None for those in force.

    Raises
    ------
    InputError
        If there is no such fill.
    RefusedError
        If nothing was let in yet, or it is finished.
    """
    with record.read() as conn:
        fill = read.fill(conn, number)
        cylinder = read.cylinder(conn, fill.serial)
        if fill.state not in _OPEN:
            raise RefusedError(f"fill {number} is {fill.state}: there is nothing to put right")
        request = request_of(conn, fill, cylinder, Options())
        limits = rules or in_force(conn)
    limit_bar = _limit_bar(request, cylinder, limits)
    found = ways(replace(request, limit_bar=limit_bar))
    limit = f"{limit_bar:.6f}bar"
    return [
        WayOn(way.kind, way.text, way.drains, Options(way=way.kind, limit=limit), _stops_bar(way))
        for way in found
        if not (way.kind == "leave" and fill.state == "analysed")  # it is signed for as it is
    ]


def _stops_bar(way: Way) -> tuple[float, ...]:
    drains = [step.to_bar for step in way.plan.steps if step.action == "drain"]
    return (way.plan.pressure_bar, *(bar for bar in drains if bar is not None))


def _limit_bar(request: PlanRequest, cylinder: CylinderRow, rules: Rules) -> float:
    """Return what the wanted mix may settle at [bar]: working pressure at its reference."""
    full = contents_at(
        request.want.mix, bar(cylinder.wp_mbar), rules.reference_c, request.volume_m3,
        request.ambient_bar, request.pairs,
    )  # fmt: skip
    return full.gauge_bar(request.settle_at_c, request.ambient_bar)
