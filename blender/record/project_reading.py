"""Read models of gauge readings: what they let in, and what a corrected one undoes."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Select, select, update

from blender.record import models, project_plant, stock
from blender.record.entry import Entry
from blender.record.projection import Data, add, change, compact, note, on, set_fill, table, who
from blender.record.projector import Private

_reading = table(models.ReadingRow)
_exception = table(models.ExceptionRow)


@on("fill.reading")
def _read(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    _take_reading(conn, entry, data)
    known = data if data["counts"] else {}  # a wall's temperature never stands in for the gas's
    set_fill(conn, entry, data, state=data["state"], step=data["next_step"], **_shown(known, data))


def _take_reading(conn: Connection, entry: Entry, data: Data, since_us: int = -1) -> None:
    """Add a reading, take what it drew from its supplies, note what it missed."""
    (_, _, taken), *also = stock.taken(conn, entry.seq, data, since_us)
    row = {
        "seq": entry.seq,
        "fill": data["fill"],
        "number": data["step"],
        "gauge_mbar": data["gauge_mbar"],
        "temp_mk": data["temp_mk"],
        "kind": data["kind"],
        "gauge": data["gauge"],
        "typed_at": data["typed"]["at"],
        "typed_temperature": data["typed"]["temperature"],
        "closes": data["closes"],
        "supply": data["supply"],
        "added_umol": compact(data["added_umol"]),
        "drawn_umol": data["drawn_umol"],
        "taken_umol": taken,
        "also": compact(also),
        "corrected_by": 0,
        "person": who(entry),
        "at_us": entry.at.us,
    }
    add(conn, _reading, row)
    for code, text in data["notes"][:1]:
        note(conn, entry, code, text)


def _shown(known: Data, data: Data) -> Data:
    """Return what a gauge showed, as columns of a fill; nothing where nothing is known."""
    if not known:
        return {}
    values = {"gauge_mbar": known["gauge_mbar"], "temp_mk": known["temp_mk"]}
    values |= {"temp_kind": known["kind"], "gauge": known["gauge"]}
    return values | {"contents_umol": compact(data["contents_umol"])}


def _first_us(conn: Connection, reading: Any) -> int:
    """Return when a reading was first entered, before any correction of it [us UTC]."""
    while found := conn.execute(_corrected_by(reading)).first():
        reading = found
    return int(reading.at_us)


def _corrected_by(reading: Any) -> Select[Any]:
    of_fill = _reading.c.fill == reading.fill  # by which they are found: the record is long
    return select(_reading).where(of_fill & (_reading.c.corrected_by == reading.seq))


@on("fill.reading-corrected")
def _reading_corrected(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Undo what the mistaken reading did, then take the one that stands in its place."""
    mistaken = _reading.c.seq == data["corrects"]
    old = conn.execute(select(_reading).where(mistaken)).one()
    change(conn, _reading.c.seq, data["corrects"], {"corrected_by": entry.seq})
    first_us = _first_us(conn, old)
    stock.give_back(conn, entry.seq, old, first_us)
    noted = (_exception.c.seq == old.seq) & (_exception.c.kind != "reading-corrected")
    text = f"corrected by entry {entry.seq}: " + _exception.c.text
    conn.execute(update(_exception).where(noted).values(text=text))
    _take_reading(conn, entry, data, first_us)
    new = data["typed"]
    was, now = f"{old.typed_at} {old.typed_temperature}", f"{new['at']} {new['temperature']}"
    note(conn, entry, "reading-corrected", f"{was.strip()} -> {now.strip()}")
    known = data if data["counts"] else data["before"]
    values = {"state": data["state"], "resumes_to": data["resumes_to"]}
    set_fill(conn, entry, data, step=data["next_step"], **values, **_shown(known, data))


@on("fill.voided")
def _voided(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Say that a fill never was; its supplies get back what it was thought to have drawn."""
    standing = (_reading.c.fill == data["fill"]) & (_reading.c.corrected_by == 0)
    for reading in conn.execute(select(_reading).where(standing).order_by(_reading.c.seq)).all():
        stock.give_back(conn, entry.seq, reading, _first_us(conn, reading))
    project_plant.undone(conn, fill=data["fill"])
    set_fill(conn, entry, data, state="voided", resumes_to=data["was"])
    note(conn, entry, "voided", data["reason"])
