"""A disk in memory that can fail, fill up and lose its power, for SQLite to work on.

What was written since the last sync of a file may or may not have reached the medium, sector by
sector; what was created or deleted since the folder was synced, likewise.  That is what a hostile
disk may do; a kind one does less.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import apsw

SECTOR = 512
Image = dict[str, bytes]


@dataclass(eq=False)
class Inode:
    """A file: what programs see, what surely is on the medium, and which sectors may be."""

    live: bytearray = field(default_factory=bytearray)
    kept: bytes = b""
    dirty: set[int] = field(default_factory=set)

    def write(self, data: bytes, at: int) -> None:
        end = at + len(data)
        if len(self.live) < end:
            self.live.extend(bytes(end - len(self.live)))
        self.live[at:end] = data
        self.dirty.update(range(at // SECTOR, (end - 1) // SECTOR + 1))

    def sync(self) -> None:
        self.kept = bytes(self.live)
        self.dirty.clear()

    def landed(self, dice: random.Random) -> bytes:
        """Return what a power cut leaves of it."""
        left = bytearray(self.kept)
        share = dice.choice((0.0, 0.5, 1.0))
        if len(self.live) < len(left) and dice.random() < share:
            del left[len(self.live) :]
        for sector in sorted(self.dirty):
            start = sector * SECTOR
            part = bytes(self.live[start : start + SECTOR])
            if part and dice.random() < share:
                left.extend(bytes(max(0, start + len(part) - len(left))))
                left[start : start + len(part)] = part
        return bytes(left)


class Disk:
    """A folder of such files.

    Parameters
    ----------
    image : dict
        What is on it to begin with.
    """

    def __init__(self, image: Image | None = None) -> None:
        self.live = {name: Inode(bytearray(own), own) for name, own in (image or {}).items()}
        self.kept = dict(self.live)
        self.room = 1 << 40  # bytes it has in all
        self.fail_at = -1  # the call that fails, counted from `calls`
        self.failure: type[Exception] = apsw.IOError
        self.calls = 0
        self.seen: Callable[[str], None] = lambda _: None

    def call(self, what: str) -> None:
        """Count a call that changes something; fail it if it is its turn."""
        self.calls += 1
        if self.calls == self.fail_at:
            raise self.failure(f"{what} fails")
        self.seen(what)

    def sync_folder(self) -> None:
        self.kept = dict(self.live)

    def sync(self) -> None:
        for one in self.live.values():
            one.sync()
        self.sync_folder()

    def cut(self, dice: random.Random) -> Image:
        """Return what a power cut at this moment leaves on the medium."""
        left: Image = {}
        for name in sorted(self.live.keys() | self.kept.keys()):
            choices = {id(one): one for one in (self.live.get(name), self.kept.get(name))}
            found = dice.choice(list(choices.values()))
            if found is not None:
                left[name] = found.landed(dice)
        return left


class DiskVFS(apsw.VFS):
    """SQLite's view of a disk, under the name ``faulty``."""

    def __init__(self, disk: Disk) -> None:
        self.disk = disk
        super().__init__("faulty", "")

    def excepthook(self, *_: Any) -> None:
        """A failure is meant; SQLite is told of it."""

    def xOpen(self, name: Any, flags: list[int]) -> DiskFile:
        text = name if isinstance(name, str) else name.filename() if name else "(temporary)"
        if text not in self.disk.live:
            if not flags[0] & apsw.SQLITE_OPEN_CREATE:
                raise apsw.CantOpenError(text)
            self.disk.call("create")
            self.disk.live[text] = Inode()
        flags[1] = flags[0]
        return DiskFile(self.disk, self.disk.live[text])

    def xDelete(self, name: str, sync: bool) -> None:
        self.disk.call("delete")
        if self.disk.live.pop(name, None) is None:
            raise apsw.IOError(name)
        if sync:
            self.disk.call("sync folder")
            self.disk.sync_folder()

    def xAccess(self, name: str, flags: int) -> bool:
        return name in self.disk.live

    def xFullPathname(self, name: str) -> str:
        return name


class DiskFile:
    """An open file of such a disk; one connection at a time, so every lock is granted."""

    def __init__(self, disk: Disk, inode: Inode) -> None:
        self.disk, self.inode = disk, inode
        self.lock = 0

    def excepthook(self, *_: Any) -> None:
        """A failure is meant; SQLite is told of it."""

    def xRead(self, amount: int, at: int) -> bytes:
        return bytes(self.inode.live[at : at + amount])

    def xWrite(self, data: bytes, at: int) -> None:
        self.disk.call("write")
        grown = max(0, at + len(data) - len(self.inode.live))
        if sum(len(one.live) for one in self.disk.live.values()) + grown > self.disk.room:
            raise apsw.FullError("full")
        self.inode.write(data, at)

    def xTruncate(self, size: int) -> None:
        self.disk.call("truncate")
        del self.inode.live[size:]
        self.inode.dirty = {one for one in self.inode.dirty if one * SECTOR < size}

    def xSync(self, flags: int) -> None:
        self.disk.call("sync")
        self.inode.sync()
        if self.inode not in self.disk.kept.values():  # SQLite's own syncs a new file's folder
            self.disk.sync_folder()

    def xFileSize(self) -> int:
        return len(self.inode.live)

    def xLock(self, level: int) -> None:
        self.lock = max(self.lock, level)

    def xUnlock(self, level: int) -> None:
        self.lock = min(self.lock, level)

    def xCheckReservedLock(self) -> bool:
        return False

    def xFileControl(self, op: int, pointer: int) -> bool:
        return False

    def xSectorSize(self) -> int:
        return SECTOR

    def xDeviceCharacteristics(self) -> int:
        return 0

    def xClose(self) -> None:
        pass
