"""Gas in hand: what is connected and in the store, when it runs out, whether today's fills fit."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, and_, func, select

from blender.errors import InputError
from blender.gas import parse_gas
from blender.planning.options import Options
from blender.record import read, search, upkeep
from blender.record.journal import Record
from blender.record.models import DeliveryRow, FillRow, ReadingRow, SupplyRow
from blender.record.moment import Moment
from blender.record.projection import table
from blender.station import deliveries, gas_balance
from blender.station.foresight import TO_PLAN, foresee
from blender.station.numbers import bar, mol
from blender.station.planning import supply_of
from blender.stock_forecast import RunsOut, runs_out
from blender.vessel import amount_for_pressure

MOST_WEEKS = 52
_DAY_US = 86_400_000_000
_OPEN = ("filling", "held", "correcting", *TO_PLAN)
_MOST_FILLS = 60  # planned ahead at once
_TAKEN_IN_BEFORE_US = 14 * _DAY_US  # a fill may be requested so long before it is filled


def in_hand(record: Record, now: Moment, *, weeks: int = 4) -> dict[str, Any]:
    """Return what gas there is, when it runs out, and whether today's requests fit.

    Parameters
    ----------
    record : Record
        The open record.
    now : Moment
        Now.
    weeks : int
        From the use of so many weeks, 1 to 52; a shorter life of the station counts as it is.

    Returns
    -------
    dict
        ``supplies``: each connected bottle or bank, what it should show, what was drawn a day;
        ``unbalanced``: banks whose gas does not add up, with a ``text``;
        ``store``: deliveries with bottles left; ``gases``: by kind (``oxygen``, ``helium``, a
        mix by name) what is in hand [mol] and when it ``runs_out``: ``days``, with a range that
        holds it nine times in ten, and the ``date`` of its early end; null where nothing was
        drawn; ``requests``: whether open fills fit, in order, and the banks after them.

    Raises
    ------
    InputError
        For a number of weeks that is not 1 to 52.
    """
    if not 1 <= weeks <= MOST_WEEKS:
        raise InputError("--weeks", f"{weeks}", f"1 to {MOST_WEEKS} weeks")
    with record.read() as conn:
        rows = [row for row in read.supplies(conn) if not row.retired]
        store = upkeep.deliveries(conn, remaining=True)
        days = _days(conn, now, weeks)
        drawn = _drawn(conn, now, days)
        fills = sorted(search.fills_in(conn, _OPEN, _MOST_FILLS), key=lambda fill: fill.fill)
        unbalanced = gas_balance.failing(conn, record.station, now)
        options = {fill.fill: _options(conn, record.station, fill) for fill in fills}
    lines, banks = foresee(record, fills, lambda fill: options[fill.fill])
    short = [line for line in lines if not line["complete"]]
    return {
        "days": days,
        "supplies": [_supply(row, drawn.get(row.name, [])) for row in rows],
        "store": [deliveries.facts(row) for row in store],
        "gases": list(_gases(rows, store, drawn, now)),
        "unbalanced": [one.as_dict() | {"text": gas_balance.told(one)} for one in unbalanced],
        "requests": {"fit": not short, "lines": lines, "first_short": _first(short),
                     "being_filled": len(fills) - len(lines), "banks_after": banks},
    }  # fmt: skip


def _first(short: Sequence[dict[str, Any]]) -> int | None:
    return int(short[0]["fill"]) if short else None


def _days(conn: Connection, now: Moment, weeks: int) -> int:
    """Return over how many whole days use is counted: never longer than there is a record of."""
    station = read.station(conn)
    known = -((station.founded_us - now.us) // _DAY_US) if station else 1
    return int(min(max(known, 1), weeks * 7))


def _drawn(conn: Connection, now: Moment, days: int) -> dict[str, list[float]]:
    """Return what was drawn from each supply on each of the last days [mol], oldest first."""
    first_us = now.us - days * _DAY_US
    found: dict[str, list[float]] = {}
    for row in _readings(conn, first_us):
        at = min(int((row.at_us - first_us) // _DAY_US), days - 1)
        draws = [(row.supply, row.drawn_umol), *((n, umol) for n, umol, _ in json.loads(row.also))]
        for name, umol in draws:
            if name and umol > 0:
                found.setdefault(name, [0.0] * days)[at] += mol(umol)
    return found


def _readings(conn: Connection, first_us: int) -> list[ReadingRow]:
    """Return the standing readings since a moment, but for fills that never were."""
    fill, reading = table(FillRow).c, table(ReadingRow).c
    early = fill.requested_us >= first_us - _TAKEN_IN_BEFORE_US
    first = conn.execute(select(func.min(fill.fill)).where(early)).scalar()
    if first is None:
        return []
    voided = select(fill.fill).where(fill.state == "voided")
    where = and_(reading.fill >= first, reading.at_us >= first_us, reading.corrected_by == 0,
                 reading.fill.not_in(voided))  # fmt: skip
    return read.rows(conn, ReadingRow, where)


def _options(conn: Connection, station: str, fill: FillRow) -> Options:
    """Return the options a fill was planned with, the station's own before its plan."""
    plans = [
        entry.data["options"]
        for entry in read.entries_of_fill(conn, station, fill.fill)
        if entry.kind == "fill.planned"
    ]
    if not plans:
        return Options()
    typed: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in plans[-1].items()
    }
    return Options(**typed)


