"""Tables counted and hashed, so that two states of them can be told apart."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy import Connection, Table
from sqlalchemy.exc import DatabaseError


class Count(NamedTuple):
    """How many rows a table has, -1 if it cannot be read, and a hash of what is in them."""

    rows: int
    digest: str


Tally = dict[str, Count]


def tally(conn: Connection, tables: Iterable[Table]) -> Tally:
    """Count and hash tables as the driver gives them, in the order of their keys."""
    return {table.name: _count(conn, table) for table in tables}


def _count(conn: Connection, table: Table) -> Count:
    quote = conn.dialect.identifier_preparer.quote
    columns = ", ".join(quote(column.name) for column in table.columns)
    keys = ", ".join(quote(column.name) for column in table.primary_key.columns)
    query = f"SELECT {columns} FROM {quote(table.name)} ORDER BY {keys}"  # noqa: S608 - our own names, quoted
    own, rows = hashlib.sha256(), 0
    try:
        with conn.begin_nested():  # a server gives up the whole transaction else
            for row in conn.exec_driver_sql(query):
                own.update(repr(tuple(row)).encode())
                rows += 1
    except DatabaseError:
        return Count(-1, "")
    return Count(rows, own.hexdigest())
