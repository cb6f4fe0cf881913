"""A PostgreSQL server of a test's own, to be killed and started again; and a wire to be cut."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.patience import PATIENCE_S

_NAMES = ("initdb", "postgres")


def binaries() -> dict[str, str] | None:
    """Where the server's own programs are, None where they are not installed."""
    places = [None, *(str(one) for one in sorted(Path("/usr/lib/postgresql").glob("*/bin")))]
    for place in places:
        found = {name: shutil.which(name, path=place) for name in _NAMES}
        if all(found.values()):
            return {name: str(path) for name, path in found.items()}
    return None


def needed() -> pytest.MarkDecorator:
    told = "initdb and postgres are not installed, or root has nobody to run them as"
    return pytest.mark.skipif(binaries() is None or _user() == "", reason=told)


def _user() -> str | None:
    """As whom a server runs, which never does as root; None for whoever runs the tests."""
    if os.name != "posix" or os.getuid() != 0:
        return None
    import pwd

    with contextlib.suppress(KeyError):
        return pwd.getpwnam("postgres").pw_name
    return ""


class OwnServer:
    """A server in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self._programs = binaries() or {}
        self._data = folder / "data"
        self._log = folder / "log"
        with socket.socket() as one:
            one.bind(("127.0.0.1", 0))
            self.port = one.getsockname()[1]
        self._call("initdb", "-A", "trust", "-U", "postgres", "-E", "UTF8", "--no-sync")
        self._running: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"postgresql+psycopg://postgres@127.0.0.1:{self.port}/postgres"

    def _call(self, name: str, *words: str) -> None:
        subprocess.run(
            [self._programs[name], "-D", str(self._data), *words],
            check=True, capture_output=True, user=_user(), cwd="/",
        )  # fmt: skip

    def start(self) -> None:
        """Start it, and wait until it answers."""
        words = ["-D", str(self._data), "-p", str(self.port), "-c", "listen_addresses=127.0.0.1",
                 "-c", f"unix_socket_directories={self._data}"]  # fmt: skip
        with self._log.open("ab") as log:
            self._running = subprocess.Popen(
                [self._programs["postgres"], *words], stdout=log, stderr=log, user=_user(), cwd="/"
            )
        import psycopg

        until = time.monotonic() + PATIENCE_S
        while True:
            with contextlib.suppress(psycopg.OperationalError):
                return psycopg.connect(self.url.replace("+psycopg", ""), connect_timeout=2).close()
            assert time.monotonic() < until, self._log.read_text()
            threading.Event().wait(0.05)

    def kill(self) -> None:
        """Kill every process of it at once, as when its machine stops."""
        assert self._running is not None
        parent = self._running.pid
        os.kill(parent, signal.SIGSTOP)  # starts no more
        for child in _children(parent):
            with contextlib.suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
        os.kill(parent, signal.SIGKILL)
        self._running.wait()
        self._running = None

    def stop(self) -> None:
        if self._running is not None:
            self.kill()


def _children(parent: int) -> list[int]:
    found = []
    for place in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            if int(place.read_text().rpartition(")")[2].split()[1]) == parent:
                found.append(int(place.parent.name))
    return found


@contextmanager
def own_server() -> Iterator[OwnServer]:
    folder = Path(tempfile.mkdtemp(prefix="fillwright-pg-"))
    if user := _user():
        shutil.chown(folder, user)
    server = OwnServer(folder)
    try:
        server.start()
        yield server
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)


class Wire:
    """What a terminal reaches a server through, until somebody pulls it out."""

    def __init__(self, host: str, port: int) -> None:
        self._to = (host, port)
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = self._listening.getsockname()[1]
        self._ends: list[socket.socket] = []
        self.is_cut = False
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                here, _ = self._listening.accept()
                if self.is_cut:
                    here.close()
                    continue
                there = socket.create_connection(self._to)
                self._ends += [here, there]
                for source, target in ((here, there), (there, here)):
                    threading.Thread(target=_carry, args=(source, target), daemon=True).start()

    def cut(self) -> None:
        self.is_cut = True
        for end in self._ends:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()
        self._ends.clear()

    def mend(self) -> None:
        self.is_cut = False

    def close(self) -> None:
        self.cut()
        self._listening.close()


def _carry(source: socket.socket, target: socket.socket) -> None:
    with contextlib.suppress(OSError):
        while part := source.recv(65536):
            target.sendall(part)
    for end in (source, target):
        with contextlib.suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)


def through(wire: Wire, place: Any) -> str:
    """The same place on a server, reached by a wire."""
    user = place.shown.partition("://")[2].partition("@")[0]
    database = place.conninfo.partition("?")[0].rpartition("/")[2]
    where = f"127.0.0.1:{wire.port}/{database}?schema={place.schema}&sslmode=disable"
    return f"postgresql+psycopg://{user}@{where}"
