"""Personal data: kept apart from the journal, so that it can be forgotten."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, bindparam, delete, select, update

from blender.errors import InputError
from blender.record.canonical import canonical, parse
from blender.record.driven import Query, add_row
from blender.record.schema import PRIVATE

_CONTENT = Query(select(PRIVATE.c.content).where(PRIVATE.c.id == bindparam("row")), PRIVATE)

_FILED = Query(
    select(PRIVATE.c.person, PRIVATE.c.what).where(PRIVATE.c.id == bindparam("row")), PRIVATE
)


def get(conn: Connection, row_id: str) -> dict[str, Any] | None:
    """Read the content of a private row, None if there is none (any more).

    Raises
    ------
    RecordError
        If the stored content is damaged.
    """
    found = _CONTENT.value(conn, row=row_id)
    return None if found is None else parse(found)


def filed(conn: Connection, row_id: str) -> tuple[str, str]:
    """Return whose a private row is filed as, and as what; empty if there is none."""
    found = _FILED.rows(conn, row=row_id)
    return found[0] if found else ("", "")


def put(
    conn: Connection,
    row_id: str,
    person: str,
    what: str,
    content: dict[str, Any],
    *,
    replace: bool = False,
) -> None:
    """Store a private row.

    Raises
    ------
    InputError
        If there is one of that id with other content, unless it may be replaced.
    """
    spelled = canonical(content)
    here = PRIVATE.c.id == row_id
    found = _CONTENT.value(conn, row=row_id)
    if found is None:
        row = {"id": row_id, "person": person, "what": what, "content": spelled}
        add_row(conn, PRIVATE, row)
    elif replace:
        conn.execute(update(PRIVATE).where(here).values(content=spelled))
    elif found != spelled:
        raise InputError("private row", row_id, "there is one of that id; nothing was replaced")


def erase(conn: Connection, row_id: str) -> None:
    """Delete a private row; the journal stays whole without it."""
    conn.execute(delete(PRIVATE).where(PRIVATE.c.id == row_id))


def erase_person(conn: Connection, person: str) -> None:
    """Delete every private row of a person, and with their key what commitments could say."""
    conn.execute(delete(PRIVATE).where(PRIVATE.c.person == person))


def rows_of(conn: Connection, person: str) -> list[tuple[str, str, dict[str, Any]]]:
    """Return id, kind and content of every private row of a person."""
    query = select(PRIVATE).where(PRIVATE.c.person == person).order_by(PRIVATE.c.id)
    return [(row.id, row.what, parse(row.content)) for row in conn.execute(query)]
