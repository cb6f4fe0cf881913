"""Which program wrote an entry: its version, and a digest of the very files it ran from."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

ROOMS = ("blender", "reports", "tui")
_KINDS = frozenset({".py", ".toml", ".json"})
_HOME = Path(__file__).parents[2]


@cache
def program_build() -> str:
    """Return the version and the build of this program, read once a run.

    Examples
    --------
    >>> number, _, digest = program_build().partition("+")
    >>> len(digest)
    16
    """
    try:
        number = version("fillwright")
    except PackageNotFoundError:  # run from a source folder that is not installed
        number = "0"
    return f"{number}+{digest_of(_HOME)[:16]}"


def digest_of(home: Path) -> str:
    """Hash the files a program consists of, by name and content, 64 hex digits.

    Parameters
    ----------
    home : Path
        The folder its rooms lie in.
    """
    found = (path for room in ROOMS for path in (home / room).rglob("*"))
    own = hashlib.sha256()
    for path in sorted(path for path in found if path.suffix in _KINDS and path.is_file()):
        name, content = path.relative_to(home).as_posix().encode(), path.read_bytes()
        own.update(b"%d %d %s" % (len(name), len(content), name) + content)
    return own.hexdigest()
