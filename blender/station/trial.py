"""What a fill would take, before anything is entered: no fill is begun that cannot be made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from blender.planning import Plan
from blender.planning import plan as make_plan
from blender.planning.options import Options
from blender.planning.request import parse_want
from blender.record import search
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.station import gates
from blender.station.gates import PASS
from blender.station.numbers import bar
from blender.station.planning import request_of
from blender.station.rules import in_force
from blender.vessel import contents_at


@dataclass(frozen=True, slots=True)
class _Asked:
    """Of a fill that is not entered yet, what a plan is made from."""

    have_typed: str
    want_typed: str
    ambient_typed: str = ""
    state: str = "requested"


def trial(record: Record, serial: str, have: str, want: str, options: Options) -> Plan:
    """Return the plan that a request would get from the station's supplies as they are.

    Parameters
    ----------
    record : Record
        The open record; nothing is entered in it.
    serial : str
        Of a cylinder or set, or of one post of a set.
    have, want : str
        As a request takes them: ``60bar@20C:EAN28`` and ``230bar:EAN32``.
    options : Options
        Planning options.

    Raises
    ------
    InputError
        If something cannot be read or is not in the record.
    NoFillError
        If no such fill is possible; it carries the nearest that is.
    """
    parse_want(want, "want")
    with record.read() as conn:
        cylinder = search.cylinder_of(conn, serial.strip())
        request = request_of(conn, cast("FillRow", _Asked(have, want)), cylinder, options)
    return make_plan(request)


def over_marks(record: Record, serial: str, made: Plan) -> str:
    """Say by which of the cylinder's marks a plan's end would be too much, empty if by none.

    Asked before anything is entered, as the plan's own gates ask it afterwards.

    Raises
    ------
    InputError
        If no cylinder of that serial is in the record.
    """
    asked = made.request
    end = contents_at(made.result, made.pressure_bar, asked.settle_at_c, asked.volume_m3,
                      asked.ambient_bar)  # fmt: skip
    with record.read() as conn:
        cylinder, rules = search.cylinder_of(conn, serial.strip()), in_force(conn)
    reference = end.gauge_bar(rules.reference_c, asked.ambient_bar)
    hot = end.gauge_bar(rules.hot_c, asked.ambient_bar)
    found = [
        gates.working_pressure(reference, bar(cylinder.wp_mbar), rules),
        gates.developed_pressure(hot, bar(cylinder.tp_mbar), rules),
    ]
    return "; ".join(f"{one.gate}: {one.reason}" for one in found if one.answer != PASS)
