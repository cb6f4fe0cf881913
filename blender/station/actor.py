"""Who acts, and what their role lets them do: asked at the act, never at the menu."""

from __future__ import annotations

from dataclasses import dataclass

from blender.errors import RefusedError
from blender.record.keys import Signer

_FILL = ("request", "plan", "start", "reading", "hold", "resume", "analyse", "accept", "collect")
_DAILY = ("calibrate", "gauge", "swap", "day", "look", "air", "upkeep", "delivery")
_BLENDER = frozenset((*_FILL, "reject", "quarantine", "cylinder", "customer", "tablet", *_DAILY))
_OFFICE = ("allow", "amend", "void", "erase", "import", "restore", "move", "site")
_EQUIPMENT = ("supply", "analyser", "compressor", "price", "equipment", "correction")
_MANAGER = _BLENDER | {"release", "staff", "station", "rule", *_EQUIPMENT, *_OFFICE}
_OWN = frozenset({"secret", "undertake"})

AUTHORITY: dict[str, frozenset[str]] = {
    "blender": _BLENDER | _OWN,
    "manager": _MANAGER | _OWN,
    "auditor": _OWN,
    "customer": frozenset(),
    "former": frozenset(),
}
ACTS = tuple(sorted(_MANAGER | _OWN))


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
    signer : Signer or None
        Signs what they enter; holds their unlocked key for this session only.  None for what
        they handed to the tablet: then the station alone seals what is entered.
    one_time : bool
        Whether they came in with a secret a manager gave: it signs nothing, and is replaced.
    handed : int
        The entry by which they handed one thing to the tablet; 0 where they act themselves.
    """

    person: str
    name: str
    role: str
    signer: Signer | None
    one_time: bool = False
    handed: int = 0


def require(actor: Actor, act: str, role: str) -> None:
    """Refuse an act that a role does not carry.

    Parameters
    ----------
    actor : Actor
        Who acts.
    act : str
        What they would do.
    role : str
        The role they have by the journal, whatever they signed in as.

    Raises
    ------
    RefusedError
        With the roles that may do it.
    """
    if act in AUTHORITY.get(role, ()) and role == actor.role:
        return
    may = " or ".join(name for name, acts in AUTHORITY.items() if act in acts)
    gate = {"gate": "authority", "answer": "stop", "reason": f"{act} needs {may}"}
    text = f"{actor.name} ({role}) may not do this: {act} needs {may}"
    if role != actor.role:
        text = f"{actor.name} is {role}, not {actor.role}, by the record; sign in again"
    raise RefusedError(text, code="authority", gates=[gate])
