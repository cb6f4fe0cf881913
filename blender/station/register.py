"""What the station has: people, cylinders, supplies and analysers, to be read."""

from __future__ import annotations

import json
from typing import Any

from blender.record import read, search
from blender.record.journal import Record
from blender.record.models import SupplyRow
from blender.record.moment import Moment
from blender.station.numbers import bar, fraction
from blender.station.planning import supply_of
from blender.station.pricing import prices_m3


def people(record: Record) -> dict[str, Any]:
    """Return everybody in the record, JSON-ready; an erased person has no name."""
    with record.read() as conn:
        rows = read.people(conn)
    found = [
        {
            "person": row.person,
            "name": row.name,
            "role": row.role,
            "certified": row.certified or None,
            "qualified": json.loads(row.qualified),
        }
        for row in rows
    ]
    return {"people": found}


def cylinders(record: Record) -> dict[str, Any]:
    """Return the cylinders, JSON-ready."""
    with record.read() as conn:
        rows = read.cylinders(conn)
    found = [
        {
            "serial": row.serial,
            "size": row.size_typed,
            "wp_bar": bar(row.wp_mbar),
            "tp_bar": bar(row.tp_mbar),
            "tested": row.tested,
            "inspected": row.inspected,
            "clean": row.clean,
        }
        for row in rows
    ]
    return {"cylinders": found}


def cylinder_line(row: dict[str, Any]) -> str:
    """Return a cylinder as a line."""
    service = "oxygen service" if row["clean"] else "NOT clean for oxygen"
    stamps = f"tested {row['tested']}, inspected {row['inspected']}"
    return f"{row['serial']:20} {row['size']:14} WP {row['wp_bar']:.0f} bar, {stamps}, {service}"


def supplies(record: Record) -> dict[str, Any]:
    """Return the supplies with what should be left in them, JSON-ready."""
    with record.read() as conn:
        prices = prices_m3(conn)
        found = [_supply(row) | {"price_m3": prices.get(row.name)} for row in read.supplies(conn)]
    return {"supplies": found}


def _supply(row: SupplyRow) -> dict[str, Any]:
    left = supply_of(row)
    return {
        "name": row.name,
        "gas": row.gas_typed,
        "o2": fraction(row.o2_ppm),
        "he": fraction(row.he_ppm),
        "size_l": row.size_ml / 1000.0 or None,
        "pressure_bar": left.gauge_bar,
        "read_us": row.read_us or None,
        "lot": row.lot or None,
        "certificate": row.certificate or None,
        "delivery": row.delivery or None,
        "retired": row.retired,
    }


def supply_line(row: dict[str, Any]) -> str:
    """Return a supply as a line."""
    if row["retired"]:
        return f"{row['name']:12} {row['gas']:12} retired"
    if row["pressure_bar"] is None:
        return f"{row['name']:12} {row['gas']:12} does not run out"
    left = f"{row['size_l']:.1f} L, should show {row['pressure_bar']:.1f} bar at 20 degC"
    left += f", lot {row['lot']}" if row["lot"] else ""
    return f"{row['name']:12} {row['gas']:12} {left}"


def analysers(record: Record, *, retired: bool = False) -> dict[str, Any]:
    """Return the analysers in use (if asked, retired ones too) and their last calibrations."""
    with record.read() as conn:
        rows = read.analysers(conn, retired=retired)
        names = search.names(conn, [row.calibrated_by for row in rows])
    found = [
        {
            "name": row.name,
            "calibrated_us": row.calibrated_us or None,
            "gas": row.gas_typed or None,
            "reading": row.reading_typed or None,
            "ambient": row.ambient_typed or None,
            "air": row.air_typed or None,
            "by": names.get(row.calibrated_by, row.calibrated_by) or None,
            "retired": row.retired or None,
        }
        for row in rows
    ]
    return {"analysers": found}


def analyser_line(row: dict[str, Any]) -> str:
    """Return an analyser as a line."""
    if row["retired"]:
        return f"{row['name']:12} retired: {row['retired']}"
    if row["calibrated_us"] is None:
        return f"{row['name']:12} never calibrated"
    when = Moment(row["calibrated_us"], 0).iso
    return f"{row['name']:12} set to {row['reading']} on {row['gas']} at {row['ambient']}, {when}"
