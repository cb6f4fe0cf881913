"""Where a record on a PostgreSQL server lies, and what such a server says; loads no driver.

`postgresql+psycopg://USER@HOST:PORT/DATABASE?schema=NAME`: each station has a schema of its own,
`public` if none is named.  What else stands in the query goes to the driver (`sslmode=...`).
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from blender.errors import InputError, RecordError, StorageError

_SCHEMES = ("postgresql+psycopg", "postgresql", "postgres")
_SCHEMA = re.compile(r"[a-z_][a-z0-9_]{0,62}")
_HOW = "give postgresql+psycopg://USER@HOST:PORT/DATABASE, if need be with ?schema=NAME"
# Classes of SQLSTATE (PostgreSQL's manual, appendix A, from memory).
_LOST = ("08", "57P")  # the connection, or the server that is being shut down
_FULL, _BUSY, _RIGHTS = "53100", "55P03", "42501"
_DAMAGED = "XX0"
# Where the driver goes on to guess at reasons, in words for whoever keeps a server.
_GUESSES = ("This probably means", "Is the server running", "Multiple connection attempts failed")


@dataclass(frozen=True, slots=True)
class Server:
    """A schema of a database on a server.

    Parameters
    ----------
    conninfo : str
        What the driver connects with; may hold a password, so it is shown to nobody.
    schema : str
        The schema: small letters, digits and underscores.
    shown : str
        The same place for people, without any password.
    """

    conninfo: str = field(repr=False)
    schema: str
    shown: str

    def __str__(self) -> str:
        return self.shown

    @property
    def label(self) -> str:
        """A name for files that belong to it: letters, digits, points and hyphens."""
        plain = re.sub(r"[^A-Za-z0-9.-]+", "-", self.shown.partition("://")[2].partition("@")[2])
        return plain.strip("-.") or "server"

    @property
    def lock(self) -> int:
        """The number of the advisory lock under which its chain grows, 64 bits, signed."""
        own = hashlib.sha256(f"fillwright chain {self.schema}".encode()).digest()
        return int.from_bytes(own[:8], "big", signed=True)


Location = Path | Server


def is_url(location: object) -> bool:
    """Tell whether a location is meant as a PostgreSQL URL.

    Examples
    --------
    >>> is_url("postgresql+psycopg://desk@db.example/quay")
    True
    >>> is_url("records/station.db")
    False
    """
    return str(location).startswith(("postgresql:", "postgresql+", "postgres:"))


def server_at(url: str) -> Server:
    """Read a URL.

    Raises
    ------
    InputError
        If it is none of a PostgreSQL database, said without its password.

    Examples
    --------
    >>> server_at("postgresql+psycopg://desk:pw@db.example/quay?schema=quay_2").shown
    'postgresql+psycopg://desk@db.example/quay?schema=quay_2'
    """
    try:
        parts = urlsplit(url)
        _ = parts.port  # only read here is it looked at
    except ValueError:
        raise InputError("station", "a URL", _HOW) from None
    address = parts.netloc.rpartition("@")[2]
    user = parts.username or ""
    bare = f"{parts.scheme}://{user + '@' if user else ''}{address}{parts.path}"
    if parts.scheme not in _SCHEMES or not parts.path.strip("/") or not url.isprintable():
        raise InputError("station", bare, _HOW)
    rest = dict(parse_qsl(parts.query))
    schema = rest.pop("schema", "public")
    if not _SCHEMA.fullmatch(schema):
        told = "a schema's name has small letters, digits and underscores"
        raise InputError("station", f"{bare}?schema={schema}", told)
    shown = f"postgresql+psycopg://{quote(user) + '@' if user else ''}{address}{parts.path}"
    rest.setdefault("connect_timeout", "5")
    return Server(
        conninfo=f"postgresql://{parts.netloc}{parts.path}?{urlencode(rest)}",
        schema=schema,
        shown=shown if schema == "public" else f"{shown}?schema={schema}",
    )


def said_by_server(error: Any) -> bool:
    """Tell whether an error of the database is a PostgreSQL driver's."""
    return hasattr(error, "sqlstate")


def is_lost(error: Any) -> bool:
    """Tell whether the connection is gone, so that what was asked has no answer."""
    state = error.sqlstate
    if state is None:  # the driver's own: it had no server to ask
        return type(error).__name__ == "OperationalError"
    return bool(state.startswith(_LOST))


def is_lock_timeout(error: Any) -> bool:
    """Tell whether somebody else only kept the chain locked."""
    return bool(error.sqlstate == _BUSY)


def lacks_right(error: Any) -> bool:
    """Tell whether the server refused the user a right."""
    return bool(error.sqlstate == _RIGHTS)


def explain_server(error: Any, outcome: str) -> RecordError:
    """Say in our words what a server said, and what became of what was asked."""
    state, said = error.sqlstate or "", _one_line(error)
    if is_lost(error):
        told = f"the database server cannot be reached ({said}); {outcome}, try again when it is"
        return StorageError(f"{told} back", code="lost")
    if is_lock_timeout(error):
        busy = f"another terminal kept the record busy; {outcome}, try again"
        return StorageError(busy, code="busy")
    if state == _FULL:
        return StorageError(f"the server's disk is full; {outcome}, make room and try again")
    if lacks_right(error):
        told = f"the server's user has no right to do that ({said}); {outcome}"
        return StorageError(f"{told}; use the URL of the user who owns it", code="rights")
    if state.startswith(_DAMAGED):
        return RecordError(f"the database is damaged ({said}); {outcome}, verify it now")
    return StorageError(f"the database failed ({said}); {outcome}")


def _one_line(error: Any) -> str:
    text = " ".join(str(error).split()).removeprefix("connection failed: ")
    for guess in _GUESSES:
        text = text.partition(guess)[0].strip()
    return text if len(text) <= 200 else f"{text[:200]}..."
