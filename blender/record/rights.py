"""Rights on a server: a role that may add entries and read them, and can do no more to them."""

from __future__ import annotations

import re

from blender.errors import InputError
from blender.record import dialect
from blender.record.journal import Record
from blender.record.server import Server

_ROLE = re.compile(r"[a-z_][a-z0-9_$-]{0,62}")


def let_enter(record: Record, role: str) -> None:
    """Give a role of the server the rights a terminal needs, and take every other on entries.

    Parameters
    ----------
    record : Record
        Opened to be written, as the user who owns its tables.
    role : str
        A role the server knows, and that owns none of them.

    Raises
    ------
    InputError
        If the record is a file, or the role's name is none.
    StorageError
        If the server refuses: there is no such role, or the user may not give rights.
    """
    if not isinstance(record.location, Server):
        raise InputError("--station", str(record.location), "rights are for a record on a server")
    if not _ROLE.fullmatch(role):
        raise InputError("ROLE", ascii(role), "small letters, digits, _ $ and hyphen")
    with record.write() as unit:
        if not dialect.has_role(unit.conn, role):
            raise InputError(
                "ROLE", role, "it is no role of the server, or owns the tables or all: CREATE ROLE"
            )
        dialect.allow_to_enter(unit.conn, role)
