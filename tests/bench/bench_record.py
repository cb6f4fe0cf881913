"""The record against its limits: appends, verification, a start, and a rebuild of a long one.

`make bench`, or with a number of entries (a million if none is given).  The limits are of the same
run: the same SQLite doing the same statements with the same settings, and SHA-256 over the same
bytes in a bare loop.  What is bound by a processor is timed by the processor, what waits for the
disk by the clock, in turns with its limit.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from blender.record import checkpoint, engine
from blender.record.canonical import canonical, parse
from blender.record.chain import ENTRY_TAG, digest
from blender.record.checkpoint import Checkpoint
from blender.record.journal import Record
from blender.record.keybook import KeyBook
from blender.record.keys import StationKeys
from blender.record.links import check_links, follow
from blender.record.moment import Moment
from blender.record.rebuild import rebuild
from blender.record.signature import SIG, message
from blender.record.snapshot import look
from blender.record.start import check_start
from blender.record.verify import stored, verify
from blender.station import equipment
from tests.record.child import Nothing
from tests.record.conftest import Book, Tiny
from tests.station.shop import Shop, found

FOLDER = Path("bench-out") / "record"
AT = Moment(1_764_000_000_000_000, 60)
_IN_MEMORY = 100_000
_COLUMNS = "station, seq, body, prev, digest, step"


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as folder:
        appends(Path(folder))
        whole(Path(folder))
        a_stations_own(Path(folder) / "shop")
    path = long_record(count)
    chain(path, count)
    starts(path, count)


def said(what: str, figure: str, limit: str = "") -> None:
    print(f"{what:58} {figure:>22}  {limit}", flush=True)


def seconds(work: Callable[[], Any]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def busy_seconds(work: Callable[[], Any]) -> float:
    """Time a work took of a processor, whatever else runs on the machine."""
    start = time.process_time()
    work()
    return time.process_time() - start


# -- appends -----------------------------------------------------------------------------


def appends(folder: Path, rounds: int = 12, each: int = 40) -> None:
    """Acknowledged appends in turns with the same statements by the driver alone."""
    keys = StationKeys.create(folder / "a.keys")
    ours, theirs = (folder / f"{name}.db" for name in ("ours", "theirs"))
    for path in (ours, theirs):
        Record.found(path, keys=keys, station="QUAY-2", data={}, at=AT, project=Nothing).close()
    record = Record.open(ours, project=Nothing)
    raw = engine._connect(theirs, "rw", readonly=False)
    turns = (lambda: _append(record), lambda: _raw_append(raw))
    waited: list[tuple[float, ...]] = []
    worked: list[tuple[float, ...]] = []
    for _ in range(rounds):
        both = [_both_times(turn, each) for turn in turns]
        waited.append(tuple(one for one, _ in both))
        worked.append(tuple(one for _, one in both))
    record.close()
    raw.close()
    for what, times, limit in (("", waited, " (0.6)"), (" of a processor", worked, "")):
        own, held = (each / statistics.median(one) for one in zip(*times, strict=True))
        said(f"append, acknowledged{what}", f"{own:.0f} /s")
        said("  the driver alone, same statements, settings and connection", f"{held:.0f} /s",
             f"{own / held:.2f} of it{limit}")  # fmt: skip


def _both_times(turn: Callable[[], Any], each: int) -> tuple[float, float]:
    """Time some turns by the clock, and what they took of a processor."""
    start, busy = time.perf_counter(), time.process_time()
    for _ in range(each):
        turn()
    return time.perf_counter() - start, time.process_time() - busy


def _append(record: Record) -> None:
    with record.write() as unit:
        unit.append("note", {"number": 1, "text": "x" * 750}, at=AT)


def _raw_append(raw: sqlite3.Connection) -> None:
    raw.execute("BEGIN IMMEDIATE")
    query = f"SELECT {_COLUMNS} FROM entry WHERE station = ? ORDER BY seq DESC LIMIT 1"
    last = raw.execute(query, ("QUAY-2",)).fetchone()
    content = json.loads(last[2])
    content |= {"seq": last[1] + 1, "kind": "note", "data": {"number": 1, "text": "x" * 750}}
    content.pop("seal", None)
    body = json.dumps(content, sort_keys=True, separators=(",", ":")).encode()
    row = ("QUAY-2", last[1] + 1, body, last[4], digest(last[4], body), None)
    raw.execute(f"INSERT INTO entry ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)", row)
    raw.execute("COMMIT")


# -- the whole verification, and what signatures cost of it ---------------------------------


def whole(folder: Path, entries: int = 6000) -> None:
    book = Book(folder / "book.db")
    book.fill(entries)
    took = busy_seconds(lambda: verify(book.path, project=Tiny))
    said("verify, everything, two of three entries signed", f"{entries / took:.0f} /s")
    signatures(book)
    told: list[int] = []
    took = busy_seconds(lambda: rebuild(book.record, told.append))
    said("rebuild, in one transaction", f"{entries / took:.0f} /s", f"told {len(told)} times")
    book.record.close()
    plain = folder / "plain.db"
    with (
        Record.found(
            plain, keys=book.keys, station="QUAY-2", data={}, at=AT, project=Nothing
        ) as record,
        record.write() as unit,
    ):
        for _ in range(entries):
            unit.append("note", {"number": 1, "text": "x" * 750}, at=AT)
    took = busy_seconds(lambda: verify(plain, project=Nothing))
    said("verify, everything, nothing signed", f"{entries / took:.0f} /s")


def signatures(book: Book) -> None:
    """Signatures apart: with all that says who may sign, against Ed25519 over the same messages."""
    with look(book.path) as looked, looked.connect() as conn:
        rows = [(row.prev, parse(row.body)) for row in stored(conn)]
    signed = [(prev, content) for prev, content in rows if SIG in content]
    bare = [
        (
            Ed25519PublicKey.from_public_bytes(bytes.fromhex(content[SIG]["key"])),
            bytes.fromhex(content[SIG]["value"]),
            message(prev, content, SIG),
        )
        for prev, content in signed
    ]

    def alone() -> None:
        for key, value, text in bare:
            key.verify(value, text)

    def with_their_keys() -> None:
        keys = KeyBook(book.keys.public.hex())
        for prev, content in rows:
            assert not keys.check(prev, content)

    pairs = [(busy_seconds(alone), busy_seconds(with_their_keys)) for _ in range(5)]
    limit, own = (len(signed) / statistics.median(times) for times in zip(*pairs, strict=True))
    said("signatures, with whose they may be", f"{own:.0f} /s")
    said("  Ed25519 alone over the same messages", f"{limit:.0f} /s", f"{own / limit:.2f} of it")


def a_stations_own(folder: Path, fills: int = 60) -> None:
    """A station's record of fills, every entry signed: what its verification is spent on."""
    folder.mkdir()
    found(folder)
    shop = Shop.open(folder / "station.db")
    for number in range(fills):
        if number % 10 == 0:
            equipment.calibrate(shop.station, shop.mara, name="A1", gas="air", reading="20.9")
        fill, label = shop.accepted()
        shop.collect(fill, label)
        shop.clock.turn(5)
    entries, signed = shop.seq(), sum(entry.sig is not None for entry in shop.entries())
    took = busy_seconds(lambda: verify(shop.path))
    said(f"verify, a station's {fills} fills, {signed} of {entries} entries signed",
         f"{entries / took:.0f} /s")  # fmt: skip
    took = busy_seconds(lambda: rebuild(shop.station.record))
    said("  of which what the tables should say", f"{entries / took:.0f} /s")
    shop.station.record.close()


