"""What many fills together say of gauges, analysers, supplies and methods.

Each analysed fill's departure from its plan is on a chart for everything that had a hand in it
(`blender.drift`); an alarm says in a sentence what is likely off, by how much and since when.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection

from blender.drift import Alarm, Departure, Family, Individuals, individuals, watched
from blender.drift.suspects import Suspect
from blender.drift.track import Point
from blender.errors import InputError
from blender.record import search, upkeep
from blender.record.journal import Record
from blender.record.models import DepartureRow, EquipmentActRow
from blender.record.moment import Moment
from blender.record.upkeep import NEVER_US
from blender.station import drift_words
from blender.station.days import days_of
from blender.station.gauges import CORRECTED, ENDED
from blender.station.items import Facts, facts_of
from blender.station.numbers import bar

LOOKED_BACK = 600  # analysed fills the charts are drawn from
LATEST_ALARMS = 20
_PPM_PER_POINT = 1e4
_MILLIONTHS = 1e6
_BARS = "gauge "
_WORTH = {"gauge": 0.5, "analyser": 0.2, "supply": 2.0, "method": 0.2}


def family(
    conn: Connection, last: int = LOOKED_BACK, until_us: int = NEVER_US
) -> tuple[Family, list[DepartureRow]]:
    """Return the charts of the latest analysed fills, as of a time, and those fills.

    What a correction signed since explains of a fill before it is taken off, from the day on
    from which it counts: so an alarm ends with the correction that was right.
    """
    rows = upkeep.departures(conn, last, until_us)
    signed = [act for act in upkeep.all_acts(conn, CORRECTED) if act.at_us < until_us]
    return watched((_departure(at, row, signed) for at, row in enumerate(rows)), worth), rows


def worth(cause: str) -> float:
    """Return how far a cause must be off to be told of, in its unit; own choice.

    Half of what a dial is read to; of an analyser or a way of filling twice the last digit it
    is read to; of a gas what gives a nitrox about that.

    Examples
    --------
    >>> [worth(cause) for cause in ("gauge G1", "analyser A1", "supply o1", "method banked")]
    [0.5, 0.2, 2.0, 0.2]
    """
    return _WORTH[cause.partition(" ")[0]]


def _departure(place: int, row: DepartureRow, signed: Sequence[EquipmentActRow]) -> Departure:
    effects = {cause: one / _MILLIONTHS for cause, one in json.loads(row.effects).items()}
    points = row.departs_ppm / _PPM_PER_POINT
    day = Moment(row.at_us, row.offset_min).iso[:10]
    for act in signed:
        if row.at_us < act.at_us and day >= act.day:
            by_bar = bar(json.loads(act.facts)["by_mbar"])
            points -= by_bar * effects.get(f"{_BARS}{act.name}", 0.0)
    return Departure(place, points, row.sigma_ppm / _PPM_PER_POINT, effects)


def show(record: Record, last: int = LOOKED_BACK, alarms: int = LATEST_ALARMS) -> Facts:
    """Return what the charts say now, JSON-ready.

    Parameters
    ----------
    record : Record
        The open record.
    last : int
        From how many of the latest analysed fills; 0 is all there are.
    alarms : int
        How many of the latest alarms are given; 0 is all of them.

    Returns
    -------
    dict
        ``fills``, how many are on the charts; ``alarms``, the latest last, each with its
        ``rule``, ``text``, ``evidence`` and ``suspects``; ``charts``, each cause with its latest
        mean and limits; ``corrections`` in force.
    """
    with record.read() as conn:
        charts, rows = family(conn, last)
        found = _alarms(conn, charts.alarms[-alarms:], charts, rows)
        return {
            "fills": len(rows),
            "alarms": found,
            "standing": [one for one in found if one["standing"]],
            "charts": [_latest(cause, charts) for cause in sorted(charts.tracks)],
            "corrections": corrections(conn, standing_only=True),
        }


def _alarms(
    conn: Connection, some: Sequence[Alarm], charts: Family, rows: Sequence[DepartureRow]
) -> list[Facts]:
    serves = {row.name: facts_of(row).get("serves", "") for row in upkeep.items(conn, "gauge")}
    told = filter(_is_worth, map(_things_first, some))
    return [_alarm(alarm, charts, rows, serves) for alarm in told]


def _things_first(alarm: Alarm) -> Alarm:
    """Name the way of filling last of what can't be told apart: a thing can be mended."""
    ordered = sorted(alarm.suspects, key=lambda one: one.cause.startswith("method "))
    return replace(alarm, suspects=tuple(ordered))


