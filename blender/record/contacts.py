"""Where a customer is called: private rows of theirs, the last of which counts."""

from __future__ import annotations

from sqlalchemy import Connection

from blender.record import private

WHAT = "contact"


def phone(conn: Connection, person: str) -> str | None:
    """Return the telephone number a person gave last, None if none is known (any more)."""
    given = [content for _, what, content in private.rows_of(conn, person) if what == WHAT]
    given.sort(key=lambda content: int(content["at_us"]))
    return str(given[-1]["phone"]) if given else None
