"""Files only their owner can read, and that survive a power cut once they are said to be there."""

from __future__ import annotations

import os
from pathlib import Path


def create_private(path: Path) -> int:
    """Create a new file of mode 0600, whatever the umask; never follow or reuse one.

    Returns
    -------
    int
        Its file descriptor, open for writing.

    Raises
    ------
    FileExistsError
        If there is one already.
    OSError
        If it cannot be created.
    """
    flags = os.O_CREAT | os.O_EXCL | os.O_RDWR | getattr(os, "O_NOFOLLOW", 0)
    handle = os.open(path, flags | getattr(os, "O_BINARY", 0), 0o600)
    if hasattr(os, "fchmod"):
        os.fchmod(handle, 0o600)
    return handle


def sync_folder(folder: Path) -> None:
    """Bring a folder's list of files to the disk, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def mark(path: Path, text: str) -> None:
    """Write a small file of mode 0600, and bring it to the disk."""
    path.unlink(missing_ok=True)
    with os.fdopen(create_private(path), "w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    sync_folder(path.parent)
