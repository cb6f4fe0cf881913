"""From the record to the sheet of a batch: what no diver has analysed and signed for yet."""

from __future__ import annotations

from sqlalchemy import Connection

from blender.errors import RecordError
from blender.gas import name_of
from blender.record import read, search
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.record.moment import Moment
from blender.record.unit import last_entry
from blender.station import views
from blender.station.batch import of_batch, unsigned
from blender.station.contents import ambient_bar, contents, holds_text
from blender.station.doubts import gas_lost
from blender.station.numbers import celsius
from blender.station.planning import analysed_mix
from blender.station.states import do_not_breathe
from blender.station.wording import pressure_text, temperature_text


def batch_view(record: Record, batch: int, now: Moment) -> views.BatchView:
    """Return what the sheet of a batch states; a cylinder signed for is not on it.

    Parameters
    ----------
    record : Record
        The open record.
    batch : int
        The batch.
    now : Moment
        When it is printed.

    Raises
    ------
    InputError
        If there is no such batch.
    """
    with record.read() as conn:
        fills = of_batch(conn, batch)
        waiting = unsigned(fills)
        names = search.names(conn, [fill.customer for fill in waiting])
        station, head = read.station(conn), last_entry(conn, record.station)
        if head is None:
            raise RecordError("the record has no entry; run `verify`")
        return views.BatchView(
            station_name=station.name if station else "",
            batch=batch,
            wanted=fills[0].want_typed,
            cylinders=len(fills),
            lines=tuple(_line(conn, fill, names.get(fill.customer, "")) for fill in waiting),
            printed_at=views.Stamp.of(now),
            proof=views.Proof.of(head),
        )


def _line(conn: Connection, fill: FillRow, customer: str) -> views.BatchLine:
    return views.BatchLine(
        fill=fill.fill,
        serial=fill.serial,
        customer=customer,
        wanted=fill.want_typed,
        state=fill.state,
        holds=_holds(conn, fill),
        unsafe=do_not_breathe(fill.state, has_gas=fill.has_gas),
    )


def _holds(conn: Connection, fill: FillRow) -> str:
    """Return what is in it and how much, as analysed if it was, else as calculated."""
    inside = contents(fill, read.cylinder(conn, fill.serial))
    at_c = celsius(fill.temp_mk)
    shown = pressure_text(fill, inside.gauge_bar(at_c, ambient_bar(fill)))
    gas, how = holds_text(inside), "calculated" if fill.has_gas else fill.residual
    if fill.state == "analysed" and fill.o2_ppm >= 0:
        gas, how = name_of(analysed_mix(fill), 1), "analysed"
    lost = "GAS LOST. " if gas_lost(conn, fill) else ""
    return f"{lost}{gas} ({how}), {shown} at {temperature_text(fill, at_c)}"
