"""A PostgreSQL server's database behind SQLAlchemy, with one hand at the end of the chain.

Whoever writes takes the station's advisory lock as the first thing.  That is done under READ
COMMITTED, where what is read next is no older than the lock.
"""

from __future__ import annotations

import select
from collections.abc import Callable
from functools import partial
from typing import Any

from sqlalchemy import Connection, Engine, QueuePool, create_engine, event
from sqlalchemy.exc import DisconnectionError

from blender.record.kept import keep_answers
from blender.record.place import WRITING
from blender.record.postgres import READ, connect, driver
from blender.record.server import Server


def server_engine(server: Server, busy_ms: Callable[[], int], *, readonly: bool = False) -> Engine:
    """Open a server's database for the record.

    Parameters
    ----------
    server : Server
        Where.
    busy_ms : callable
        Gives how long is waited for another terminal [ms].
    readonly : bool
        Whether no statement may write.

    Raises
    ------
    InputError
        If the driver is not installed.
    """
    driver()
    engine = create_engine(
        "postgresql+psycopg://",
        creator=partial(connect, server, busy_ms),
        poolclass=QueuePool,
        pool_size=1,
        max_overflow=-1,
        use_native_hstore=False,  # nothing here uses it, and it would be asked for
    )
    event.listen(engine, "checkout", _check_alive)
    event.listen(engine, "begin", partial(_begin, "" if readonly else _locked(server)))
    keep_answers(engine, lambda _: None)  # within a transaction; nobody else writes meanwhile
    return engine


def _check_alive(raw: Any, *_: object) -> None:
    """Have a kept connection opened anew that the server has let go.

    At rest a server says nothing but goodbye, so whatever waits to be read is that.
    """
    if raw.closed or select.select([raw.fileno()], [], [], 0)[0]:
        raise DisconnectionError


def _locked(server: Server) -> str:
    begin = "BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE"
    return f"{begin}; SELECT pg_advisory_xact_lock({server.lock})"


def _begin(writing: str, conn: Connection) -> None:
    """Take the lock at once where a unit will write; else look at one state of the record."""
    immediate = writing and conn.get_execution_options().get(WRITING, False)
    # One message to the server for both: that needs to go without parameters.
    conn.exec_driver_sql(writing if immediate else READ, execution_options={"no_parameters": True})
