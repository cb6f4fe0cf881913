"""From the record to what a paper shows: the tag, the label and the fill log."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection

from blender.errors import RecordError, RefusedError
from blender.gas import mix, name_of
from blender.record import private, read, shop
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.record.models import AnalysisRow, CylinderRow, FillRow, StepRow
from blender.record.models_of_shop import BroughtRow
from blender.record.states import ENDED
from blender.rounding import deeper
from blender.station import views
from blender.station.contents import contents, holds_text
from blender.station.doubts import gas_lost
from blender.station.fill_log import last_let_in
from blender.station.gauges import on_dial, on_the_dial
from blender.station.marks import marks, undone
from blender.station.numbers import bar, celsius, fraction
from blender.station.overshot import overshot
from blender.station.posts import large, post_facts
from blender.station.sheets import leads_imperial
from blender.station.stated import another_reading, depths, printed_ppm, signed_basis
from blender.station.step_words import tag_notes
from blender.station.steps import gas_of
from blender.station.wording import gas_typed, pressure_text, residual_text

_SIGNED = ("accepted", "collected")
AMENDED = "fill.amended"


def label_view(record: Record, number: int) -> views.LabelView:
    """Return what the label of an accepted fill states: what was signed, whatever changed since.

    Raises
    ------
    InputError
        If there is no such fill.
    RefusedError
        If it was not accepted: then no label can be made.
    """
    with record.read() as conn:
        fill = read.fill(conn, number)
        if fill.state not in _SIGNED and not (fill.state == "voided" and fill.accepted_seq):
            raise RefusedError(
                f"fill {number} is {fill.state}: a label is made only of what was analysed and "
                "signed for",
                code="no-label",
            )
        entry = _entry(conn, record, fill.accepted_seq)
        return _label(conn, record, fill, entry)


def _entry(conn: Connection, record: Record, seq: int) -> Entry:
    entry = read.entry(conn, record.station, seq)
    if entry is None:
        raise RecordError(f"entry {seq} is missing; run `verify`")
    return entry


def _label(conn: Connection, record: Record, fill: FillRow, entry: Entry) -> views.LabelView:
    stated = entry.data["label"]
    standing = read.analyses(conn, fill.fill, valid_only=True)
    limits = depths(signed_basis(stated, standing))
    helium = None if stated["he_ppm"] < 0 else stated["he_ppm"] / 1e4
    signed = private.get(conn, entry.data["private"]) or {}
    staff = large(fill.serial, standing)
    diver = next(row for row in standing if row.seq == entry.seq)
    names, noted = _names(conn), read.exceptions(conn, fill.fill)
    return views.LabelView(
        station_name=_station_name(conn),
        fill=fill.fill,
        cylinder=_cylinder(read.cylinder(conn, fill.serial)),
        analysed=mix(stated["o2_ppm"] / 1e6, max(stated["he_ppm"], 0) / 1e6),
        o2_percent=stated["o2_ppm"] / 1e4,
        he_percent=helium,
        pressure_bar=bar(stated["gauge_mbar"]),
        pressure_temperature_c=celsius(stated["temp_mk"]),
        agreed_ppo2_bar=limits.agreed_ppo2_bar,
        mod_agreed_m=limits.mod_agreed_m,
        mod_agreed_ft=limits.mod_agreed_ft,
        high_ppo2_bar=limits.high_ppo2_bar,
        mod_high_m=limits.mod_high_m,
        mod_high_ft=limits.mod_high_ft,
        floor_m=limits.floor_m,
        floor_ft=limits.floor_ft,
        hypoxic=deeper(limits.floor_m) > 0,
        staff=_reading(staff, names, amended=_entry(conn, record, staff.seq).kind == AMENDED),
        diver=_reading(diver, {**names, diver.person: signed.get("name", "")}),
        accepted_by=signed.get("name", "(erased)"),
        accepted_at=views.Stamp.of(entry.at),
        sealed_by=_sealed_by(conn, record, entry),
        filled_by=_filled_by(conn, fill, names),
        filled_at=_filled_at(conn, fill),
        strokes=_strokes(signed.get("strokes", [])),
        extra_lines=_mod_source(stated, standing, entry, signed.get("name"), fill, names),
        imperial=leads_imperial(conn, fill),
        copy_number=1,
        proof=views.Proof.of(entry),
        marks=marks(noted, entry.seq),
        undone=undone(noted, entry.seq),
        posts=post_facts(fill.serial, standing),
    )


def _sealed_by(conn: Connection, record: Record, entry: Entry) -> str:
    """Return who took the diver's name: who signed that entry, or handed it to the tablet."""
    if entry.sig is not None:
        return str(entry.sig["name"])
    handed = _entry(conn, record, entry.data["tablet"]) if "tablet" in entry.data else None
    return f"{(handed.sig or {}).get('name', '')} (tablet)" if handed else ""


