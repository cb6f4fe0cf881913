"""What is asked of the gear gas goes through: filters used up, whips and panel not oxygen-clean.

Only what is on the register is asked about; a station that enters none is not asked.
"""

from __future__ import annotations

from datetime import date, timedelta

from blender.record import upkeep
from blender.record.models import EquipmentRow
from blender.station.desk import Act
from blender.station.duties import due_rules
from blender.station.filter_hours import filter_use
from blender.station.gates import ASK, PASS, STOP, Gate
from blender.station.items import facts_of

_FOR_OXYGEN = ("oxygen", "all")


def filter_gates(act: Act) -> list[Gate]:
    """Ask whether the filters in use are used up: the worst answer."""
    found = [_filter(act, row) for row in upkeep.items(act.conn, "filter")]
    return sorted(found, key=lambda gate: gate.answer != ASK)[:1]


def _filter(act: Act, row: EquipmentRow) -> Gate:
    use = filter_use(act.conn, row, act.now.local.date())
    fact = f"filter {row.name} on {facts_of(row)['on']} is {use.share:.0%} used"
    if use.share >= 1.0:
        return Gate("filter", ASK, f"{fact}: change it")
    return Gate("filter", PASS, fact)


def oxygen_path_gates(act: Act) -> list[Gate]:
    """Ask whether whips and panel that rich gas goes through are clean for it: the worst answer."""
    found = [
        _path(act, row)
        for kind in ("whip", "panel")
        for row in upkeep.items(act.conn, kind)
        if facts_of(row).get("serves", "all") in _FOR_OXYGEN
    ]
    return sorted(found, key=lambda gate: (gate.answer != STOP, not gate.caution))[:1]


def _path(act: Act, row: EquipmentRow) -> Gate:
    last = upkeep.last_act(act.conn, row.kind, row.name, "cleaned")
    what = f"{row.kind} {row.name}"
    if last is not None and not last.ok:
        told = f"{what} was found not clean for oxygen on {last.day}: clean it first"
        return Gate("oxygen-path", STOP, told)
    rule = next(one for one in due_rules() if (one.kind, one.act) == (row.kind, "cleaned"))
    since = last.day if last else row.day
    over = date.fromisoformat(since) + timedelta(days=rule.days) < act.now.local.date()
    fact = f"{what} {'cleaned' if last else 'in use'} since {since}"
    if over:
        told = f"{fact}, every {rule.days} days: clean it for oxygen"
        return Gate("oxygen-path", PASS, told, caution=True)
    return Gate("oxygen-path", PASS, fact)
