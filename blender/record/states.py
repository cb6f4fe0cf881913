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
    "imported",
    "elsewhere",
    "voided",
)
# Imported: taken over from an earlier book, unsigned.  Elsewhere: analysed and signed for at
# another station of the shop.  Voided: entered by mistake.
ENDED = ("collected", "rejected", "imported", "elsewhere", "voided")
OPEN = tuple(state for state in STATES if state not in ENDED)
# Where a fill may stand that lost gas once nothing more went in, until that was dealt with.
LOST_IN = ("resting", "held", "analysed", "recheck")
# Given up or set apart: nobody may breathe it, whether gas was let in or not.
APART = ("rejected", "quarantined")
_SIGNED = ("accepted", "collected", "elsewhere")


def do_not_breathe(state: str, *, has_gas: bool) -> bool:
    """Return whether every view must say DO NOT BREATHE."""
    return state in APART or (has_gas and state not in _SIGNED)
