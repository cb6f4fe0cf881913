"""The PostgreSQL server the tests may use, if there is one: a schema for each test.

On the usual server of this machine each process makes a database of its own, gone at its end: in
one that stays, the rows of schemas made and dropped are left in the catalogue, run after run, and
slow everything down. `FILLWRIGHT_TEST_SERVER` names a database to use instead, where nothing but
schemas is made, each gone when its test is done.
"""

from __future__ import annotations

import atexit
import getpass
import itertools
import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

import pytest

from blender.record.server import Server, server_at
from tests.patience import PATIENCE_S

USUAL = "127.0.0.1:5432"
DATABASE = "fillwright_tests"
_RUN = uuid.uuid4().hex[:8]  # in all names, so that nothing of another run is ever met
_MAKING = 4_711_230_125  # the advisory lock under which databases are made and swept away
_count = itertools.count(1)


@cache
def found() -> tuple[str, str]:
    """The URL of a server the tests may use, or why there is none."""
    try:
        import psycopg
    except ImportError:
        return "", "psycopg is not installed (the extra `postgres`)"
    given = os.environ.get("FILLWRIGHT_TEST_SERVER")
    users = ["postgres", getpass.getuser()]
    tried = [given] if given else [f"postgresql://{user}@{USUAL}/postgres" for user in users]
    why = ""
    for url in tried:
        try:
            with _connect(url) as raw:
                if given or _may_make_databases(raw):
                    return url, ""
            why = f"the user may make no database at {USUAL}"
        except psycopg.Error as error:
            said = str(error).strip().splitlines()[0].rpartition("failed: ")[2]
            where = "the place named" if given else USUAL
            why = f"no PostgreSQL server at {where}: {said[:80]}"
    return "", why


def _connect(url: str) -> Any:
    import psycopg

    return psycopg.connect(url, connect_timeout=round(PATIENCE_S), autocommit=True)


def _may_make_databases(raw: Any) -> bool:
    query = "SELECT rolcreatedb OR rolsuper FROM pg_roles WHERE rolname = current_user"
    return raw.execute(query).fetchone() == (True,)


@cache
def _database() -> tuple[str, Any]:
    """The URL of the database of this process, and a connection to it that stays.

    The connection tells others who sweep that somebody is still at work there.
    """
    url, why = found()
    assert url, why
    if os.environ.get("FILLWRIGHT_TEST_SERVER"):
        held = _connect(url)
        atexit.register(held.close)
        return url, held
    own = f"{DATABASE}_{_RUN}"
    with _connect(url) as raw:
        raw.execute(f"SELECT pg_advisory_lock({_MAKING})")
        _sweep(raw)
        raw.execute(f"CREATE DATABASE {own} TEMPLATE template0")
        made = url.removesuffix("/postgres") + f"/{own}"
        held = _connect(made)
    atexit.register(_leave, url, own, held)
    return made, held


def _sweep(raw: Any) -> None:
    """Drop what runs left that were killed: databases of ours with nobody in them."""
    query = (
        "SELECT datname FROM pg_database d WHERE starts_with(datname, %s)"
        " AND NOT EXISTS (SELECT FROM pg_stat_activity a WHERE a.datname = d.datname)"
    )
    for (name,) in raw.execute(query, [f"{DATABASE}_"]).fetchall():
        raw.execute(f"DROP DATABASE IF EXISTS {name}")


def _leave(url: str, own: str, held: Any) -> None:
    held.close()
    with _connect(url) as raw:
        raw.execute(f"DROP DATABASE IF EXISTS {own} WITH (FORCE)")


def is_required() -> bool:
    """Whether `make test PG=required` asked that nothing be left out."""
    return os.environ.get("PG") == "required"


def needed() -> pytest.MarkDecorator:
    """What marks a test that needs a server: without one it is left out, and says why."""
    url, why = found()
    return pytest.mark.skipif(not url, reason=why or "there is a server")


@contextmanager
def a_schema() -> Iterator[Server]:
    """A place on the server where nothing is, and afterwards nothing is again."""
    url, held = _database()
    place = server_at(f"{url}?schema=t{_RUN}_{next(_count)}")
    try:
        yield place
    finally:
        held.execute("SET client_min_messages TO warning")
        held.execute(f"DROP SCHEMA IF EXISTS {place.schema} CASCADE")


def plain(place: Server) -> Any:
    """A connection by the driver alone, without any of our settings but the schema."""
    import psycopg

    raw = psycopg.connect(place.conninfo, autocommit=True)
    raw.execute(f"SET search_path TO {place.schema}")
    raw.execute("SET client_min_messages TO warning")
    return raw
