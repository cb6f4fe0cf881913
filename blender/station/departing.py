"""How far an analysed fill came out from its plan, and what may have had a hand in it.

Worked out when the analysis is entered and kept in its entry, from what was known then: the
stops as they were read, the plan's own uncertainty and the analyser's.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection

from blender.gas import AIR, Mix
from blender.planning.doubts import serving
from blender.record import read
from blender.record.entry import Entry
from blender.record.models import FillRow, ReadingRow
from blender.station.contents import ambient_bar, contents
from blender.station.numbers import bar, celsius, mol, ppm
from blender.vessel import amount_for_pressure

# What moves the mix by less than this a unit, nobody would ever find by it [points].
LEAST_EFFECT = {"gauge": 0.1, "supply": 0.02}
_MILLIONTHS = 1e6
_BASES = ("fill.requested", "fill.residual", "fill.residual-corrected", "fill.planned")
Amounts = tuple[float, ...]


def departure(
    conn: Connection, station: str, fill: FillRow, o2_u_ppm: int, analyser: str
) -> dict[str, Any] | None:
    """Return what is entered with an analysis of a finished mix, None where nothing can be said.

    Parameters
    ----------
    conn : Connection
        The record.
    station : str
        Its station.
    fill : FillRow
        The fill, its gas let in.
    o2_u_ppm : int
        Expanded uncertainty of the analysis, k = 2 [ppm].
    analyser : str
        What it was read on.

    Returns
    -------
    dict or None
        ``predicted_ppm``; ``sigma_ppm``, the standard uncertainty of analysed less predicted;
        ``effects``, what one unit of each cause moves that by, in millionths of a point.  None
        if the plan did not say how sure it was, or nothing was let in since the last analysis.
    """
    entries = read.entries_of_fill(conn, station, fill.fill)
    plans = [entry.data for entry in entries if entry.kind == "fill.planned"]
    sure_ppm = plans[-1]["result"].get("o2_u_ppm") if plans else None
    inside = contents(fill, read.cylinder(conn, fill.serial))
    moved = _moved(conn, fill, entries, inside.volume_m3)
    if sure_ppm is None or moved is None:
        return None
    method = fill.method.rpartition(" + ")[2]
    effects = {f"analyser {analyser}": 1.0, f"method {method}": 1.0, **moved}
    return {
        "predicted_ppm": ppm(inside.mix.o2),
        "sigma_ppm": max(round(math.hypot(sure_ppm / 2.0, o2_u_ppm / 2.0)), 1),
        "effects": {cause: round(one * _MILLIONTHS) for cause, one in effects.items()},
    }


def _moved(
    conn: Connection, fill: FillRow, entries: Sequence[Entry], volume_m3: float
) -> dict[str, float] | None:
    """Return what a bar of each gauge, and a point of each supply, moves the oxygen by [points]."""
    base = next(
        (one for one in reversed(entries) if one.kind in _BASES and "contents_umol" in one.data),
        None,
    )
    known = {entry.seq: entry.data for entry in entries}
    readings = [
        row
        for row in read.readings(conn, fill.fill, standing_only=True)
        if base is not None and row.seq > base.seq and known[row.seq]["counts"]
    ]
    if base is None or not any(any(_added(row)) for row in readings):
        return None
    return _effects(fill, entries, base, readings, known, volume_m3)


def _added(row: ReadingRow) -> Amounts:
    return tuple(mol(umol) for umol in json.loads(row.added_umol))


def _effects(
    fill: FillRow,
    entries: Sequence[Entry],
    base: Entry,
    readings: Sequence[ReadingRow],
    known: Mapping[int, dict[str, Any]],
    volume_m3: float,
) -> dict[str, float]:
    on = {row.seq: cause_of(row, _step_of(entries, row)) for row in readings}
    states = [_amounts(base.data), *(_amounts(known[row.seq]) for row in readings)]
    slopes = [_slope(row, after, fill, volume_m3) for row, after in
              zip(readings, states[1:], strict=True)]  # fmt: skip
    found = {
        cause: _gauge_effect(
            [slope if on[row.seq] == cause else 0.0
             for row, slope in zip(readings, slopes, strict=True)],
            states,
            readings,
        )
        for cause in dict.fromkeys(on.values())
        if cause
    }  # fmt: skip
    # What is injected into a flow is told by the meters, whatever its purity.
    let_in = [row for row in readings if _step_of(entries, row)["action"] != "flow"]
    found |= _supplies(let_in, sum(states[-1]))
    return {
        cause: one
        for cause, one in found.items()
        if abs(one) >= LEAST_EFFECT[cause.partition(" ")[0]]
    }


def _amounts(data: Mapping[str, Any]) -> Amounts:
    return tuple(mol(umol) for umol in data["contents_umol"])


def _step_of(entries: Sequence[Entry], row: ReadingRow) -> Mapping[str, Any]:
    """Return the planned step a reading was taken in."""
    plans = [one.data for one in entries if one.kind == "fill.planned" and one.seq < row.seq]
    steps: Sequence[Mapping[str, Any]] = plans[-1]["steps"]
    return steps[row.number] if row.number < len(steps) else {"action": "rest"}


def cause_of(row: ReadingRow, step: Mapping[str, Any]) -> str:
    """Return what a reading hangs on: the gauge if it has a name, else the kind of stop."""
    if row.gauge == "scale":
        return ""
    if row.gauge:
        return f"gauge {row.gauge}"
    parts = step.get("gas_ppm")
    gas = Mix(*(part / sum(parts) for part in parts)) if parts else None
    return f"gauge of {serving(str(step['action']), gas)} stops"


def _slope(row: ReadingRow, after: Amounts, fill: FillRow, volume_m3: float) -> float:
    """Return how much gas a bar on the gauge stands for, where a reading was taken [mol/bar]."""
    total, at_bar, at_c = sum(after), bar(row.gauge_mbar), celsius(row.temp_mk)
    o2, he, n2, ar = (one / total for one in after)
    gas, around = Mix(o2, he, n2, ar), ambient_bar(fill)
    low, high = (
        amount_for_pressure(gas, max(at_bar + step, 0.0), at_c, volume_m3, around)
        for step in (-0.5, 0.5)
    )
    return high - low


def _gauge_effect(
    slopes: Sequence[float], states: Sequence[Amounts], readings: Sequence[ReadingRow]
) -> float:
    """Return what a bar more than shown, at the readings whose slope is not 0, adds [points].

    Each reading settles how much is in the cylinder by then.  What was let in until there, and
    what is let in after, is by so much more or less of its own gas; what is let out is mixed.
    """
    more_o2 = more = 0.0
    for before, after, row, here in zip(states, states[1:], readings, slopes, strict=False):
        gained = _added(row)
        if any(gained):
            more_o2 += gained[0] / sum(gained) * (here - more)
        else:
            total, o2 = sum(before), before[0] / sum(before)
            left = sum(after) / total
            more_o2 = (more_o2 - o2 * more) * left + o2 * here
        more = here
    total = sum(states[-1])
    return 100.0 * (more_o2 - states[-1][0] / total * more) / total


def _supplies(readings: Sequence[ReadingRow], total_mol: float) -> dict[str, float]:
    """Return what a point of oxygen more in each supply adds; the air is known."""
    gained: dict[str, float] = {}
    for row in readings:
        added = _added(row)
        if row.supply and any(added) and abs(added[0] / sum(added) - AIR.o2) > 0.005:
            gained[row.supply] = gained.get(row.supply, 0.0) + sum(added)
    return {f"supply {name}": amount / total_mol for name, amount in gained.items()}
