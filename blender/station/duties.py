"""Everything that falls due at the station, soonest first: one list, with lead times."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

from sqlalchemy import Connection

from blender.record import read, search, upkeep
from blender.record.journal import Record
from blender.record.models import EquipmentActRow
from blender.record.moment import Moment
from blender.station import gas_balance, watch
from blender.station.filter_hours import filter_use
from blender.station.items import OTHERS, Facts, facts_of
from blender.station.rule_sets import MARKS
from blender.station.rules import Rules, in_force

MONTH_DAYS = 365.25 / 12.0
_AIR_LEAD_DAYS = 14
MOST_TOLD = 1000  # cylinders of which it is said who had them last


@dataclass(frozen=True, slots=True)
class DueRule:
    """What falls due on one kind of equipment.

    Parameters
    ----------
    kind, act : str
        On what, and what is to be done; ``age`` is to be replaced.
    days, lead_days : int
        After so many days, and how long before that it is said [days].
    hours, lead_hours : float
        The same by a compressor's meter, 0 where only days count [h].
    lead_share : float
        Of a filter's life, from which on it is said; 0 for none [1].
    serves : tuple of str
        Only items that serve one of these; all where empty.
    source : str
        Where the interval is from.
    """

    kind: str
    act: str
    days: int
    lead_days: int
    hours: float
    lead_hours: float
    lead_share: float
    serves: tuple[str, ...]
    source: str


@cache
def due_rules() -> tuple[DueRule, ...]:
    """Return what falls due, as the data has it.

    Examples
    --------
    >>> [rule.days for rule in due_rules() if (rule.kind, rule.act) == ("gauge", "calibrated")]
    [365]
    """
    text = files("blender.station.rulesets").joinpath("due.toml").read_text("utf-8")
    return tuple(_rule(one) for one in tomllib.loads(text)["rule"])


def _rule(one: dict[str, Any]) -> DueRule:
    return DueRule(
        kind=one["kind"],
        act=one["act"],
        days=one["days"],
        lead_days=one["lead_days"],
        hours=float(one.get("hours", 0)),
        lead_hours=float(one.get("lead_hours", 0)),
        lead_share=float(one.get("lead_share", 0)),
        serves=tuple(one.get("serves", ())),
        source=f"{one['source']} ({MARKS[one['mark']]})",
    )


@dataclass(frozen=True, slots=True)
class Counted:
    """From when an interval counts: an item's last such act, or when it was taken into use."""

    kind: str
    name: str
    since: str
    ever: bool
    hours_since: float | None = None


def due(
    record: Record, now: Moment, rules: Rules | None = None, *, within_days: int | None = None
) -> Facts:
    """Return everything that is overdue or falls due soon, soonest first.

    Parameters
    ----------
    record : Record
        The open record.
    now : Moment
        Now.
    rules : Rules or None
        The station's; None for those in force.
    within_days : int or None
        What falls due within so many days; None for each thing's own lead time.

    Returns
    -------
    dict
        ``due``: each with ``kind``, ``name``, ``what``, ``date`` and ``days`` (negative when
        overdue; null where it was never done, or is counted by hours alone), ``text``, ``source``.
    """
    with record.read() as conn:
        limits = rules or in_force(conn)
        today = now.local.date()
        found = [*_equipment(conn, today, within_days), *_air(conn, today, limits, within_days)]
        found += map(_unbalanced, gas_balance.failing(conn, record.station, now))
    found += [_of_watch(one) for one in watch.due(record, now, limits, within_days)]
    if within_days is not None:
        found = [one for one in found if one["days"] is None or one["days"] <= within_days]
    return {"due": sorted(found, key=lambda one: (one["days"] is not None, one["days"] or 0))}


def _unbalanced(one: gas_balance.Balance) -> Facts:
    """Return a bank whose gas does not add up like every other line: it is to be seen to now."""
    source = f"its readings of the last {gas_balance.RECENT_DAYS} days, k = 2"
    return {"kind": "supply", "name": one.supply, "what": "balance", "date": None, "days": None,
            "text": gas_balance.told(one), "source": source}  # fmt: skip


def _of_watch(one: Facts) -> Facts:
    """Return a cylinder's stamp or an analyser's setting like every other line."""
    kind = "cylinder" if "serial" in one else "analyser"
    name = one.get("serial") or one["analyser"]
    facts = {key: one[key] for key in ("what", "date", "days", "text")}
    return {"kind": kind, "name": name, **facts, "source": "rules of the station"}


def _equipment(conn: Connection, today: date, within: int | None) -> Iterator[Facts]:
    for rule in due_rules():
        for one in _counted(conn, rule, today.isoformat()):
            if line := _line(conn, rule, one, today, within):
                yield line


def _counted(conn: Connection, rule: DueRule, today: str) -> Iterator[Counted]:
    """Give every item a rule is about, and from when its interval counts."""
    if rule.kind in OTHERS:
        yield from _elsewhere(conn, rule, today)
        return
    for row in upkeep.items(conn, rule.kind):
        if rule.serves and facts_of(row).get("serves", "all") not in rule.serves:
            continue
        last = _last_act(conn, row.kind, row.name, rule.act, today)
        yield Counted(row.kind, row.name, last.day if last else row.day, bool(last))


def _last_act(
    conn: Connection, kind: str, name: str, act: str, today: str
) -> EquipmentActRow | None:
    """Return what was done to an item last by a day: what is due is asked of days past, too."""
    last = upkeep.last_act(conn, kind, name, act)
    if last is None or last.day <= today:
        return last
    acts = upkeep.acts(conn, kind, name, act)
    return next((one for one in reversed(acts) if one.day <= today), None)


