"""One mix and pressure for many cylinders: a boat's request, planned against finite banks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError, NoFillError
from blender.planning.options import Options
from blender.record import read
from blender.record.journal import Record
from blender.record.models import FillRow
from blender.record.states import ENDED
from blender.station import planning
from blender.station.actor import Actor
from blender.station.ahead import what_next
from blender.station.answer import Answer
from blender.station.banks_ahead import left_by, still_drawn
from blender.station.book import when
from blender.station.contents import contents
from blender.station.desk import Station
from blender.station.doubts import gas_lost
from blender.station.foresight import TO_PLAN, asked_of, foresee
from blender.station.gates import STOP, Gate
from blender.station.numbers import bar, celsius, fraction
from blender.station.overshot import overshot
from blender.station.requesting import TakenIn
from blender.station.states import do_not_breathe
from blender.station.wording import residual_text

MOST = 24
_SIGNED = ("accepted", "collected")


@dataclass(frozen=True, slots=True)
class BatchCylinder:
    """One cylinder of a batch, as typed.

    Parameters
    ----------
    serial : str
        Its serial.
    have, residual : str
        What is left in it, ``60bar@20C:EAN28``, and how that is known.
    customer : str
        Whose it is, where it is not the batch's customer's.
    """

    serial: str
    have: str
    residual: str
    customer: str = ""


def request_batch(
    station: Station,
    actor: Actor,
    *,
    cylinders: Sequence[BatchCylinder],
    customer: str,
    want: str,
    ambient: str | None = None,
) -> dict[str, Any]:
    """Take in up to 24 cylinders for one mix and pressure: all of them or none.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who takes them in.
    cylinders : sequence of BatchCylinder
        In the order in which they will be filled.
    customer : str
        Whose they are, name or id.
    want : str
        As typed: ``200bar:EAN32``.
    ambient : str or None
        Ambient pressure gauges count from here; None for the standard one.

    Returns
    -------
    dict
        ``batch`` and ``fills``, one answer a cylinder.

    Raises
    ------
    InputError
        If anything cannot be read or is not in the record; it names every such cylinder, and
        nothing is entered.
    """
    _check_count(cylinders)
    with station.act(actor, "request") as act:
        number = read.next_batch_number(act.conn)
        answers, problems = [], []
        for one in cylinders:
            whose = one.customer or customer
            try:
                taken = TakenIn.typed(one.serial, whose, one.have, one.residual, want, ambient)
                answers.append(taken.enter(act, batch=number))
            except InputError as error:
                problems.append(f"{one.serial[:80]!r}: {error.text}")
        if problems:
            told = "; ".join(problems)
            allowed = f"none of the {len(cylinders)} cylinders was taken in: {told}"
            raise InputError("batch", f"{len(problems)} of them", allowed)
    fills = [answer.as_dict() for answer in answers]
    text = f"Batch {number}: {len(fills)} cylinders, {want.strip()} wanted in each."
    return {"batch": number, "want": want.strip(), "fills": fills, "text": text}


def _check_count(cylinders: Sequence[BatchCylinder]) -> None:
    if not 1 <= len(cylinders) <= MOST:
        raise InputError("batch", f"{len(cylinders)} cylinders", f"a batch has 1 to {MOST}")
    seen: set[str] = set()
    for one in cylinders:
        if one.serial.strip() in seen:
            raise InputError("batch", repr(one.serial[:80]), "each cylinder is named once")
        seen.add(one.serial.strip())


def batches(record: Record) -> list[dict[str, Any]]:
    """Return the batches that are not at their end, oldest first, each a JSON-ready line."""
    with record.read() as conn:
        by_batch: dict[int, list[FillRow]] = {}
        for fill in read.batched_fills(conn):
            by_batch.setdefault(fill.batch, []).append(fill)
        names = _names(conn)
    return [
        _summary(number, fills, names)
        for number, fills in by_batch.items()
        if any(fill.state not in ENDED for fill in fills)
    ]


def _summary(number: int, fills: Sequence[FillRow], names: dict[str, str]) -> dict[str, Any]:
    first = fills[0]
    states: dict[str, int] = {}
    for fill in fills:
        states[fill.state] = states.get(fill.state, 0) + 1
    return {
        "batch": number,
        "want": first.want_typed,
        "customers": list(dict.fromkeys(names.get(f.customer, f.customer) for f in fills)),
        "cylinders": len(fills),
        "open": sum(fill.state not in ENDED for fill in fills),
        "states": states,
        "requested_at": when(first.requested_us, first.offset_min),
    }


def _names(conn: Connection) -> dict[str, str]:
    return {row.person: read.called(row) for row in read.people(conn)}


def of_batch(conn: Connection, batch: int) -> list[FillRow]:
    """Return the fills of a batch in their order.

    Raises
    ------
    InputError
        If there is no such batch.
    """
    found = read.fills_of_batch(conn, batch)
    if not found:
        raise InputError("batch", batch, "no batch of that number; see `batch board`")
    return found


def unsigned(fills: Iterable[FillRow]) -> list[FillRow]:
    """Return the fills whose diver has not read and signed; rejected ones are nobody's."""
    return [fill for fill in fills if fill.state not in (*_SIGNED, *ENDED)]


