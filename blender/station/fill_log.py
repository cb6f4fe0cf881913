"""A fill as a line of the fill log: what was asked, read, let in, and by whom."""

from __future__ import annotations

import json
from collections.abc import Sequence

from blender.planning.request import parse_gas_at
from blender.planning.supplies import TOP_NAME
from blender.record.models import AnalysisRow, ExceptionRow, FillRow, ReadingRow
from blender.station import views
from blender.station.accounts import gas_let_in
from blender.station.marks import is_mark, marks
from blender.station.numbers import bar, celsius
from blender.station.posts import large, post_facts
from blender.station.wording import gas_typed, residual_text


def log_line(
    fill: FillRow,
    names: dict[str, str],
    standing: Sequence[AnalysisRow],
    readings: Sequence[ReadingRow],
    exceptions: Sequence[ExceptionRow],
) -> views.LogLine:
    """Return a fill as a line of the log, of its rows that stand."""
    staff = [row for row in standing if row.party == "staff"]
    stated = [large(fill.serial, standing)] if staff else []
    diver = [row for row in standing if row.party == "customer"]
    never = fill.state == "voided"  # it was not filled, whatever was entered
    oxygen, helium, top, supplies = _gas_used([] if never else readings)
    problems = [f"{row.kind}: {row.text}" for row in exceptions if not is_mark(row)]
    return views.LogLine(
        fill=fill.fill,
        requested_at=views.Stamp(fill.requested_us, fill.offset_min),
        accepted_at=_maybe(fill.accepted_us, fill.offset_min),
        collected_at=_maybe(fill.collected_us, fill.offset_min),
        state=fill.state,
        cylinder=fill.serial,
        customer=names.get(fill.customer, ""),
        residual=residual_text(fill),
        residual_source=fill.residual,
        wanted=f"{gas_typed(fill.want_typed)} to {bar(fill.want_mbar):.0f} bar",
        method=fill.method,
        staff_o2_percent=stated[-1].o2_ppm / 1e4 if stated else None,
        staff_he_percent=_helium_percent(stated),
        diver_o2_percent=diver[-1].o2_ppm / 1e4 if diver else None,
        diver_he_percent=_helium_percent(diver),
        analyser=", ".join(dict.fromkeys(row.analyser for row in staff)),
        pressure_bar=bar(fill.gauge_mbar) if fill.has_gas else None,
        temperature_c=celsius(fill.temp_mk) if fill.has_gas else None,
        gauge=fill.gauge,
        supplies=", ".join(supplies),
        oxygen_mol=oxygen,
        helium_mol=helium,
        top_mol=top,
        blender=names.get(fill.blender, ""),
        accepted_by=fill.accepted_name or "",
        exceptions=tuple(problems),
        seq=fill.seq,
        marks=marks(exceptions),
        filled_at=last_let_in(fill, readings) if fill.blender else None,
        posts=post_facts(fill.serial, standing),
        pressures_bar=(bar(fill.want_mbar), *_left_bar(fill)),
    )


def _left_bar(fill: FillRow) -> list[float]:
    """Return what was left in the cylinder, where an earlier book says so [bar]."""
    typed = fill.have_typed
    return [parse_gas_at(typed, "--have").gauge_bar] if typed else []


def last_let_in(fill: FillRow, readings: Sequence[ReadingRow]) -> views.Stamp:
    """Return when the last step that let gas in was closed; before that, the start."""
    gained = [row.at_us for row in readings if row.supply and row.closes]
    return views.Stamp(gained[-1] if gained else fill.started_us, fill.offset_min)


def _maybe(us: int, offset_min: int) -> views.Stamp | None:
    return views.Stamp(us, offset_min) if us else None


def _helium_percent(rows: Sequence[AnalysisRow]) -> float | None:
    return rows[-1].he_ppm / 1e4 if rows and rows[-1].he_ppm >= 0 else None


def _gas_used(rows: Sequence[ReadingRow]) -> tuple[float, float, float, list[str]]:
    """Return oxygen, helium and air let in [mol], told apart by nitrogen, and the supplies."""
    gave = [row for row in rows if row.drawn_umol > 0 or sum(json.loads(row.added_umol)) > 0]
    supplies = dict.fromkeys(row.supply or TOP_NAME for row in gave)
    return *gas_let_in(rows), list(supplies)