# -- the chain of a long record -------------------------------------------------------------


def long_record(count: int) -> Path:
    """Make a record of so many entries, or find it; loaded in bulk with its guards put back."""
    folder = FOLDER / f"{count}"
    path = folder / "station.db"
    if path.exists():
        return path
    half = folder.with_name(f"{count}.half")
    shutil.rmtree(half, ignore_errors=True)
    half.mkdir(parents=True)
    keys = StationKeys.create(half / "station.keys")
    data = {"name": "Quay"}
    Record.found(half / "station.db", keys=keys, station="QUAY-2", data=data, at=AT).close()
    with closing(sqlite3.connect(half / "station.db", isolation_level=None)) as raw:
        _load(raw, count)
    half.rename(folder)
    return path


def _load(raw: sqlite3.Connection, count: int) -> None:
    for setting in ("journal_mode=OFF", "synchronous=OFF", "cache_size=-400000"):
        raw.execute(f"PRAGMA {setting}")
    guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    raw.execute("BEGIN")
    for name, _ in guards:
        raw.execute(f"DROP TRIGGER {name}")
    prev = raw.execute("SELECT digest FROM entry").fetchone()[0]

    def rows() -> Any:
        nonlocal prev
        for seq in range(2, count + 1):
            body = canonical(
                {"v": 1, "kind": "note", "station": "QUAY-2", "incarnation": 1, "seq": seq,
                 "at": {"us": AT.us, "offset_min": 60}, "data": {"text": f"{seq:0750d}"}}
            )  # fmt: skip
            own = digest(prev, body)
            yield "QUAY-2", seq, body, prev, own
            prev = own

    raw.executemany(
        "INSERT INTO entry (station, seq, body, prev, digest) VALUES (?, ?, ?, ?, ?)", rows()
    )
    for _, text in guards:
        raw.execute(text)
    raw.execute("COMMIT")


