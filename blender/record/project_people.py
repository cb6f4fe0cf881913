"""Read models of people: roles, secrets, failed sign-ins, leave given, who is forgotten."""

from __future__ import annotations

from sqlalchemy import Connection, delete

from blender.record import models
from blender.record.entry import Entry
from blender.record.projection import Data, add, change, compact, note, on, table
from blender.record.projector import Private

_person, _access, _fill = table(models.PersonRow), table(models.AccessRow), table(models.FillRow)


@on("person.added")
def _person_added(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    known = private(data["private"]) or {}
    row = {
        "person": data["person"],
        "name": known.get("name"),
        "role": data["role"],
        "qualified": compact(data["qualified"]),
        "certified": data["certified"],
        "key": data.get("key", ""),
        "seq": entry.seq,
    }
    add(conn, _person, row)


@on("person.secret-reset")
def _secret_reset(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    change(conn, _person.c.person, data["person"], {"key": data["key"], "seq": entry.seq})
    conn.execute(delete(_access).where(_access.c.who == data["person"]))
    note(conn, entry, "secret-reset", f"{data['person']}: {data['reason']}")


@on("person.secret")
def _secret_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Take the new key of whoever replaced a secret that a manager had given."""
    if key := data.get("key"):
        change(conn, _person.c.person, data["person"], {"key": key, "seq": entry.seq})


@on("person.certified")
def _person_certified(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    change(conn, _person.c.person, data["person"], {"certified": data["new"], "seq": entry.seq})


@on("person.erased")
def _erased(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    """Forget a name wherever a read model took it from a private row."""
    change(conn, _person.c.person, data["person"], {"name": None, "seq": entry.seq})
    for number in data.get("fills", []):
        change(conn, _fill.c.fill, number, {"accepted_name": None})


@on("person.role", "person.retired")
def _role_changed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    change(conn, _person.c.person, data["person"], {"role": data["role"], "seq": entry.seq})
    told = f"{data['person']}: {data['old']} -> {data['role']}: {data['reason']}"
    note(conn, entry, entry.kind.replace(".", "-"), told)


@on("access.failed", "access.delayed")
def _access_failed(conn: Connection, entry: Entry, data: Data, private: Private) -> None:
    conn.execute(delete(_access).where(_access.c.who == data["who"]))
    row = {name: data[name] for name in ("who", "tries", "wait_s")}
    add(conn, _access, {**row, "at_us": entry.at.us, "seq": entry.seq})
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
    values = {"qualified": compact(data["qualified"]), "seq": entry.seq}
    change(conn, _person.c.person, data["person"], values)
    told = ", ".join(data["qualified"]) or "nothing"
    note(conn, entry, "qualified", f"{data['person']}: {told}: {data['reason']}")
