"""Turns journal entries into the read models: one small function a kind of entry.

The read models hold nothing that is not in the journal or a private row, so replaying
every entry through `apply` gives the same tables again; `verify` and `rebuild` do just
that.  Kinds that change no table are ignored here.  The functions register themselves in
the rooms beside this one.
"""

from __future__ import annotations

from sqlalchemy import Connection, Table

from blender.record import (  # noqa: F401 - they register
    models,
    project_fill,
    project_people,
    project_plant,
    project_reading,
    project_sites,
    project_station,
)
from blender.record.entry import Entry
from blender.record.projection import KINDS, Data, add, note, table, who
from blender.record.projector import Private

TABLES: tuple[Table, ...] = tuple(table(model) for model in models.ALL)
_fill_entry, _finding = table(models.FillEntryRow), table(models.FindingRow)


def apply(conn: Connection, entry: Entry, private: Private) -> None:
    """Bring the read models up to date with one entry, in the caller's transaction.

    Parameters
    ----------
    conn : Connection
        The connection that holds the transaction.
    entry : Entry
        The entry just written or replayed.
    private : callable
        Gives the content of a private row by its id, None once erased.
    """
    if entry.kind.startswith("fill.") and type(number := entry.data.get("fill")) is int:
        add(conn, _fill_entry, {"fill": number, "seq": entry.seq})
    if projection := KINDS.get(entry.kind):
        projection(conn, entry, entry.data, private)
    for found in entry.data.get("findings", ()):
        _add_finding(conn, entry, found)
    if allowed := entry.data.get("allowed"):
        note(conn, entry, "allowed", "; ".join(allowed))


def _add_finding(conn: Connection, entry: Entry, found: Data) -> None:
    """Keep what was found, whatever the entry; what was not right is an exception."""
    row = {name: found[name] for name in ("what", "about", "ok", "value", "text")}
    row |= {"seq": entry.seq, "fill": entry.data.get("fill", 0), "person": who(entry)}
    row |= {"at_us": entry.at.us, "offset_min": entry.at.offset_min}
    add(conn, _finding, row)
    if not found["ok"]:
        note(conn, entry, f"found-{found['what']}", f"{found['about']} {found['text']}".strip())
