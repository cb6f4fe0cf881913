"""The station's compressors: what they may draw in, and planning with them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError
from blender.planning.options import Options
from blender.record import read
from blender.record.journal import Record
from blender.record.models import CompressorRow
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.numbers import bar, fraction, mbar, ppm
from blender.units import parse_flow, parse_gauge_pressure, parse_percent

UNKNOWN = -1
LEAST_RATED_O2 = 0.21  # every compressor draws in air


def add_compressor(
    station: Station,
    actor: Actor,
    *,
    name: str,
    rated_intake: str,
    maximum: str | None = None,
    delivery: str | None = None,
) -> dict[str, Any]:
    """Add a compressor; plans for continuous flow take it from then on.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager.
    name : str
        What it is called.
    rated_intake : str
        The highest oxygen its maker allows in the intake, dry: ``40%``.
    maximum, delivery : str or None
        Its highest pressure and its delivery at the inlet, if known: ``330bar``, ``200L/min``.

    Raises
    ------
    InputError
        If a value cannot be read, or the name is taken.
    """
    data = {
        "name": clean_text(name, "compressor", 40),
        "rated_ppm": UNKNOWN,
        "max_mbar": UNKNOWN,
        "delivery_ml_min": UNKNOWN,
        **_understood(rated_intake, maximum, delivery),
    }
    with station.act(actor, "compressor") as act:
        if any(row.name == data["name"] for row in read.compressors(act.conn, retired=True)):
            raise InputError("compressor", repr(name), "one of that name is in the record already")
        act.enter("compressor.added", data, "compressor added")
    return facts(data)


def change_compressor(
    station: Station,
    actor: Actor,
    *,
    name: str,
    rated_intake: str | None = None,
    maximum: str | None = None,
    delivery: str | None = None,
) -> dict[str, Any]:
    """Enter other figures of a compressor; what is not given stays.

    Raises
    ------
    InputError
        If nothing is given, a value cannot be read, or no such compressor is in use.
    """
    new = _understood(rated_intake, maximum, delivery)
    if not new["typed"]:
        told = "give --rated-intake, --maximum or --delivery"
        raise InputError("compressor", repr(name[:80]), told)
    with station.act(actor, "compressor") as act:
        row = _in_use(act, name)
        old = {key: getattr(row, key) for key in ("rated_ppm", "max_mbar", "delivery_ml_min")}
        data = {"name": row.name, **old, **new, "old": old}
        act.enter("compressor.changed", data, "compressor changed")
    return facts(data)


def retire_compressor(station: Station, actor: Actor, *, name: str, reason: str) -> dict[str, Any]:
    """Take a compressor out of use; it is no longer planned with.

    Raises
    ------
    InputError
        If no reason is given, or no such compressor is in use.
    """
    why = clean_text(reason, "--reason", 200)
    with station.act(actor, "compressor") as act:
        row = _in_use(act, name)
        data = {"name": row.name, "reason": why}
        act.enter("compressor.retired", data, "compressor retired")
    return {"name": row.name, "retired": True, "reason": why}


def _understood(
    rated_intake: str | None, maximum: str | None, delivery: str | None
) -> dict[str, Any]:
    """Return what was given, in the journal's integers, with what was typed."""
    given: dict[str, Any] = {}
    if rated_intake is not None:
        o2 = parse_percent(rated_intake, "--rated-intake") / 100.0
        if not LEAST_RATED_O2 <= o2 <= 1.0:
            told = "21% (air alone) to 100%, the highest its maker allows in the intake, dry"
            raise InputError("--rated-intake", repr(rated_intake[:40]), told)
        given["rated_ppm"] = ppm(o2)
    if maximum is not None:
        given["max_mbar"] = mbar(parse_gauge_pressure(maximum, "--maximum"))
        if given["max_mbar"] <= 0:
            raise InputError("--maximum", repr(maximum[:40]), "more than 0, such as 330bar")
    if delivery is not None:
        given["delivery_ml_min"] = round(parse_flow(delivery, "--delivery") * 1000.0)
    typed = {"rated_intake": rated_intake, "maximum": maximum, "delivery": delivery}
    return {**given, "typed": {key: text.strip() for key, text in typed.items() if text}}


