"""Read models of deliveries, of equipment and what was done to it, and of fills against plan."""

from __future__ import annotations

from sqlalchemy import ColumnElement, Connection, and_, delete, insert, update

from blender.record import models
from blender.record.entry import Entry
from blender.record.projection import Data, add, compact, note, on, table, who
from blender.record.projector import Private

_delivery = table(models.DeliveryRow)
_equipment = table(models.EquipmentRow)
_act = table(models.EquipmentActRow)
_departure = table(models.DepartureRow)


@on("delivery.entered")
def _delivered(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    columns = set(models.DeliveryRow.model_fields) - {"seq", "remaining"}
    row = {name: data[name] for name in sorted(columns)}
    conn.execute(insert(_delivery).values({**row, "remaining": row["bottles"], "seq": entry.seq}))


def connected(conn: Connection, entry: Entry, data: Data) -> None:
    """Take one bottle of a delivery from the store, where a supply's bottle came from one."""
    if number := data.get("delivery"):
        where = (_delivery.c.delivery == number) & (_delivery.c.remaining > 0)
        values = {"remaining": _delivery.c.remaining - 1, "seq": entry.seq}
        conn.execute(update(_delivery).where(where).values(values))


@on("equipment.added", "equipment.changed")
def _equipment_known(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_equipment).where(_item(data)))
    row = {name: data[name] for name in ("kind", "name", "day")}
    row |= {"facts": compact(data["facts"]), "retired": "", "seq": entry.seq}
    conn.execute(insert(_equipment).values(row))


def _item(data: Data) -> ColumnElement[bool]:
    return and_(_equipment.c.kind == data["kind"], _equipment.c.name == data["name"])


@on("equipment.done", "correction.signed", "correction.ended")
def _done(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    row = {name: data[name] for name in ("kind", "name", "act", "day", "ok")}
    row |= {"seq": entry.seq, "facts": compact(data["facts"]), "person": who(entry)}
    row |= {"at_us": entry.at.us, "offset_min": entry.at.offset_min}
    add(conn, _act, row)
    if data["act"] == "retired":
        conn.execute(
            update(_equipment)
            .where(_item(data))
            .values(retired=data["facts"]["reason"], seq=entry.seq)
        )
    if entry.kind != "equipment.done" or not data["ok"]:  # a correction is never silent
        note(conn, entry, data["act"], f"{data['kind']} {data['name']}: {data['text']}")


def departs(conn: Connection, entry: Entry, data: Data) -> None:
    """Keep how far an analysis came out from what was predicted, where that was entered."""
    if found := data.get("departure"):
        row = {name: found[name] for name in ("predicted_ppm", "sigma_ppm")}
        row |= {"departs_ppm": data["o2_ppm"] - found["predicted_ppm"], "fill": data["fill"]}
        row |= {"effects": compact(found["effects"]), "seq": entry.seq}
        row |= {"at_us": entry.at.us, "offset_min": entry.at.offset_min}
        add(conn, _departure, row)


def moved_by(conn: Connection, entry: Entry, seq: int, more_ppm: int) -> None:
    """Move a departure with its analysis, which was amended; its time stays what it was."""
    values = {"departs_ppm": _departure.c.departs_ppm + more_ppm, "seq": entry.seq}
    conn.execute(update(_departure).where(_departure.c.seq == seq).values(values))


def undone(conn: Connection, *, fill: int = 0, seqs: tuple[int, ...] = ()) -> None:
    """Drop the departures of a fill that never was, or of readings that were set aside."""
    where = _departure.c.seq.in_(seqs) if seqs else _departure.c.fill == fill
    conn.execute(delete(_departure).where(where))
