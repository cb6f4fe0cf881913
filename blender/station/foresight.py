"""How far the banks go in fills not yet begun: planned one by one, nothing entered."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from blender.errors import InputError, NoFillError
from blender.planning import Plan, PlanRequest, Supply
from blender.planning import plan as make_plan
from blender.planning.options import Options
from blender.record import read
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.station import planning
from blender.station.banks_ahead import left_by, still_drawn

TO_PLAN = ("requested", "planned")
Lines = list[dict[str, Any]]


def foresee(
    record: Record,
    fills: Sequence[FillRow],
    options_of: Callable[[FillRow], Options],
    known_by: Options | None = None,
) -> tuple[Lines, dict[str, float]]:
    """Return how far the banks go in some fills, in their order; nothing is entered.

    Those with gas going in draw first what they have still to draw.  A cylinder that cannot be
    completed is shown at the highest pressure of the wanted gas that the banks would still give
    it, and draws nothing.

    Parameters
    ----------
    record : Record
        The open record.
    fills : sequence of FillRow
        In any state; only those requested or planned have a line.
    options_of : callable
        Gives the planning options of a fill.
    known_by : Options or None
        Tells which supplies fills being filled draw from; None for the station's own, and then a
        fill whose own options can't be read any more (a supply was retired) has a line saying so.

    Returns
    -------
    tuple
        A line a fill, and the bottles' gauge pressures after the complete ones [bar].

    Raises
    ------
    InputError
        If an option cannot be read.
    """
    with record.read() as conn:
        drawn = still_drawn(conn, fills, known_by or Options())
    lines, banks = Lines(), {name: one.gauge_bar or 0.0 for name, one in drawn.items()}
    for fill in (fill for fill in fills if fill.state in TO_PLAN):
        try:
            request = asked_of(record, fill.fill, options_of(fill), drawn)
        except InputError as error:
            if known_by is not None:
                raise
            lines.append(_unread_line(fill, error))  # of another day's plan: it fits no more
            continue
        banks = {s.name: s.gauge_bar for s in request.supplies if s.gauge_bar is not None} | banks
        try:
            made = make_plan(request)
        except NoFillError as short:
            lines.append(_short_line(fill, short))
            continue
        lines.append(_complete_line(fill, made))
        left = left_by(request, lines[-1].pop("steps"))
        drawn |= left
        banks |= {name: supply.gauge_bar or 0.0 for name, supply in left.items()}
    return lines, banks


def _unread_line(fill: FillRow, error: InputError) -> dict[str, Any]:
    return {"fill": fill.fill, "serial": fill.serial, "complete": False, "why": error.text,
            "draws": [], "reaches": None}  # fmt: skip


def asked_of(
    record: Record, number: int, options: Options, drawn: dict[str, Supply]
) -> PlanRequest:
    """Return what a fill asks for, with some supplies as they will be."""
    with record.read() as conn:
        fill = read.fill(conn, number)
        cylinder = read.cylinder(conn, fill.serial)
        return planning.as_drawn(planning.request_of(conn, fill, cylinder, options), drawn)


def _complete_line(fill: FillRow, made: Plan) -> dict[str, Any]:
    steps = [step.as_dict() for step in made.steps]
    result = {"o2": made.result.o2, "he": made.result.he, "pressure_bar": made.pressure_bar}
    return {
        "fill": fill.fill,
        "serial": fill.serial,
        "complete": True,
        "why": "",
        "draws": _draws(steps),
        "reaches": result,
        "steps": steps,
    }


def _short_line(fill: FillRow, short: NoFillError) -> dict[str, Any]:
    nearest = next((a for a in short.alternatives if a.get("kind") == "pressure"), None)
    result = nearest["result"] if nearest else {}
    return {
        "fill": fill.fill,
        "serial": fill.serial,
        "complete": False,
        "why": short.text,
        "draws": _draws(nearest["steps"]) if nearest else [],
        "reaches": {n: result[n] for n in ("o2", "he", "pressure_bar")} if nearest else None,
    }


def _draws(steps: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return what each supply gives: to which stop, and where its own pressure goes."""
    names = ("supply", "to_bar", "temperature_c", "amount_mol", "supply_from_bar", "supply_to_bar")
    return [{n: step[n] for n in names if n in step} for step in steps if "supply" in step]
