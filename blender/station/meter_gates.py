"""What is asked of an analyser before it is believed, beyond its setting and drift."""

from __future__ import annotations

from sqlalchemy import Connection

from blender.record import read, upkeep
from blender.record.models import AnalyserRow, EquipmentRow
from blender.station import fitness
from blender.station.desk import Act
from blender.station.gates import Gate
from blender.station.items import facts_of

LINEAR, HELIUM = "linearity", "helium"


def care_gates(act: Act, meter: AnalyserRow, *, helium: bool) -> list[Gate]:
    """Ask whether an analyser reads straight, and knows helium where that is read."""
    asked = [fitness.straight(meter.name, _last(act.conn, LINEAR, meter.name), act.rules)]
    if helium:
        asked.append(fitness.knows_helium(meter.name, _last(act.conn, HELIUM, meter.name)))
    return asked


def _last(conn: Connection, what: str, name: str) -> float | None:
    """Return what was found last [points], but for what was found before a new cell was put in."""
    row = read.finding(conn, what, name)
    new_seq = max((cell.seq for cell in cells(conn, name)), default=0)
    return row.value / 1e4 if row and row.seq > new_seq else None


def cells(conn: Connection, analyser: str, *, retired: bool = False) -> list[EquipmentRow]:
    """Return the cells of an analyser in use, or all it ever had."""
    rows = upkeep.items(conn, "cell", retired=retired)
    return [row for row in rows if facts_of(row).get("on") == analyser]