def _elsewhere(conn: Connection, rule: DueRule, today: str) -> Iterator[Counted]:
    """Give the compressors or analysers; one that was never served counts from nowhere."""
    if rule.kind == "analyser":
        for meter in read.analysers(conn):
            found = read.finding(conn, rule.act, meter.name)
            day = Moment(found.at_us, found.offset_min).iso[:10] if found else ""
            yield Counted("analyser", meter.name, day, bool(found))
        return
    for row in read.compressors(conn):
        last = _last_act(conn, "compressor", row.name, rule.act, today)
        hours = _hours_since(conn, row.name, last.seq if last else 0, today)
        yield Counted("compressor", row.name, last.day if last else "", bool(last), hours)


def _hours_since(conn: Connection, name: str, seq: int, today: str) -> float | None:
    """Return the hours on a compressor's meter since an act [h], None if nobody read it."""
    shown = [
        (act.seq, json.loads(act.facts)["hours_mh"] / 1000.0)
        for act in upkeep.acts(conn, "compressor", name)
        if act.day <= today and "hours_mh" in json.loads(act.facts)
    ]
    if not shown:
        return None
    before = [hours for at, hours in shown if at <= seq]
    return float(shown[-1][1] - (before[-1] if before else 0.0))


def _line(
    conn: Connection, rule: DueRule, one: Counted, today: date, within: int | None
) -> Facts | None:
    """Return what falls due, None while it is further off than its lead time."""
    lead = rule.lead_days if within is None else within
    until = date.fromisoformat(one.since) + timedelta(days=rule.days) if one.since else None
    days = (until - today).days if until else None
    facts: Facts = {"kind": one.kind, "name": one.name, "what": rule.act,
                    "date": until.isoformat() if until else None, "days": days}  # fmt: skip
    told, near = _by_days(rule, one, days), days is None or days <= lead
    if rule.lead_share and (row := upkeep.item(conn, one.kind, one.name)):
        use = filter_use(conn, row, today)
        if use.share >= rule.lead_share:
            told, near = _by_share(use.share, use.left_h, use.last_c), True
            if days is not None and (use.share >= 1.0 or use.days_left is not None):
                facts["days"] = min(days, int(use.days_left or 0.0))
        facts |= {"used": use.share, "hours_left": use.left_h}
    if rule.hours and one.hours_since is not None:
        left_h = rule.hours - one.hours_since
        facts["hours_left"] = left_h
        if left_h <= rule.lead_hours:
            told, near = f"{one.hours_since:g} h since, interval {rule.hours:g} h", True
    if not near:
        return None
    return {**facts, "text": f"{one.kind} {one.name}: {rule.act}: {told}", "source": rule.source}


def _by_days(rule: DueRule, one: Counted, days: int | None) -> str:
    if days is None:
        return "never on record"
    what = "last" if one.ever else "in use"
    over = f"overdue by {-days} days" if days < 0 else f"due in {days} days"
    return f"{what} since {one.since}, every {rule.days} days: {over}".replace("last since", "last")


def _by_share(share: float, left_h: float, at_c: float) -> str:
    return f"{share:.0%} used, {left_h:.1f} h left at {at_c:.0f} degC intake"


def _air(conn: Connection, today: date, rules: Rules, within: int | None) -> Iterator[Facts]:
    """Give the test of each compressor's air, where the station's rules ask for it."""
    if not rules.air_test_months:
        return
    lead = _AIR_LEAD_DAYS if within is None else within
    for name in [row.name for row in read.compressors(conn)] or [""]:
        rows = [read.finding(conn, "air-test", about) for about in {name, ""}]
        sampled = max((json.loads(row.text)["sampled"] for row in rows if row), default="")
        until = (
            date.fromisoformat(sampled) + timedelta(days=rules.air_test_months * MONTH_DAYS)
            if sampled
            else None
        )
        days = (until - today).days if until else None
        if days is None or days <= lead:
            told = f"sampled {sampled}, every {rules.air_test_months} months" if sampled else (
                "never on record"
            )  # fmt: skip
            yield {"kind": "compressor", "name": name, "what": "air-test",
                   "date": until.isoformat() if until else None, "days": days,
                   "text": f"air of {name or 'the compressor'}: {told}",
                   "source": f"rules: {rules.name}"}  # fmt: skip


def last_had(record: Record, serials: Sequence[str]) -> dict[str, tuple[str, str]]:
    """Return for whom each cylinder was filled last, and on which day.

    Parameters
    ----------
    record : Record
        The open record.
    serials : sequence of str
        The cylinders; one that was never filled is left out.
    """
    with record.read() as conn:
        last = {one: search.last_fills(conn, 1, serial=one) for one in serials[:MOST_TOLD]}
        names = search.names(conn, {fill.customer for fills in last.values() for fill in fills})
    return {
        serial: (names[fill.customer], Moment(fill.requested_us, fill.offset_min).iso[:10])
        for serial, fills in last.items()
        for fill in fills
        if fill.customer in names
    }


def line(one: Facts) -> str:
    """Return what falls due as a line."""
    if one["days"] is None:
        when = "now"
    else:
        when = f"{-one['days']} d over" if one["days"] < 0 else f"in {one['days']} d"
    return f"{when:>10}  {named(one)}"


def named(one: Facts) -> str:
    """Return what is due, with what it is due on where the text alone does not say.

    Examples
    --------
    >>> named({"kind": "cylinder", "name": "C-1", "text": "inspected 2025-03: overdue"})
    'cylinder C-1: inspected 2025-03: overdue'
    """
    text: str = one["text"]
    return text if one["name"] in text else f"{one['kind']} {one['name']}: {text}"
