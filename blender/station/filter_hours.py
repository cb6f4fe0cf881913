"""How much of a filter is used: by the hours its compressor ran, and how warm it was."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from blender.filter_life import REFERENCE_C, used_share, wear
from blender.record import upkeep
from blender.record.models import EquipmentActRow, EquipmentRow
from blender.station.items import facts_of
from blender.station.numbers import celsius


@dataclass(frozen=True, slots=True)
class FilterUse:
    """How far a filter is used.

    Parameters
    ----------
    share : float
        Of its life [1].
    hours : float
        Run since it was changed [h].
    left_h : float
        Left at the temperature of the last run, never below 0 [h].
    per_day_h : float
        Run a day since it was changed, 0 if that is not known [h].
    last_c : float
        Temperature of the air drawn in at the last run [degC].
    """

    share: float
    hours: float
    left_h: float
    per_day_h: float
    last_c: float

    @property
    def days_left(self) -> float | None:
        """Until it is used up at this pace, None where the pace is not known [days]."""
        return self.left_h / self.per_day_h if self.per_day_h > 0.0 else None


def filter_use(conn: Connection, row: EquipmentRow, today: date) -> FilterUse:
    """Return how far a filter is used by what is on record.

    Hours before it was changed, or before it was taken into use, do not count.  A change that
    says what the meter showed counts from there, else from the last reading before it.
    """
    facts = facts_of(row)
    changed = upkeep.last_act(conn, "filter", row.name, "changed")
    runs = _runs(upkeep.acts(conn, "compressor", facts["on"], "ran"), row, changed)
    reference_c = celsius(facts["at_mk"]) if "at_mk" in facts else REFERENCE_C
    rated_h = facts["life_mh"] / 1000.0
    share = used_share(runs, rated_h, reference_c)
    last_c = runs[-1][1] if runs else reference_c
    left_h = max(1.0 - share, 0.0) * rated_h / wear(last_c, reference_c)
    hours, since = sum(run for run, _ in runs), changed.day if changed else row.day
    days = (today - date.fromisoformat(since)).days
    return FilterUse(share, hours, left_h, hours / days if days > 0 else 0.0, last_c)


def _runs(
    ran: Sequence[EquipmentActRow], row: EquipmentRow, changed: EquipmentActRow | None
) -> list[tuple[float, float]]:
    """Return hours run since the filter was new, and the temperature of each run."""
    new_seq = changed.seq if changed else row.seq
    meter_mh = json.loads(changed.facts).get("hours_mh") if changed else None
    if meter_mh is None:
        before = [act for act in ran if act.seq < new_seq]
        meter_mh = _shown_mh(before[-1]) if before else None
    runs = []
    for act in (act for act in ran if act.seq > new_seq):
        now_mh = _shown_mh(act)
        # Where nobody said what the meter stood at, it counts from its first reading on.
        ran_mh = max(now_mh - meter_mh, 0) if meter_mh is not None else 0
        runs.append((ran_mh / 1000.0, celsius(json.loads(act.facts)["temp_mk"])))
        meter_mh = now_mh
    return runs


def _shown_mh(act: EquipmentActRow) -> int:
    return int(json.loads(act.facts)["hours_mh"])
