"""A suit bottle of argon: what its tag states, and that it is no cylinder of the record."""

from __future__ import annotations

from dataclasses import dataclass

from blender.errors import RefusedError
from blender.record import read
from blender.record.journal import Record
from blender.record.moment import Moment
from blender.station.views import Stamp
from blender.units import parse_gauge_pressure


@dataclass(frozen=True, slots=True)
class SuitTag:
    """What the tag states; nothing in it is a depth or a mix to be breathed.

    Parameters
    ----------
    serial : str
        The cylinder.
    station_name : str
        Who filled it; empty where no station is on record.
    filled_bar : float or None
        Gauge pressure it was filled to [bar]; None where that is written by hand.
    printed_at : Stamp
        When.
    imperial : bool
        Whether psi come first.
    """

    serial: str
    station_name: str
    filled_bar: float | None
    printed_at: Stamp
    imperial: bool = False


def suit_bottle(record: Record, serial: str, at: str | None, now: Moment) -> SuitTag:
    """Return the tag of a suit bottle.

    Parameters
    ----------
    record : Record
        The open record.
    serial : str
        Its serial.
    at : str or None
        Gauge pressure as typed; None where it is written by hand.
    now : Moment
        When it is printed.

    Raises
    ------
    InputError
        If the pressure cannot be read.
    RefusedError
        If the record has that serial: such cylinders are filled with breathing gas.
    """
    filled = None if at is None else parse_gauge_pressure(at, "--at")
    with record.read() as conn:
        station = read.station(conn)
        if read.has_cylinder(conn, serial):
            raise RefusedError(
                f"{serial} is on record as a cylinder of breathing gas: a suit bottle is another "
                "cylinder, kept and marked for argon alone",
                code="breathing-cylinder",
            )
    name = station.name if station else ""
    return SuitTag(serial, name, filled, Stamp.of(now))
