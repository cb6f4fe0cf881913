"""The states of a fill that the record's own quick readers must know."""

from __future__ import annotations

STATES = (
    "requested",
    "planned",
    "filling",
    "held",
    "resting",
    "analysed",
    "recheck",
    "correcting",
    "accepted",
    "collected",
    "rejected",
    "quarantined",
)
ENDED = ("collected", "rejected")
OPEN = tuple(state for state in STATES if state not in ENDED)
# From the first gas let in until acceptance nobody may breathe it.
UNSAFE = ("filling", "held", "resting", "analysed", "recheck", "correcting", "quarantined")


def do_not_breathe(state: str, *, has_gas: bool) -> bool:
    """Return whether every view must say DO NOT BREATHE."""
    return has_gas and state in UNSAFE
