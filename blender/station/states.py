"""The life of a fill: which act is possible in which state, and nothing else.

    requested -> planned -> filling -> resting -> analysed -> accepted -> collected

with `held` from filling and back, `recheck` and `correcting` from analysed, and the two
ways out, `rejected` and `quarantined`.  An `imported` fill was never worked on here, one that is
`elsewhere` was analysed and signed for at another station, a `voided` one entered by mistake.
"""

from __future__ import annotations

from blender.record.states import OPEN, STATES, do_not_breathe

__all__ = ["ALLOWED", "NEXT", "STATES", "do_not_breathe", "is_allowed"]

_OPEN = tuple(state for state in OPEN if state != "quarantined")

ALLOWED: dict[str, tuple[str, ...]] = {
    "analyse": ("requested", "planned", "held", "resting", "analysed", "recheck"),
    "plan": ("requested", "planned", "filling", "held", "analysed", "correcting"),
    "start": ("planned", "correcting"),
    "reading": ("filling", "resting"),
    "hold": ("filling", "resting"),
    "resume": ("held",),
    "accept": ("analysed",),
    "collect": ("accepted",),
    "reject": (*_OPEN, "quarantined"),
    "quarantine": _OPEN,
    "release": ("quarantined",),
    "amend": tuple(state for state in STATES if state != "voided"),
    "void": ("requested", "planned", "accepted", "collected", "rejected", "imported"),
}

# What a person should do next, by state; shown when an act comes out of order.
NEXT = {
    "requested": "make a plan",
    "planned": "start filling",
    "filling": "read the gauge at the next stop",
    "held": "resume with the serial, a new reading and its temperature",
    "resting": "let it settle and mix, then analyse",
    "analysed": "have the diver check and accept, or plan a correction",
    "recheck": "analyse again on another, freshly set analyser",
    "correcting": "start the correction",
    "accepted": "scan cylinder and label, then hand over",
    "collected": "nothing: it has been handed over",
    "rejected": "nothing here: it was rejected, the reason says why",
    "quarantined": "a manager must release it",
    "imported": "nothing: it was taken over from an earlier book, unsigned",
    "elsewhere": "nothing here: it was analysed and signed for at another station",
    "voided": "nothing: it was entered by mistake, the reason says why",
}


def is_allowed(act: str, state: str) -> bool:
    """Return whether an act is possible in a state."""
    return state in ALLOWED[act]