def _mod_source(
    stated: dict[str, Any],
    standing: Sequence[AnalysisRow],
    entry: Entry,
    signed_as: str | None,
    fill: FillRow,
    names: dict[str, str],
) -> tuple[str, ...]:
    """Return whose reading the MOD rests on, where it is not the one printed large."""
    row = another_reading(stated, standing)
    if row is None:
        return ()
    who = names.get(row.person, row.person)
    if row.party == "customer":  # entered by staff, read by the diver
        who = (signed_as if row.seq == entry.seq else names.get(fill.customer)) or "(erased)"
    return (f"MOD from {printed_ppm(row.o2_ppm) / 1e4:.1f} % read by {who}",)


def _filled_at(conn: Connection, fill: FillRow) -> views.Stamp:
    """Return when the last step that let gas in was closed, else when it was started."""
    if (away := shop.brought(conn, fill.fill)) is not None:
        return views.Stamp(away.filled_us, away.offset_min)
    return last_let_in(fill, read.readings(conn, fill.fill, standing_only=True))


def _strokes(stored: Sequence[Any]) -> tuple[tuple[tuple[float, float], ...], ...]:
    return tuple(tuple((x / 1000.0, y / 1000.0) for x, y in line) for line in stored)


def _names(conn: Connection) -> dict[str, str]:
    return {row.person: read.called(row) for row in read.people(conn)}


def _station_name(conn: Connection) -> str:
    row = read.station(conn)
    return row.name if row else ""


def _cylinder(row: CylinderRow) -> views.CylinderFacts:
    return views.CylinderFacts(
        serial=row.serial,
        size_text=row.size_typed,
        working_pressure_bar=bar(row.wp_mbar),
        tested=row.tested,
        inspected=row.inspected,
        oxygen_clean=row.clean,
    )


def _filled_by(conn: Connection, fill: FillRow, names: dict[str, str]) -> str:
    """Return who let gas in, by the readings that stand; before any, who started.

    Of a cylinder filled at another station also where, and as which fill there.
    """
    if (away := shop.brought(conn, fill.fill)) is not None:
        return f"{away.filled_by or 'somebody'} AT {_at_site(away)}, its fill {away.site_fill}"
    standing = read.readings(conn, fill.fill, standing_only=True)
    hands = dict.fromkeys(row.person for row in standing if row.supply) or [fill.blender]
    return ", ".join(names.get(person, person) for person in hands)


def _at_site(away: BroughtRow) -> str:
    """Return a station by its name and id; by its id alone where the name is not known."""
    known = away.site_name not in ("", away.site)
    return f"{away.site_name} ({away.site})" if known else away.site


def _reading(
    row: AnalysisRow, names: dict[str, str], *, amended: bool = False
) -> views.ReadingFacts:
    """Return one analysis; of an amended one it is known who amended it, not that they read it."""
    by = names.get(row.person, row.person)
    return views.ReadingFacts(
        o2_percent=row.o2_ppm / 1e4,
        he_percent=None if row.he_ppm < 0 else row.he_ppm / 1e4,
        analyser=row.analyser,
        by=f"amended by {by}" if amended else by,
        at=views.Stamp(row.at_us, row.offset_min),
    )


