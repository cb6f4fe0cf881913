"""The compressors and their air as lines of the Store."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blender.record.moment import Moment
from blender.station import compressors
from blender.station.plant import air_words
from blender.station.rules import Rules
from tui.plain import fit
from tui.saying import said
from tui.shown import Units
from tui.widgets.roll import RollRow

HOUR_US = 3_600_000_000


def plant_rows(
    known: list[dict[str, Any]], hours: Mapping[str, Any], name_width: int, units: Units
) -> list[RollRow]:
    """Return the compressors as lines; nothing where there is none on record."""
    if not known:
        return []
    made = [RollRow("", ""), RollRow("", "Compressors: what each is made for, and its hours")]
    for one in known:
        read = hours.get(one["name"])
        at = f"; {read['hours']:g} h on {read['at'][:10]}" if read else "; hours not read"
        words = f"{fit(one['name'], name_width)} {said(compressors.figures(one), units)}{at}"
        made.append(RollRow(f"compressor/{one['name']}", words))
    return made


def air_rows(air: Mapping[str, Any], now: Moment, rules: Rules, name_width: int) -> list[RollRow]:
    """Return how the compressor's air stands as two lines."""
    co, test = air["co"], air["test"]
    read = "not read yet"
    if co is not None:
        over = "" if co["ok"] else ", TOO MUCH: stop the compressor"
        read = f"{co['ppm']:g} ppm, {(now.us - co['at_us']) // HOUR_US} h ago{over}"
    return [
        RollRow("", ""),
        RollRow("", "The compressor's air"),
        RollRow("air/co", f"{fit('CO reading', name_width)} {read}",
                co is not None and not co["ok"]),
        RollRow("air/test", f"{fit('air test', name_width)} "
                f"{air_words(test, rules)}", test is not None and not test["ok"]),
    ]  # fmt: skip
