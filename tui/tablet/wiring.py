"""What the tablet's processes take from the environment and from the system."""

from __future__ import annotations

import os
import sys
import time

from tui.wiring import DISK, KEYS, PRINT, STATION, SYNCED

TABLET = "FILLWRIGHT_TABLET"  # the entry of what was handed over, given by the server alone
# What an app gets of the server's environment: where things are, and never a secret.
_PASSED_ON = frozenset(
    (
        *("PATH", "HOME", "LANG", "LANGUAGE", "TZ", "TMPDIR", "TEMP", "TMP", "SYSTEMROOT"),
        *("APPDATA", "LOCALAPPDATA", "USERPROFILE", "PGPASSFILE", "PGSSLMODE", "PGSSLROOTCERT"),
        *(PRINT, SYNCED, KEYS, DISK),
    )
)
_PASSED_ON_TOO = ("LC_", "XDG_")


def environment(place: str, seq: int) -> dict[str, str]:
    """Return all of the environment of an app: the station, and what was handed over."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if name in _PASSED_ON or name.startswith(_PASSED_ON_TOO)
    }
    return kept | {STATION: place, "PYTHONUTF8": "1"} | ({TABLET: str(seq)} if seq else {})


def command() -> tuple[str, ...]:
    """Return what is started for each browser: this program, and no shell."""
    return (sys.executable, "-P", "-m", "tui.tablet.child")


def handed() -> int:
    """Return the entry of what was handed over to this process; 0 where it is the terminal."""
    return int(os.environ.get(TABLET, "0"))


def say_nothing() -> None:
    """Let nothing this process says of itself get out: what went wrong is kept in a file."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)


def monotonic() -> float:
    """Return the time on a clock nobody sets [s]."""
    return time.monotonic()
