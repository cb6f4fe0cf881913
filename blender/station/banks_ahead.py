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
from blender.station.drawing import drawn
from blender.station.judging import Outcome

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
    ahead: dict[str, Supply] = {}
    for fill in (fill for fill in fills if fill.state in _FILLING):
        cylinder = read.cylinder(conn, fill.serial)
        request = planning.as_drawn(planning.request_of(conn, fill, cylinder, options), ahead)
        known = {supply.name: supply for supply in request.supplies}
        bank = Bank(request.supplies, request.ambient_bar, request.pairs)
        inside = contents(fill, cylinder)
        for step in read.steps(conn, fill.fill)[fill.step :]:
            after = outlook(fill, inside, [step])
            closed = Outcome(after, 0, closes=True)
            for name, mol in drawn(step, inside, closed, ambient_bar(fill)):
                if (was := known.get(name)) is None:
                    continue
                draw = bank.take(name, bank.injectable(name, mol))
                if draw.to_bar is not None:
                    ahead[name] = Supply(name, was.gas, draw.to_bar, was.volume_m3)
            inside = after
    return ahead


def left_by(request: PlanRequest, steps: Iterable[dict[str, Any]]) -> dict[str, Supply]:
    """Return the bottles that a plan's steps draw from as they will be, by name."""
    known = {supply.name: supply for supply in request.supplies}
    left: dict[str, Supply] = {}
    for step in steps:
        for key in ("supply", "oxygen_supply", "helium_supply"):
            if (after_bar := step.get(f"{key}_to_bar")) is not None:
                was = known[step[key]]
                left[was.name] = Supply(was.name, was.gas, after_bar, was.volume_m3)
    return left
