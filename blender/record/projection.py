"""What the projections share: their register, and the rows more than one kind of entry writes."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from sqlalchemy import Column, Connection, Table

from blender.record import models
from blender.record.driven import add_row, change_rows
from blender.record.entry import Entry
from blender.record.projector import Private

Data = dict[str, Any]
Projection = Callable[[Connection, Entry, Data, Private], None]
KINDS: dict[str, Projection] = {}


def table(model: type) -> Table:
    """Return the Core table of a read model."""
    found: Table = model.__table__  # type: ignore[attr-defined]  # sqlmodel adds it unseen
    return found


_fill, _exception = table(models.FillRow), table(models.ExceptionRow)
_analysis = table(models.AnalysisRow)


def on(*kinds: str) -> Callable[[Projection], Projection]:
    """Register the projection of some kinds of entry."""

    def keep(function: Projection) -> Projection:
        KINDS.update(dict.fromkeys(kinds, function))
        return function

    return keep


def compact(value: object) -> str:
    """Return JSON text of a list or dictionary for a column."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False)


def who(entry: Entry) -> str:
    """Return the id of the person who signed, empty where nobody did."""
    return str((entry.sig or {}).get("person", ""))


def add(conn: Connection, to: Table, row: Data) -> None:
    """Add a row to a table; the statement is put together once, for a replay adds millions."""
    add_row(conn, to, row)


def change(conn: Connection, key: Column[Any], is_: object, values: Data) -> None:
    """Change the rows of a table in which a column is something; no column's name ends in ``_``."""
    change_rows(conn, key, is_, values)


def set_fill(conn: Connection, entry: Entry, data: Data, **values: object) -> None:
    """Change columns of the fill an entry is of."""
    change(conn, _fill.c.fill, data["fill"], {"seq": entry.seq, **values})


def note(conn: Connection, entry: Entry, kind: str, text: str) -> None:
    """Add an exception: something a manager looks for."""
    row = {
        "seq": entry.seq,
        "fill": entry.data.get("fill", 0),
        "kind": kind,
        "text": text,
        "person": who(entry),
        "at_us": entry.at.us,
    }
    add(conn, _exception, row)


def add_analysis(conn: Connection, entry: Entry, data: Data, party: str, *, valid: bool) -> None:
    """Add an analysis of a fill, by whom and on what it was read."""
    row = {
        "seq": entry.seq,
        "fill": data["fill"],
        "party": party,
        "serial": data["serial"],
        "analyser": data["analyser"],
        "typed_reading": data["typed"]["reading"],
        "typed_helium": data["typed"]["helium"],
        "o2_ppm": data["o2_ppm"],
        "he_ppm": data["he_ppm"],
        "o2_u_ppm": data["o2_u_ppm"],
        "decision": data["decision"],
        "valid": valid,
        "person": who(entry) or data.get("person", ""),  # at the tablet nobody signs but the diver
        "at_us": entry.at.us,
        "offset_min": entry.at.offset_min,
    }
    add(conn, _analysis, row)