def _supply(row: SupplyRow, drawn: Sequence[float]) -> dict[str, Any]:
    shown = supply_of(row)
    return {
        "name": row.name,
        "gas": row.gas_typed,
        "size_l": row.size_ml / 1000.0 or None,
        "pressure_bar": shown.gauge_bar,
        "content_mol": mol(row.content_umol) if row.size_ml else None,
        "lot": row.lot or None,
        "certificate": row.certificate or None,
        "delivery": row.delivery or None,
        "read_us": row.read_us or None,
        "drawn_mol": sum(drawn),
        "a_day_mol": sum(drawn) / len(drawn) if drawn else 0.0,
    }


def kind_of(gas_typed: str) -> str:
    """Return the kind a gas is counted under: grades of oxygen and helium each as one.

    Examples
    --------
    >>> kind_of("oxygen99.5"), kind_of("helium"), kind_of("EAN32")
    ('oxygen', 'helium', 'EAN32')
    """
    gas = parse_gas(gas_typed)
    if gas.o2 > 0.9:
        return "oxygen"
    return "helium" if gas.he > 0.9 else gas_typed.strip()


def _gases(
    rows: Sequence[SupplyRow],
    store: Sequence[DeliveryRow],
    drawn: dict[str, list[float]],
    now: Moment,
) -> Iterator[dict[str, Any]]:
    """Give each kind of gas: what is in hand of it, what is drawn, when it runs out."""
    kinds = [kind_of(row.gas_typed) for row in rows] + [kind_of(row.gas_typed) for row in store]
    for kind in dict.fromkeys(kinds):
        mine = [row for row in rows if kind_of(row.gas_typed) == kind]
        kept = [row for row in store if kind_of(row.gas_typed) == kind]
        daily = [sum(day) for day in zip(*(drawn[r.name] for r in mine if r.name in drawn),
                                         strict=True)]  # fmt: skip
        endless = any(row.size_ml == 0 for row in mine)
        connected, stored = sum(mol(row.content_umol) for row in mine), sum(map(_stored, kept))
        known = len(daily) >= 7 and not endless
        found = runs_out(connected + stored, daily) if known else None
        yield {
            "gas": kind,
            "endless": endless,
            "connected_mol": None if endless else connected,
            "store_mol": stored,
            "a_day_mol": sum(daily) / len(daily) if daily else 0.0,
            "runs_out": _when(found, now) if found else None,
        }


def _stored(row: DeliveryRow) -> float:
    """Return what a delivery still has in the store [mol]; a pressure nobody said counts as 0."""
    if row.mbar == deliveries.UNKNOWN:
        return 0.0
    volume_m3 = row.size_ml / 1e6
    each = amount_for_pressure(parse_gas(row.gas_typed), bar(row.mbar), 20.0, volume_m3)
    return row.remaining * each


def _when(found: RunsOut, now: Moment) -> dict[str, Any]:
    early = Moment(now.us + round(min(found.low_days, 36_500.0) * _DAY_US), now.offset_min)
    return {"days": found.days, "low_days": found.low_days, "high_days": found.high_days,
            "early_date": early.iso[:10], "by_weekday": found.by_weekday}  # fmt: skip


def lines(answer: dict[str, Any]) -> list[str]:
    """Return what is in hand as lines for people."""
    told = [_supply_line(one) for one in answer["supplies"]]
    told += [f"delivery {deliveries.line(one).strip()}" for one in answer["store"]]
    told += [_gas_line(one, answer["days"]) for one in answer["gases"]]
    told += [f"! {one['text']}: what is in hand is unsure" for one in answer["unbalanced"]]
    return told + _request_lines(answer["requests"])


def _supply_line(one: dict[str, Any]) -> str:
    what = f"{one['name']:12} {one['gas']:12}"
    if one["pressure_bar"] is None:
        return f"{what} does not run out, {one['a_day_mol']:.1f} mol a day"
    lot = f", lot {one['lot']}" if one["lot"] else ""
    return (
        f"{what} should show {one['pressure_bar']:.1f} bar, {one['a_day_mol']:.1f} mol a day{lot}"
    )


def _gas_line(one: dict[str, Any], days: int) -> str:
    if one["endless"]:
        return f"{one['gas']}: does not run out"
    held = f"{one['gas']}: {one['connected_mol'] + one['store_mol']:.0f} mol in hand"
    if not (found := one["runs_out"]):
        few = f"nothing drawn in {days} days" if days >= 7 else "a week of use is needed to tell"
        return f"{held}; {few}"
    span = f"{found['low_days']:.0f} to {found['high_days']:.0f}"
    week = ", by days of the week" if found["by_weekday"] else ""
    when = f"runs out in {found['days']:.0f} days ({span}){week}"
    return f"{held}, {when}, by {found['early_date']} early"


def _request_lines(requests: dict[str, Any]) -> list[str]:
    count = len(requests["lines"])
    open_fills = f"{count} open request{'' if count == 1 else 's'}"
    if requests["fit"]:
        return [f"{open_fills}: all fit" if count else "no open requests"]
    short = [one for one in requests["lines"] if not one["complete"]]
    return [f"{open_fills}: {len(short)} do NOT fit"] + [
        f"  fill {one['fill']}, {one['serial']}: {one['why']}" for one in short
    ]