def _is_worth(alarm: Alarm) -> bool:
    """Tell whether what is blamed is off by enough: a chart may have been beyond for another."""
    first = next(iter(alarm.suspects), None)
    return first is None or abs(first.bias) >= worth(first.cause)


def unit_of(cause: str) -> str:
    """Return the unit of a cause's bias: bar for a gauge, else percentage points."""
    return "bar" if cause.startswith(_BARS) else "points"


def _latest(cause: str, charts: Family) -> Facts:
    track = charts.tracks[cause]
    last = track.points[-1]
    return {"cause": cause, "unit": unit_of(cause), "fills": len(track.points), "mean": last.mean,
            "half_width": last.half, "beyond": last.beyond}  # fmt: skip


def _alarm(
    alarm: Alarm, charts: Family, rows: Sequence[DepartureRow], serves: Mapping[str, str]
) -> Facts:
    first = alarm.suspects[0] if alarm.suspects else None
    row = rows[_begun(first, alarm) if first else alarm.place]
    facts = {
        "rule": alarm.rule,
        "standing": alarm.standing,
        "fill": rows[alarm.place].fill,
        "raised": _day(rows[alarm.place]),
        "since": _day(row),
        "since_fill": row.fill,
        "beyond": list(alarm.charts),
        "suspects": [_suspect(one, alarm, rows) for one in alarm.suspects],
    }
    return facts | {
        "text": _sentence(alarm, facts, charts, serves),
        "evidence": _evidence(alarm, charts, rows),
    }


def _begun(one: Suspect, alarm: Alarm) -> int:
    """Return since which fill: no later than its alarm stands, though fewer are looked at."""
    return min(one.since, alarm.place)


def _suspect(one: Suspect, alarm: Alarm, rows: Sequence[DepartureRow]) -> Facts:
    row = rows[_begun(one, alarm)]
    return {"cause": one.cause, "bias": one.bias, "half_width": one.half_width,
            "unit": unit_of(one.cause), "since": _day(row), "since_fill": row.fill}  # fmt: skip


def _day(row: DepartureRow) -> str:
    return Moment(row.at_us, row.offset_min).iso[:10]


def _sentence(
    alarm: Alarm, facts: Mapping[str, Any], charts: Family, serves: Mapping[str, str]
) -> str:
    if not alarm.suspects:
        return drift_words.alone(facts["fill"], charts.departures[alarm.place].points)
    return drift_words.sentence(facts["suspects"], serves)


def _evidence(alarm: Alarm, charts: Family, rows: Sequence[DepartureRow]) -> str:
    """Return what an alarm rests on: how many fills, how sure, by which rule."""
    if not alarm.suspects:
        points = charts.departures[alarm.place].points
        times = alarm.limit / alarm.scatter
        return (
            f"{alarm.rule}: {points:+.2f} points, limit +-{alarm.limit:.2f}: {times:.1f} times "
            f"the {alarm.scatter:.2f} points that such a fill scatters by"
        )
    first = alarm.suspects[0]
    since = [one for one in charts.departures if one.place >= first.since]
    count = sum(first.cause in one.effects for one in since)
    return (
        f"{count} fills since fill {rows[first.since].fill}; {first.bias:+.2f} +- "
        f"{first.half_width:.2f} {unit_of(first.cause)} (k = 2); {alarm.rule} on: "
        f"{', '.join(alarm.charts)}"
    )


