"""Who acts, and what their role lets them do: asked at the act, never at the menu."""

from __future__ import annotations

from dataclasses import dataclass

from blender.errors import RefusedError
from blender.record.keys import Signer

_FILL = ("request", "plan", "start", "reading", "hold", "resume", "analyse", "accept", "collect")
_DAILY = ("calibrate", "gauge", "swap", "day")
_BLENDER = frozenset((*_FILL, "reject", "quarantine", "cylinder", "customer", *_DAILY))
_OFFICE = ("amend", "void", "erase", "import", "restore")
_EQUIPMENT = ("supply", "analyser", "compressor", "price")
_MANAGER = _BLENDER | {"release", "staff", "station", "rule", *_EQUIPMENT, *_OFFICE}

AUTHORITY: dict[str, frozenset[str]] = {
    "blender": _BLENDER | {"secret"},
    "manager": _MANAGER | {"secret"},
    "auditor": frozenset({"secret"}),
    "customer": frozenset(),
}
ACTS = tuple(sorted(_MANAGER | {"secret"}))


@dataclass(frozen=True, slots=True)
class Actor:
    """A signed-in member of staff.

    Parameters
    ----------
    person : str
        Their id in the record.
    name : str
        Their printed name.
    role : str
        ``blender``, ``manager`` or ``auditor``.
    signer : Signer
        Signs what they enter; holds their unlocked key for this session only.
    """

    person: str
    name: str
    role: str
    signer: Signer


def require(actor: Actor, act: str) -> None:
    """Refuse an act the actor's role does not carry.

    Raises
    ------
    RefusedError
        With the roles that may do it.
    """
    if act not in AUTHORITY[actor.role]:
        may = " or ".join(role for role, acts in AUTHORITY.items() if act in acts)
        gate = {"gate": "authority", "answer": "stop", "reason": f"{act} needs {may}"}
        text = f"{actor.name} ({actor.role}) may not do this: {act} needs {may}"
        raise RefusedError(text, code="authority", gates=[gate])
