"""Connections to a PostgreSQL server, so that what it acknowledges is on its disk.

Every connection gets the same settings, read back and checked.  Nothing here loads SQLAlchemy,
for a terminal that must start at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from blender.errors import InputError, RecordError, StorageError
from blender.record.server import Server, explain_server

if TYPE_CHECKING:
    import psycopg
    import psycopg.rows

    Raw = psycopg.Connection[Any]

OLDEST_SERVER = 130_000  # 13, the oldest that still gets repairs; own choice
_LET_GO_MS = 60_000  # after which the server frees what a hung terminal holds
READ = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
_SETTINGS = (
    "SELECT set_config('search_path', %s, false), set_config('lock_timeout', %s, false),"
    " set_config('idle_in_transaction_session_timeout', %s, false),"
    " set_config('client_min_messages', 'warning', false),"
    " set_config('synchronous_commit', 'on', false), current_setting('fsync'),"
    " current_setting('full_page_writes'), current_setting('server_encoding'),"
    " current_setting('server_version_num')::integer"
)


def driver() -> Any:
    """Load the driver, which is an extra.

    Raises
    ------
    InputError
        If it is not installed.
    """
    try:
        import psycopg.rows  # noqa: PLC0415 - an extra, and nothing loads it but a record on a server
    except ImportError:
        told = "a record on a server needs the extra: pip install 'fillwright[postgres]'"
        raise InputError("station", "a PostgreSQL URL", told) from None
    return psycopg


def connect(server: Server, busy_ms: Callable[[], int]) -> Raw:
    """Open one connection with its settings, or none.

    Raises
    ------
    StorageError
        If the server cannot be reached, or does not keep what it acknowledges.
    """
    psycopg = driver()
    alive = {"keepalives_idle": 10, "keepalives_interval": 5, "tcp_user_timeout": 15_000}
    try:
        raw: Raw = psycopg.connect(
            server.conninfo, autocommit=True, application_name="fillwright", **alive
        )
    except psycopg.Error as error:
        raise explain_server(error, "nothing was saved") from None
    try:
        _configure(raw, server, busy_ms())
    except psycopg.Error as error:
        raw.close()
        raise explain_server(error, "nothing was saved") from None
    except BaseException:
        raw.close()
        raise
    return raw


@contextmanager
def glimpse(place: Server) -> Iterator[Callable[[str, Sequence[Any]], Any]]:
    """Give what answers a few questions from one state of a record, by the driver alone.

    A question's values are marked as SQLite marks them; its rows are read by name.

    Raises
    ------
    RecordError
        If it is no station's record, or cannot be read.
    """
    psycopg = driver()
    raw = connect(place, lambda: 1)
    try:
        raw.row_factory = psycopg.rows.dict_row
        raw.execute(READ)
        mark = raw.execute(
            "SELECT obj_description(to_regclass('entry'), 'pg_class') AS said"
        ).fetchone()
        if mark is None or mark["said"] is None:
            raise RecordError("no station was founded there; make one with `init`")
        yield lambda question, values: raw.execute(question.replace("?", "%s"), values)
    except psycopg.Error as error:
        raise explain_server(error, "it was not read") from None
    finally:
        raw.close()


def _configure(raw: Raw, server: Server, busy_ms: int) -> None:
    """Set what the record relies on, and read it back.

    Temporary tables come last in the path, so that none can stand in for one of ours.
    """
    path, wait, let_go = f"{server.schema}, pg_temp", f"{max(busy_ms, 1)}ms", f"{_LET_GO_MS}ms"
    found = raw.execute(_SETTINGS, [path, wait, let_go]).fetchone()
    assert found is not None
    *_, kept, fsync, whole_pages, encoding, version = found
    wanted = {"synchronous_commit": kept, "fsync": fsync, "full_page_writes": whole_pages}
    for name, value in wanted.items():
        if value != "on":
            told = f"the server has {name} {value}: it could lose what it acknowledged"
            raise StorageError(f"{told}; set it on, nothing was saved")
    if encoding != "UTF8" or version < OLDEST_SERVER:
        raise StorageError(
            f"the database has encoding {encoding} on server version {version // 10_000};"
            " UTF8 on 13 or newer is needed, nothing was saved"
        )
