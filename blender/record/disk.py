"""The disk a record lies on: whether it is this machine's own, and how much room is left.

SQLite's locks and its syncing to the disk cannot be relied on across a network, and a program
that copies a folder to other machines takes a file in the middle of a write.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from blender.errors import InputError
from blender.record.server import Location

MOUNTS = Path("/proc/mounts")
BLOCKS = Path("/sys/dev/block")
# Names of file systems as Linux lists them (from memory); what begins with "fuse." is served
# by a program, and nobody can tell where that keeps it.
_NETWORK = frozenset({"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "ncpfs", "coda"})
_LOCAL_SERVED = frozenset({"fuse.fuse-overlayfs", "fuse.ntfs-3g"})


@dataclass(frozen=True, slots=True)
class Mount:
    """Where a file system hangs in the tree of folders, and what kind it is."""

    point: Path
    kind: str

    @property
    def is_network(self) -> bool:
        """Whether what is written there goes to another machine, or nobody can tell."""
        served = self.kind.startswith("fuse.") and self.kind not in _LOCAL_SERVED
        return served or self.kind in _NETWORK


def mount_of(path: Path, table: Path = MOUNTS) -> Mount | None:
    """Return the file system a path lies on; None where the system does not say."""
    try:
        lines = table.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
    except OSError:
        return None
    wanted = path.absolute().resolve()
    found = None
    for words in (line.split(" ") for line in lines):
        point = Path(_unescaped(words[1])) if len(words) > 2 else None
        if point is None or not wanted.is_relative_to(point):
            continue
        if found is None or len(point.parts) >= len(found.point.parts):
            found = Mount(point, words[2])  # the later of two on one point hides the earlier
    return found


def _unescaped(text: str) -> str:
    for code, character in (("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\")):
        text = text.replace(code, character)
    return text


def check_own(path: Path, synced: Iterable[Path] = (), table: Path = MOUNTS) -> None:
    """Refuse a place for a record that is not a disk of this machine alone.

    Parameters
    ----------
    path : Path
        The record's file, there or not yet.
    synced : iterable of Path
        Folders whose content some program copies to other machines.
    table : Path
        Where the system lists its file systems.

    Raises
    ------
    InputError
        Saying why, and what to do.
    """
    todo = "keep the record on a disk of this machine, and send copies away with `backup`"
    mount = mount_of(path, table)
    if mount is not None and mount.is_network:
        told = f"{mount.point} is a {mount.kind} file system, where a power cut can lose entries"
        raise InputError("station", str(path), f"{told}; {todo}")
    whole = path.absolute().resolve()
    for folder in synced:
        if whole.is_relative_to(folder.absolute().resolve()):
            told = f"{folder} is copied to other machines, which can tear the file"
            raise InputError("station", str(path), f"{told}; {todo}")


def is_away(folder: Path, record: Location, table: Path = MOUNTS) -> bool:
    """Tell whether a copy in a folder survives the loss of this machine.

    It does on a network, and on a disk that can be carried off; another built-in disk is not
    away.  Where the record lies on a server, nobody can tell: then only a network is.
    """
    mount = mount_of(folder, table)
    if mount is not None and mount.is_network:
        return True
    if not isinstance(record, Path):
        return False
    here, there = folder.stat().st_dev, record.stat().st_dev
    return here != there and _is_removable(here)


def _is_removable(device: int) -> bool:
    """Ask the system whether a disk, or the disk a partition is of, can be taken out."""
    if os.name != "posix":
        return False
    place = BLOCKS / f"{os.major(device)}:{os.minor(device)}"
    for one in (place / "removable", place / ".." / "removable"):
        try:
            return one.read_text(encoding="ascii").strip() == "1"
        except OSError:
            continue
    return False


def free_bytes(path: Path) -> int:
    """Return the room left on the disk a path lies on [bytes]."""
    return shutil.disk_usage(path if path.is_dir() else path.absolute().parent).free


def check_room(folder: Path, needed: int) -> None:
    """Refuse to begin what would fill the disk.

    Raises
    ------
    InputError
        Saying how much room is needed and left.
    """
    left = free_bytes(folder)
    if left < needed:
        told = f"{needed / 1e6:.0f} MB are needed there and {left / 1e6:.0f} MB are left"
        raise InputError("folder", str(folder), f"{told}; make room or choose another disk")