def _in_use(act: Act, name: str) -> CompressorRow:
    found = next((row for row in read.compressors(act.conn) if row.name == name.strip()), None)
    if found is None:
        told = "no compressor of that name is in use; see `compressor list`"
        raise InputError("compressor", repr(name[:80]), told)
    return found


def planned_with(conn: Connection, options: Options) -> Options:
    """Return planning options with the figures of the station's compressor, where none are typed.

    The first by name counts; where a rated intake is typed, the first that may draw in so much.
    A typed figure above that compressor's own is refused.

    Raises
    ------
    InputError
        If what is typed is more than every compressor of the station is made for.
    """
    rows = read.compressors(conn)
    if not rows:
        return options
    row = rows[0]
    if options.rated_intake is not None:
        asked = ppm(parse_percent(options.rated_intake, "--rated-intake") / 100.0)
        row = next((one for one in rows if one.rated_ppm >= asked), row)
        _check("--rated-intake", options.rated_intake, asked, row.rated_ppm, row, _rated(row))
    if options.compressor_max is not None and row.max_mbar != UNKNOWN:
        asked = mbar(parse_gauge_pressure(options.compressor_max, "--compressor-max"))
        most = f"{bar(row.max_mbar):g} bar"
        _check("--compressor-max", options.compressor_max, asked, row.max_mbar, row, most)
    return replace(
        options,
        rated_intake=options.rated_intake or _rated(row),
        compressor_max=options.compressor_max or _known(bar(row.max_mbar), "bar"),
        delivery=options.delivery or _known(row.delivery_ml_min / 1000.0, "L/min"),
    )


def _check(
    option: str, typed: str, asked: int, most: int, row: CompressorRow, most_text: str
) -> None:
    if asked > most:
        told = f"the record has {row.name} for {most_text} at most; `compressor change` if not so"
        raise InputError(option, repr(typed[:40]), told)


def _rated(row: CompressorRow) -> str:
    return f"{row.rated_ppm / 1e4:.10g}%"


def _known(value: float, unit: str) -> str | None:
    return f"{value:.10g}{unit}" if value > 0.0 else None


def listing(record: Record) -> dict[str, Any]:
    """Return the compressors, retired ones last, JSON-ready."""
    with record.read() as conn:
        rows = read.compressors(conn, retired=True)
    rows.sort(key=lambda row: bool(row.retired))
    return {"compressors": [facts(row.model_dump()) for row in rows]}


def facts(row: dict[str, Any]) -> dict[str, Any]:
    """Return a compressor JSON-ready; what is not known is null."""
    most, delivers = row["max_mbar"], row["delivery_ml_min"]
    return {
        "name": row["name"],
        "rated_intake": fraction(row["rated_ppm"]),
        "maximum_bar": None if most == UNKNOWN else bar(most),
        "delivery_l_min": None if delivers == UNKNOWN else delivers / 1000.0,
        "retired": row.get("retired") or None,
    }


def line(one: dict[str, Any]) -> str:
    """Return a compressor as a line."""
    if one["retired"]:
        return f"{one['name']:12} retired: {one['retired']}"
    return f"{one['name']:12} {figures(one)}"


def figures(one: dict[str, Any]) -> str:
    """Return a compressor's figures in words."""
    told = [f"intake up to {one['rated_intake'] * 100:g} % O2"]
    if one["maximum_bar"] is not None:
        told.append(f"to {one['maximum_bar']:g} bar")
    if one["delivery_l_min"] is not None:
        told.append(f"{one['delivery_l_min']:g} L/min")
    return ", ".join(told)