def chain(path: Path, count: int) -> None:
    """The chain in memory and from its file, against SHA-256 over the same bytes in a loop."""
    with closing(sqlite3.connect(path)) as raw:
        rows = raw.execute(
            "SELECT seq, prev, digest, body FROM entry WHERE station = 'QUAY-2' AND seq > 1"
            " ORDER BY seq LIMIT ?", (_IN_MEMORY,)
        ).fetchall()  # fmt: skip
    parts = [ENTRY_TAG + prev + body for _, prev, _, body in rows]

    def bare() -> None:
        for part in parts:
            hashlib.sha256(part).digest()

    pairs = [
        (busy_seconds(bare), busy_seconds(lambda: follow(rows, 1, rows[0][1]))) for _ in range(7)
    ]
    limit, own = (len(rows) / statistics.median(times) for times in zip(*pairs, strict=True))
    assert follow(rows, 1, rows[0][1]).problem is None
    said("bare SHA-256 loop over the same bytes", f"{limit:.0f} /s")
    said("chain, in memory", f"{own:.0f} /s", f"{own / limit:.2f} of it (0.5)")
    took = []
    for _ in range(3):
        base = busy_seconds(bare) / len(parts)
        time_of = busy_seconds(lambda: check_links(path))
        took.append((time_of, base * count / time_of))
    assert check_links(path).seq == count
    time_of, ratio = statistics.median(took)
    said(f"chain of {count} entries, from the file", f"{time_of:.2f} s", f"{ratio:.2f} of it (0.3)")


# -- starts ---------------------------------------------------------------------------------


def starts(path: Path, count: int) -> None:
    """Opening to write with the check from the last checkpoint: a long record against a short."""
    short = long_record(100)
    for one in (path, short):
        _checkpoint(one)
    own, base = [], []
    for _ in range(9):
        base.append(busy_seconds(lambda: _open(short)))
        own.append(busy_seconds(lambda: _open(path)))
    a, b = statistics.median(own), statistics.median(base)
    said(f"start with {count} entries, in process", f"{a * 1e3:.1f} ms",
         f"{a / b:.2f} of {b * 1e3:.1f} ms with 100 (1.5)")  # fmt: skip
    own, base = [], []
    for _ in range(5):
        base.append(seconds(lambda: _cold(short)))
        own.append(seconds(lambda: _cold(path)))
    a, b = statistics.median(own), statistics.median(base)
    said(f"start with {count} entries, a process of its own", f"{a:.2f} s",
         f"{a / b:.2f} of {b:.2f} s with 100 (1.5)")  # fmt: skip


def _checkpoint(path: Path) -> None:
    keys, found = StationKeys.load(path.with_suffix(".keys")), check_links(path)
    seq = found.seq - 50  # fifty entries since the last start
    with closing(sqlite3.connect(path)) as raw:
        query = "SELECT digest FROM entry WHERE station = 'QUAY-2' AND seq = ?"
        head = raw.execute(query, (seq,)).fetchone()[0]
    checkpoint.keep(path, Checkpoint("QUAY-2", 1, seq, head, {}), keys)


def _open(path: Path) -> None:
    keys = StationKeys.load(path.with_suffix(".keys"))
    with Record.open(path) as record:
        assert check_start(record, keys).is_whole


def _cold(path: Path) -> None:
    code = f"from tui.wiring import open_station; open_station({str(path)!r}).record.close()"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parents[2])


if __name__ == "__main__":
    main()
