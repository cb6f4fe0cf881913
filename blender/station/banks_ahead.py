"""The banks as they will be, once what is planned or being filled has drawn from them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection

from blender.planning import PlanRequest, Supply
from blender.planning.draw import Bank
from blender.planning.options import Options
from blender.record import read
from blender.record.models import FillRow
from blender.station import planning
from blender.station.contents import ambient_bar, contents, outlook
from blender.station.judging import Outcome
from blender.station.taking import drawn_mol

_FILLING = ("filling", "held")


def still_drawn(conn: Connection, fills: Iterable[FillRow], options: Options) -> dict[str, Supply]:
    """Return the bottles that fills being filled have still to draw from, as they will be.

    Parameters
    ----------
    conn : Connection
        The record.
    fills : iterable of FillRow
        Fills in any state; only those with gas going in count.
    options : Options
        Tell which supplies there are.

    Returns
    -------
    dict
        Name to supply, those alone that will be drawn from.
    """
    drawn: dict[str, Supply] = {}
    for fill in (fill for fill in fills if fill.state in _FILLING):
        cylinder = read.cylinder(conn, fill.serial)
        request = planning.as_drawn(planning.request_of(conn, fill, cylinder, options), drawn)
        known = {supply.name: supply for supply in request.supplies}
        bank = Bank(request.supplies, request.ambient_bar, request.pairs)
        inside = contents(fill, cylinder)
        for step in read.steps(conn, fill.fill)[fill.step :]:
            after = outlook(fill, inside, [step])
            mol = drawn_mol(step, inside, Outcome(after, 0, closes=True), ambient_bar(fill))
            inside, was = after, known.get(step.supply)
            if was is None or mol <= 0.0:
                continue
            draw = bank.take(was.name, bank.injectable(was.name, mol))
            if draw.to_bar is not None:
                drawn[was.name] = Supply(was.name, was.gas, draw.to_bar, was.volume_m3)
    return drawn


def left_by(request: PlanRequest, steps: Iterable[dict[str, Any]]) -> dict[str, Supply]:
    """Return the bottles that a plan's steps draw from as they will be, by name."""
    known = {supply.name: supply for supply in request.supplies}
    left: dict[str, Supply] = {}
    for step in steps:
        if "supply_to_bar" in step:
            was = known[step["supply"]]
            left[was.name] = Supply(was.name, was.gas, step["supply_to_bar"], was.volume_m3)
    return left
