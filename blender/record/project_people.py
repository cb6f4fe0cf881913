"""Read models of people's roles, of failed sign-ins, and of what managers allowed."""

from __future__ import annotations

from sqlalchemy import Connection, delete, insert, update

from blender.record import models
from blender.record.entry import Entry
from blender.record.project import Data, compact, note, on
from blender.record.projector import Private
from blender.record.stock import table

_person, _access = table(models.PersonRow), table(models.AccessRow)


@on("person.role", "person.retired")
def _role_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _person.c.person == data["person"]
    conn.execute(update(_person).where(where).values(role=data["role"], seq=entry.seq))
    change = f"{data['person']}: {data['old']} -> {data['role']}: {data['reason']}"
    note(conn, entry, entry.kind.replace(".", "-"), change)


@on("access.failed", "access.delayed")
def _access_failed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_access).where(_access.c.who == data["who"]))
    row = {name: data[name] for name in ("who", "tries", "wait_s")}
    conn.execute(insert(_access).values({**row, "at_us": entry.at.us, "seq": entry.seq}))
    if data["wait_s"]:
        told = f"{data['who']}: {data['tries']} wrong secrets, wait {data['wait_s']} s"
        note(conn, entry, "locked-out", told)


@on("access.cleared")
def _access_cleared(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_access).where(_access.c.who == data["who"]))


@on("fill.allowed")
def _allowed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    note(conn, entry, "manager-allowed", f"{data['gate']}: {data['reason']}")


@on("person.qualified")
def _qualified(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    where = _person.c.person == data["person"]
    values = {"qualified": compact(data["qualified"]), "seq": entry.seq}
    conn.execute(update(_person).where(where).values(values))
    told = ", ".join(data["qualified"]) or "nothing"
    note(conn, entry, "qualified", f"{data['person']}: {told}: {data['reason']}")
