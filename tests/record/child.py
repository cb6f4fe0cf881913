"""Another process at the record: appends, is killed, or runs out of room.

Started by the tests as a program of its own; answers with one JSON document.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import random
import signal
import sys
import threading
import time
from pathlib import Path
from typing import Any

from sqlalchemy import select

from blender.errors import StorageError
from blender.record import engine
from blender.record.journal import Record
from blender.record.keys import StationKeys
from blender.record.moment import Moment
from blender.record.schema import ENTRY
from blender.record.server import is_url
from blender.record.verify import verify

_YOUNG = 40  # rounds on one file
AT = Moment(1_764_000_000_000_000, 60)


class Nothing:
    TABLES = ()

    @staticmethod
    def apply(conn: Any, entry: Any, private: Any) -> None:
        pass


def append(path: str, name: str, count: int) -> list[int]:
    done = []
    with Record.open(path, project=Nothing) as record:
        for number in range(count):
            with record.write() as unit:
                entry = unit.append("note", {"by": name, "number": number}, at=AT)
            done.append(entry.seq)
    return done


def acknowledge(path: str, pipe: int, rounds: int) -> None:
    """Append for ever, and say each seq only once it is saved."""
    with Record.open(path, project=Nothing) as record:
        number = 0
        while True:
            with record.write() as unit:
                data = {"round": rounds, "number": number, "text": "x" * 900}
                entry = unit.append("note", data, at=AT)
            os.write(pipe, b"%d %s\n" % (entry.seq, entry.digest.hex().encode()))
            number += 1


def acknowledge_through(path: str) -> None:
    """Append for ever through whatever becomes of a server; say what is saved, and what failed."""
    number, rest = 0, threading.Event()
    with contextlib.suppress(BrokenPipeError):
        while True:
            with contextlib.suppress(StorageError), Record.open(path, project=Nothing) as record:
                while True:
                    data = {"number": number, "text": "x" * 900}
                    try:
                        with record.write() as unit:
                            entry = unit.append("note", data, at=AT)
                        line = b"%d %s\n" % (entry.seq, entry.digest.hex().encode())
                    except StorageError as error:
                        line = b"failed %s\n" % error.code.encode()
                        rest.wait(0.02)
                    os.write(1, line)
                    number += 1
            rest.wait(0.02)


def kill_rounds(path: str, rounds: int, part: int = 0, journal: str = "") -> dict[str, int]:
    """Kill a writer at any point of its work, again and again; count what was lost.

    Every third time two of them write at once.  A journal mode other than the one this SQLite
    gets is only for one writer: below 3.51.3 a log may be damaged by two.
    """
    before = 1
    if journal:
        mode = {"wal": ("wal", 2), "delete": ("delete", 3)}[journal]
        engine.journal_settings = lambda _: mode
    draw = random.Random(rounds + 1000 * part)
    found = {"rounds": 0, "lost": 0, "broken": 0, "acknowledged": 0, "unsaid": 0}
    for number in range(rounds):
        if number % _YOUNG == 0 and not is_url(path):  # the whole of it is verified each time
            path, before = found_beside(path, number), 1
        writers = 2 if number % 3 == 2 and not journal else 1
        said = killed(path, number, writers, draw)
        report = verify(path, project=Nothing)  # as it lies, before anyone mends it
        with Record.open(path, project=Nothing) as record, record.read() as conn:
            rows = conn.execute(select(ENTRY.c.seq, ENTRY.c.digest)).all()
            if journal:
                assert conn.exec_driver_sql("PRAGMA journal_mode").scalar() == journal
        kept = {seq: digest.hex() for seq, digest in rows}
        found["rounds"] += 1
        found["broken"] += not report.ok
        found["lost"] += sum(kept.get(int(seq)) != digest for seq, digest in said)
        found["acknowledged"] += len(said)
        found["unsaid"] += len(kept) - before - len(said)  # saved, and killed before it said so
        before = len(kept)
    return found


def found_beside(path: str, number: int) -> str:
    """Found a station anew, beside another."""
    place = Path(path).with_name(f"station-{number}.db")
    keys = StationKeys.create(place.with_suffix(".keys"))
    Record.found(place, keys=keys, station="QUAY-2", data={}, at=AT, project=Nothing).close()
    return str(place)


def killed(path: str, number: int, writers: int, draw: random.Random) -> list[list[str]]:
    """Let writers append, kill them anywhere in it; return what they said was saved."""
    reader, writer = os.pipe()
    children = [_writer(path, reader, writer, number) for _ in range(writers)]
    os.close(writer)
    heard = b"".join(os.read(reader, 72) for _ in range(draw.randint(1, 4)))
    for child in children:
        until = time.perf_counter() + draw.random() * 0.012  # about one append: anywhere in it
        while time.perf_counter() < until:
            pass
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    while more := os.read(reader, 4096):
        heard += more
    os.close(reader)
    lines = [line.split() for line in heard.decode().splitlines()]
    return [words for words in lines if len(words) == 2]


def _writer(path: str, reader: int, writer: int, number: int) -> int:
    """Fork a process that appends for ever."""
    child = os.fork()
    if child == 0:
        os.close(reader)
        with contextlib.suppress(BaseException):
            acknowledge(path, writer, number)
        os._exit(1)
    return child


def run_full(path: str, room: int) -> dict[str, Any]:
    """Append until the file may grow no more, then with room again."""
    resource = importlib.import_module("resource")  # POSIX alone has it
    limit = Path(path).stat().st_size + room
    said: list[int] = []
    refused = 0
    with Record.open(path, project=Nothing) as record:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
        for number in range(60):
            try:
                with record.write() as unit:
                    data = {"number": number, "text": "x" * 3000}
                    entry = unit.append("note", data, at=AT)
            except StorageError:
                refused += 1
            else:
                said.append(entry.seq)
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        with record.write() as unit:
            said.append(unit.append("note", {"number": -1}, at=AT).seq)
    return {"said": said, "refused": refused}


def main() -> None:
    what, path, *rest = sys.argv[1:]
    answer: Any = None
    if what == "append":
        answer = append(path, rest[0], int(rest[1]))
    elif what == "kill":
        answer = kill_rounds(path, int(rest[0]), int(rest[1]), "".join(rest[2:]))
    elif what == "acknowledge":
        acknowledge(path, sys.stdout.fileno(), 0)
    elif what == "through":
        acknowledge_through(path)
    else:
        answer = run_full(path, int(rest[0]))
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()