def board(record: Record, batch: int) -> dict[str, Any]:
    """Return where every cylinder of a batch stands, JSON-ready.

    Raises
    ------
    InputError
        If there is no such batch.
    """
    with record.read() as conn:
        fills, names = of_batch(conn, batch), _names(conn)
        lines = [_line(conn, fill, names) for fill in fills]
    waiting = [fill.serial for fill in unsigned(fills)]
    return {
        **_summary(batch, fills, names),
        "lines": lines,
        "not_yet_analysed_by_diver": waiting,
    }


def _line(conn: Connection, fill: FillRow, names: dict[str, str]) -> dict[str, Any]:
    analysed = None
    if fill.o2_ppm >= 0:
        helium = None if fill.he_ppm < 0 else fraction(fill.he_ppm)
        analysed = {"o2": fraction(fill.o2_ppm), "he": helium}
    return {
        "fill": fill.fill,
        "serial": fill.serial,
        "customer": names.get(fill.customer, fill.customer),
        "state": fill.state,
        "residual": residual_text(fill),
        "residual_source": fill.residual,
        "next": _next(conn, fill),
        "beyond_stop": _beyond(conn, fill) or None,
        "gas_lost": gas_lost(conn, fill) or None,
        "last_reading": _last_reading(conn, fill),
        "analysed": analysed,
        "accepted_by": fill.accepted_name,
        "do_not_breathe": do_not_breathe(fill.state, has_gas=fill.has_gas),
    }


def _next(conn: Connection, fill: FillRow) -> dict[str, Any] | None:
    """Return the next stop where gas is still to be let in or out, None elsewhere."""
    steps = read.steps(conn, fill.fill)
    if fill.state not in ("planned", "filling", "held", "correcting") or not steps:
        return None
    inside = contents(fill, read.cylinder(conn, fill.serial))
    found: dict[str, Any] = what_next(fill, inside, steps, fill.step)["next"]
    return found


def _beyond(conn: Connection, fill: FillRow) -> str:
    """Return what was said of a stop that was passed: it is planned again before more goes in."""
    standing = read.readings(conn, fill.fill, standing_only=True)
    return overshot(conn, fill, read.steps(conn, fill.fill), standing)


def _last_reading(conn: Connection, fill: FillRow) -> dict[str, Any] | None:
    standing = read.readings(conn, fill.fill, standing_only=True)
    if not standing:
        return None
    row = standing[-1]
    return {
        "pressure_bar": bar(row.gauge_mbar),
        "temperature_c": celsius(row.temp_mk),
        "kind": row.kind,
        "at": when(row.at_us, fill.offset_min),
    }


def plan_batch(station: Station, actor: Actor, batch: int, options: Options) -> list[Answer]:
    """Plan every fill of a batch that has not been started, in order.

    Each is planned with the supplies as they will be after those being filled and those
    before it; one that cannot be made, or that a gate refuses, draws nothing.

    Raises
    ------
    InputError
        If an option cannot be read, or there is no such batch.
    """
    _check_tower(options)
    with station.record.read() as conn:
        fills = of_batch(conn, batch)
        drawn = still_drawn(conn, fills, options)
    to_plan = [fill for fill in fills if fill.state in TO_PLAN]
    answers = []
    for fill in to_plan:
        try:
            answer = planning.plan(station, actor, fill.fill, options, drawn=drawn)
        except NoFillError as short:
            answer = _short(fill, short)
        answers.append(answer)
        if answer.done:
            request = asked_of(station.record, fill.fill, options, drawn)
            drawn |= left_by(request, answer.facts["plan"]["steps"])
    return answers


def _check_tower(options: Options) -> None:
    """Refuse to allow for a filter tower's old gas: after the first fill it holds new gas."""
    if options.tower is not None:
        allowed = "after the first fill it holds new gas: purge it, or plan the fills one by one"
        raise InputError("--tower", repr(options.tower[:80]), allowed)


def _short(fill: FillRow, short: NoFillError) -> Answer:
    facts = {"code": short.code, "alternatives": list(short.alternatives)}
    text = f"No plan for {fill.serial}: {short.text}"
    return Answer(fill.fill, fill.state, [Gate("supply", STOP, short.text)], False, text, facts)


def forecast(record: Record, batch: int, options: Options | None = None) -> dict[str, Any]:
    """Return how far the banks go in a batch, before anything is planned; nothing is entered.

    A cylinder that cannot be completed is shown at the highest pressure of the wanted gas
    that the banks would still give it, and draws nothing.

    Parameters
    ----------
    record : Record
        The open record.
    batch : int
        The batch.
    options : Options or None
        Planning options; None for the station's own supplies and defaults.

    Returns
    -------
    dict
        ``lines`` one a cylinder, ``complete`` (serials), ``first_short`` (serial or None),
        ``why``, and ``banks_after`` the bottles' gauge pressures after the complete ones [bar].

    Raises
    ------
    InputError
        If an option cannot be read, or there is no such batch.
    """
    given = options or Options()
    _check_tower(given)
    with record.read() as conn:
        fills = of_batch(conn, batch)
    lines, banks = foresee(record, fills, lambda _: given, given)
    short_lines = [line for line in lines if not line["complete"]]
    return {
        "batch": batch,
        "lines": lines,
        "complete": [line["serial"] for line in lines if line["complete"]],
        "first_short": short_lines[0]["serial"] if short_lines else None,
        "why": short_lines[0]["why"] if short_lines else "",
        "banks_after": banks,
    }
