"""Is a reading meant for another cylinder?  Several fills stand open at a panel at once."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection

from blender.record import read
from blender.record.journal import Record
from blender.record.models import FillRow, StepRow
from blender.station.contents import ambient_bar, contents, drained, stop_bar
from blender.station.gauge import typed_reading
from blender.station.numbers import bar, celsius
from blender.station.rules import Rules
from blender.vessel import Contents

_AT_THE_GAUGE = ("filling", "resting")


def suits_better(
    record: Record,
    number: int,
    *,
    at: str,
    temperature: str,
    kind: str = "gas",
    rules: Rules | None = None,
) -> list[dict[str, Any]]:
    """Return the other fills that a reading suits, where it does not suit this one.

    It suits a fill if it shows that fill's next stop; it suits this one, too, anywhere on the
    way there.  Nothing is entered.  With a wall's or room's temperature no stop is told, and
    so no other fill either.

    Parameters
    ----------
    record : Record
        The open record.
    number : int
        The fill it was typed for.
    at, temperature : str
        The reading as typed.
    kind : str
        Whether the temperature is of the ``gas``, the ``wall`` or the ``room``.
    rules : Rules or None
        The station's tolerances.

    Returns
    -------
    list of dict
        Nearest first: ``fill``, ``serial``, ``stop_bar`` (gauge, at that temperature),
        ``customer``; empty where nothing speaks against this fill.

    Raises
    ------
    InputError
        If a value cannot be read, or there is no such fill.
    """
    typed = typed_reading(at, temperature, kind)
    if typed.scale_g is not None:  # a scale is read under one cylinder
        return []
    shown_bar, gas_c = typed.gauge_bar, typed.temperature_c
    tolerance_bar = (rules or Rules()).pressure_tolerance_bar
    with record.read() as conn:
        fill = read.fill(conn, number)
        if kind != "gas" or fill.state not in _AT_THE_GAUGE:
            return []
        _, low_bar, high_bar = _way(conn, fill, gas_c)
        if low_bar - tolerance_bar <= shown_bar <= high_bar + tolerance_bar:
            return []
        found = []
        for other in read.fills_in(conn, _AT_THE_GAUGE):
            stop, _, _ = _way(conn, other, gas_c)
            if abs(stop - shown_bar) <= tolerance_bar:
                found.append((abs(stop - shown_bar), other, stop))
        found.sort(key=lambda one: (one[0], one[1].fill))
        return [_line(conn, other, stop) for _, other, stop in found]


def _line(conn: Connection, fill: FillRow, stop: float) -> dict[str, Any]:
    person = read.person(conn, fill.customer)
    name = read.called(person) if person else fill.customer
    return {"fill": fill.fill, "serial": fill.serial, "stop_bar": stop, "customer": name}


def _way(conn: Connection, fill: FillRow, gas_c: float) -> tuple[float, float, float]:
    """Return where the step a fill is in ends, and the span of gauge pressures on the way [bar].

    With nothing to be let in or out the gauge shows what is in.
    """
    inside = contents(fill, read.cylinder(conn, fill.serial))
    now = inside.gauge_bar(gas_c, ambient_bar(fill))
    steps = read.steps(conn, fill.fill)
    step = steps[fill.step] if fill.step < len(steps) else None
    if step is not None and step.action == "purge":
        vented, up_to = bar(step.from_mbar), bar(step.to_mbar)
        return vented, min(vented, now), max(up_to, now)
    if step is not None and step.action in ("add", "flow", "drain"):
        stop = stop_bar(fill, inside, step, gas_c)
        return stop, min(stop, now), max(stop, now)
    if step is not None and step.action == "rest" and fill.step:
        return _after_drain(fill, inside, steps[fill.step - 1], gas_c) or (now, now, now)
    return now, now, now


def _after_drain(
    fill: FillRow, inside: Contents, drain: StepRow, gas_c: float
) -> tuple[float, float, float] | None:
    """Return the same for the rest after a drain: the gauge rises from the stop, not too far."""
    if drain.action != "drain":
        return None
    around, planned_c = ambient_bar(fill), celsius(drain.temp_mk)
    stop, most = (
        drained(inside, bar(value), planned_c, around).gauge_bar(gas_c, around)
        for value in (drain.to_mbar, drain.from_mbar)
    )
    return stop, stop, most
