"""The PostgreSQL server the tests may use, if there is one: a schema for each test.

`FILLWRIGHT_TEST_SERVER` names another than the usual one on this machine; what the tests make
there are schemas of their own, gone when each is done.
"""

from __future__ import annotations

import getpass
import itertools
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from typing import Any

import pytest

from blender.record.server import Server, server_at

USUAL = "127.0.0.1:5432"
DATABASE = "fillwright_tests"
_count = itertools.count(1)


@cache
def found() -> tuple[str, str]:
    """The URL of a database the tests may use, or why there is none."""
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
            with psycopg.connect(url, connect_timeout=2, autocommit=True) as raw:
                if not given:
                    with suppress(psycopg.errors.DuplicateDatabase, psycopg.errors.UniqueViolation):
                        raw.execute(f"CREATE DATABASE {DATABASE}")
            return url if given else url.removesuffix("/postgres") + f"/{DATABASE}", ""
        except psycopg.Error as error:
            said = str(error).strip().splitlines()[0].rpartition("failed: ")[2]
            where = "the place named" if given else USUAL
            why = f"no PostgreSQL server at {where}: {said[:80]}"
    return "", why


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
    url, _ = found()
    name = f"t{os.getpid()}_{next(_count)}"
    place = server_at(f"{url}?schema={name}")
    _drop(place)
    try:
        yield place
    finally:
        _drop(place)


def _drop(place: Server) -> None:
    with plain(place) as raw:
        raw.execute(f"DROP SCHEMA IF EXISTS {place.schema} CASCADE")


def plain(place: Server) -> Any:
    """A connection by the driver alone, without any of our settings but the schema."""
    import psycopg

    raw = psycopg.connect(place.conninfo, autocommit=True)
    raw.execute(f"SET search_path TO {place.schema}")
    raw.execute("SET client_min_messages TO warning")
    return raw