def tag_view(record: Record, number: int) -> views.TagView:
    """Return what the work tag of a fill shows, from its plan until acceptance.

    Raises
    ------
    InputError
        If there is no such fill.
    RefusedError
        If it has no plan yet, or is past needing a tag.
    """
    with record.read() as conn:
        fill = read.fill(conn, number)
        steps = read.steps(conn, number)
        if not steps or fill.state in (*_SIGNED, *ENDED):
            raise RefusedError(
                f"fill {number} is {fill.state}: a work tag is hung from the plan until acceptance",
                code="no-tag",
            )
        cylinder = read.cylinder(conn, fill.serial)
        inside = contents(fill, cylinder)
        names = _names(conn)
        entry = _entry(conn, record, fill.seq)
        return views.TagView(
            station_name=_station_name(conn),
            fill=number,
            cylinder=_cylinder(cylinder),
            customer=names.get(fill.customer, ""),
            wanted=gas_typed(fill.want_typed),
            wanted_bar=bar(fill.want_mbar),
            settle_c=celsius(fill.settle_mk),
            method=fill.method,
            residual=residual_text(fill),
            residual_source=fill.residual,
            stops=tuple(_stop(row, *on_dial(conn, fill, steps, row.number)) for row in steps),
            state=fill.state,
            holds_now=_holds_now(fill, f"{holds_text(inside)} (calculated)", steps),
            blender=names.get(fill.blender, ""),
            started_at=views.Stamp(fill.started_us or fill.requested_us, fill.offset_min),
            warnings=(
                *filter(None, [gas_lost(conn, fill), _plan_again(conn, fill, steps)]),
                *marks(read.exceptions(conn, number)),
                *_last_reading(fill),
                *on_the_dial(conn, fill, steps),
                *_warnings(fill),
            ),
            imperial=leads_imperial(conn, fill),
            proof=views.Proof.of(entry),
        )


def _plan_again(conn: Connection, fill: FillRow, steps: Sequence[StepRow]) -> str:
    """Say that a stop was passed: the plan on the tag is not gone on with."""
    found = overshot(conn, fill, steps, read.readings(conn, fill.fill, standing_only=True))
    return f"PLAN AGAIN: {found}" if found else ""


def _holds_now(fill: FillRow, calculated: str, steps: Sequence[StepRow]) -> str:
    """Return what is in it; before the start, between what and what it will change."""
    if fill.state not in ("planned", "correcting"):
        return calculated
    on_the_way = [fraction(row.holds_o2_ppm) * 100.0 for row in steps]
    return f"O2 {min(on_the_way):.1f} to {max(on_the_way):.1f} % on the way"


def _last_reading(fill: FillRow) -> list[str]:
    """Return what the gauge showed last, for whoever goes on with a stopped fill."""
    if fill.state != "held":
        return []
    shown = f"{pressure_text(fill, bar(fill.gauge_mbar))} at {celsius(fill.temp_mk):.0f} °C"
    return [f"held: the gauge last showed {shown} ({fill.temp_kind})"]


def _warnings(fill: FillRow) -> list[str]:
    return [said["text"] for said in json.loads(fill.warnings)]


def _stop(row: StepRow, *dial: str) -> views.StopLine:
    gas = name_of(gas_of(row), 1) if row.gas != "[]" else ""
    return views.StopLine(
        number=row.number + 1,
        action=row.action,
        gas=gas,
        supply=row.supply,
        from_bar=bar(row.from_mbar) if row.from_mbar >= 0 else None,
        to_bar=bar(row.to_mbar) if row.to_mbar >= 0 else None,
        temperature_c=celsius(row.temp_mk) if row.temp_mk >= 0 else None,
        holds_o2=fraction(row.holds_o2_ppm),
        holds_he=fraction(row.holds_he_ppm),
        note="; ".join((*dial, *tag_notes(row))),
    )
