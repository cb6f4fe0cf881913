"""Which gauge a stop is read on, and what a correction in force does to what it shows.

A correction is added to what the gauge shows, and said wherever it counts: in the entry of the
reading, in the answer, and beside the stop, which is then another figure on the dial.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection

from blender.planning.doubts import Gauge, parse_gauge, serving
from blender.record import upkeep
from blender.record.models import EquipmentRow, FillRow, StepRow
from blender.station.gauge import GaugeReading
from blender.station.items import SERVES, facts_of
from blender.station.numbers import bar
from blender.station.steps import gas_of, more_of
from blender.station.wording import pressure_text

CORRECTED, ENDED = "corrected", "correction-ended"


@dataclass(frozen=True, slots=True)
class Correction:
    """A correction in force: what is added to what a gauge shows.

    Parameters
    ----------
    gauge : str
        Which.
    by_bar : float
        Added to what it shows: above 0 for one that shows too little [bar].
    since : str
        The day from which on it was off, as the manager has it.
    reason : str
        Why.
    seq : int
        The entry it was signed in.
    """

    gauge: str
    by_bar: float
    since: str
    reason: str
    seq: int

    def text(self) -> str:
        """It in words, for wherever it counts."""
        return f"gauge {self.gauge} is corrected by {self.by_bar:+.1f} bar (entry {self.seq})"


def in_force(conn: Connection, gauge: str) -> Correction | None:
    """Return the correction of a gauge that is in force, None if there is none."""
    last = upkeep.last_act(conn, "gauge", gauge, CORRECTED, ENDED) if gauge else None
    if last is None or last.act == ENDED:
        return None
    facts = json.loads(last.facts)
    return Correction(gauge, bar(facts["by_mbar"]), last.day, facts["reason"], last.seq)


def gauge_at(conn: Connection, step: StepRow, named: str = "") -> str:
    """Return the gauge a step is read on: as named, else the one registered for its gas.

    Empty if nobody named one, and none or several are registered for it.
    """
    if named:
        return named
    gauges = upkeep.items(conn, "gauge")
    gas = gas_of(step) if step.action == "add" else None
    for wanted in (serving(step.action, gas), "all"):
        found = {_in_place(conn, row) for row in gauges if _serves(row) == wanted}
        if len(found) == 1:
            return found.pop()
    return ""


def panel(conn: Connection) -> tuple[tuple[str, Gauge], ...]:
    """Return the gauges on record for the stops of each gas: class and scale of each.

    As in `gauge_at` one counts only where it is the only one for its gas.
    """
    found: list[tuple[str, Gauge]] = []
    rows = upkeep.items(conn, "gauge")
    for serves in SERVES:
        names = {_in_place(conn, row) for row in rows if _serves(row) == serves}
        row = upkeep.item(conn, "gauge", names.pop()) if len(names) == 1 else None
        if row is not None:
            found.append((serves, replace(parse_gauge(facts_of(row)["range"]), name=row.name)))
    return tuple(found)


def _serves(row: EquipmentRow) -> str:
    return str(facts_of(row).get("serves", ""))


def _in_place(conn: Connection, row: EquipmentRow) -> str:
    """Return the gauge now in the place of one, after every swap."""
    name, seq = row.name, 0
    while (last := upkeep.last_act(conn, "gauge", name, "swapped")) and last.seq > seq:
        name, seq = json.loads(last.facts)["by"], last.seq
    return name


def as_corrected(conn: Connection, step: StepRow, typed: GaugeReading) -> GaugeReading:
    """Return a reading with its gauge, and as the correction in force has it."""
    if typed.scale_g is not None:
        return typed
    name = gauge_at(conn, step, typed.gauge)
    found = in_force(conn, name)
    if found is None:
        return replace(typed, gauge=name)
    return replace(
        typed,
        gauge=name,
        gauge_bar=max(typed.gauge_bar + found.by_bar, 0.0),
        shown_bar=typed.gauge_bar,
        correction=found.seq,
    )


def correction_note(typed: GaugeReading) -> str:
    """Say what a correction made of a reading; empty where there is none."""
    if typed.shown_bar is None:
        return ""
    by_bar = typed.gauge_bar - typed.shown_bar
    return (
        f"It shows {typed.shown_bar:.1f} bar; gauge {typed.gauge} is corrected by "
        f"{by_bar:+.1f} bar (entry {typed.correction})."
    )


def stop_on_dial(
    conn: Connection, fill: FillRow, steps: Sequence[StepRow], at: int, here_bar: float
) -> dict[str, Any]:
    """Return what the dial shows at a stop where a correction is in force, else nothing.

    Returns
    -------
    dict
        ``gauge``, ``gauge_shows_bar``, ``correction`` (its entry) and ``text``.
    """
    if at >= len(steps) or more_of(steps[at]).scale_g is not None:
        return {}
    found = in_force(conn, gauge_at(conn, steps[at]))
    if found is None:
        return {}
    shows_bar = max(here_bar - found.by_bar, 0.0)
    told = f"On the dial stop at {pressure_text(fill, shows_bar)}: {found.text()}"
    return {"gauge": found.gauge, "gauge_shows_bar": shows_bar, "correction": found.seq,
            "text": told}  # fmt: skip


def minded(
    conn: Connection, fill: FillRow, steps: Sequence[StepRow], facts: dict[str, Any]
) -> dict[str, Any]:
    """Return what comes next with what the dial shows then, where a correction is in force."""
    coming = facts["next"]
    if "to_bar_here" not in coming:
        return facts
    found = stop_on_dial(conn, fill, steps, coming["step"], coming["to_bar_here"])
    if not found:
        return facts
    told = found.pop("text")
    return facts | {"next": coming | found, "next_text": f"{facts['next_text']} {told}."}


def on_dial(conn: Connection, fill: FillRow, steps: Sequence[StepRow], at: int) -> list[str]:
    """Return, for a tag, what the dial shows at a stop whose gauge is corrected; or nothing."""
    step = steps[at]
    if step.to_mbar < 0 or step.action not in ("add", "flow", "drain", "purge"):
        return []
    found = stop_on_dial(conn, fill, steps, at, bar(step.to_mbar))
    return [f"ON THE DIAL {pressure_text(fill, found['gauge_shows_bar'])}"] if found else []


def on_the_dial(conn: Connection, fill: FillRow, steps: Sequence[StepRow]) -> list[str]:
    """Return, for every stop of a plan read on a corrected gauge, what the dial shows then."""
    told = []
    for at, step in enumerate(steps):
        if step.to_mbar >= 0 and step.action in ("add", "flow", "drain", "purge"):
            found = stop_on_dial(conn, fill, steps, at, bar(step.to_mbar))
            told += [f"step {at + 1}: {found['text']}"] if found else []
    return told


def swapped_since(conn: Connection, gauge: str, since_us: int) -> str:
    """Return what a gauge took the place of since a moment, empty if it did not."""
    for act in upkeep.all_acts(conn, "swapped"):
        if act.at_us > since_us and json.loads(act.facts)["by"] == gauge:
            return act.name
    return ""
