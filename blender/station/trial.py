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
from blender.station.planning import request_of


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