def chart(record: Record, cause: str, last: int = 60, until: str = "") -> Facts:
    """Return the chart of one cause, JSON-ready, in the unit of the cause.

    Parameters
    ----------
    record : Record
        The open record.
    cause : str
        As `show` names it: ``gauge G1``, ``analyser A1``, ``supply o1``, ``method banked``.
    last : int
        How many of its latest fills.
    until : str
        As it stood at the end of a day, such as ``2026-11-25``; empty for now.

    Returns
    -------
    dict
        ``points``: each fill's own value, the weighted mean after it and the mean's limits;
        ``individuals``: centre and limits of the single values, None for fewer than two;
        ``corrections`` of a gauge, signed and ended.

    Raises
    ------
    InputError
        If there is no such chart, or the day cannot be read.
    """
    named = " ".join(cause.split())
    with record.read() as conn:
        until_us = _end_us(conn, until) if until.strip() else NEVER_US
        charts, rows = family(conn, until_us=until_us)
        signed = corrections(conn, until_us=until_us)
    if named not in charts.tracks:
        known = ", ".join(sorted(charts.tracks)) or "none before a fill is analysed"
        raise InputError("CAUSE", repr(cause[:80]), f"there are charts of {known}")
    return _chart(named, rows, signed, charts.tracks[named].points[-max(last, 1) :])


def _end_us(conn: Connection, day: str) -> int:
    """Return when a day ended, in the zone the fills were last analysed in [us UTC]."""
    latest = upkeep.departures(conn, 1)
    zone = latest[0].offset_min if latest else 0
    return days_of("", day, Moment(0, zone), last_field="--until").until_us


def of_span(record: Record, since_us: int, until_us: int, most: int) -> Facts:
    """Return what the charts said in a span of time, as they stood at its end.

    Parameters
    ----------
    record : Record
        The open record.
    since_us, until_us : int
        The span, until before the end [us UTC].
    most : int
        How many of its last fills each chart has; those without any are left out.

    Returns
    -------
    dict
        ``alarms`` that stood at any time of it, ``charts`` of its fills, and the ``corrections``
        in force at its end, as `show` and `chart` give them.
    """
    with record.read() as conn:
        charts, rows = family(conn, 0, until_us)
        stood = [one for one in charts.alarms
                 if one.standing or rows[one.until].at_us >= since_us]  # fmt: skip
        alarms = _alarms(conn, stood, charts, rows)
        signed = corrections(conn, until_us=until_us)
    found = []
    for named in sorted(charts.tracks):
        within = [one for one in charts.tracks[named].points if rows[one.place].at_us >= since_us]
        if within:
            found.append(_chart(named, rows, signed, within[-most:]))
    in_force = [one for one in signed if not one["ended"]]
    return {"alarms": alarms, "charts": found, "corrections": in_force}


def _chart(
    named: str,
    rows: Sequence[DepartureRow],
    signed: Sequence[Facts],
    points: Sequence[Point],
) -> Facts:
    single = individuals([one.value for one in points]) if len(points) > 1 else None
    return {
        "cause": named,
        "unit": unit_of(named),
        "points": [
            {"fill": rows[one.place].fill, "day": _day(rows[one.place]), "value": one.value,
             "mean": one.mean, "lower": -one.half, "upper": one.half, "beyond": one.beyond}
            for one in points
        ],
        "individuals": _single(single) if single else None,
        "corrections": [one for one in signed if f"{_BARS}{one['gauge']}" == named],
    }  # fmt: skip


def _single(found: Individuals) -> Facts:
    return {"centre": found.centre, "lower": found.lower, "upper": found.upper,
            "beyond": list(found.beyond)}  # fmt: skip


def corrections(
    conn: Connection, *, standing_only: bool = False, until_us: int = NEVER_US
) -> list[Facts]:
    """Return the corrections that were signed by a time, oldest first, with how each ended."""
    acts = [act for act in upkeep.all_acts(conn, CORRECTED, ENDED) if act.at_us < until_us]
    names = search.names(conn, {act.person for act in acts} - {""})
    found: list[Facts] = []
    open_at: dict[str, Facts] = {}
    for act in acts:
        facts, at = json.loads(act.facts), Moment(act.at_us, act.offset_min).iso
        who = {"at": at, "by": names.get(act.person, act.person), "seq": act.seq}
        if act.name in open_at:
            open_at.pop(act.name)["ended"] = who | {"reason": facts["reason"]}
        if act.act == CORRECTED:
            one = {"gauge": act.name, "by_bar": bar(facts["by_mbar"]), "since": act.day,
                   "reason": facts["reason"], "signed": who, "ended": None}  # fmt: skip
            found.append(one)
            open_at[act.name] = one
    return [one for one in found if not (standing_only and one["ended"])]
