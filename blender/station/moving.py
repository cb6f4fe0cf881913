"""Moving the station's record to another place, another engine even: the same chain, signed for.

The old place is closed first, by an entry nothing may follow there; only then is the chain taken
over.  Whatever fails in between, there are never two places that both go on.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from blender.record.backup import check_whole
from blender.record.pour import check_free, pour
from blender.record.server import Location
from blender.record.unit import MOVED, SETTLED, Unit
from blender.record.verify import verify
from blender.station.actor import Actor
from blender.station.desk import Station

AFTER = (
    "What was there stays as it was and can be read; nothing more is entered in it. Name the new"
    " place to every terminal (--station or FILLWRIGHT_STATION), and keep the key file with it."
)


def move(
    station: Station,
    actor: Actor,
    place: Location,
    *,
    progress: Callable[[int], None] | None = None,
) -> dict[str, Any]:
    """Move the record, and enter that in both places under a manager's signature.

    Broken off, it is begun again with the same words: the old place stays closed meanwhile.

    Parameters
    ----------
    station : Station
        The open station.
    actor : Actor
        A manager.
    place : Path or Server
        Where there is nothing yet.
    progress : callable
        Told now and then how many entries were verified, or taken over.

    Raises
    ------
    InputError
        If something is there.
    RecordError
        If the record, or what arrived, is not whole.
    RefusedError
        If the actor may not.
    """
    old = station.record
    check_free(place)
    check_whole(verify(old.location, project=old.projector, progress=progress), "the record")
    facts = {"from": _told(old.location), "to": _told(place)}
    with station.act(actor, "move") as act:
        left = act.enter(MOVED, facts, "moved", seal=True)

    def settle(unit: Unit) -> None:
        at, by = station.clock(), actor.signer
        data = {"left_seq": left.seq, "left_head": left.digest.hex(), **facts}
        unit.append(SETTLED, data, at=at, by=by, meaning="settled", seal=station.keys)

    with pour(old, place, settle=settle, progress=progress) as new:
        head = new.head()
    report = verify(place, left.anchor, project=old.projector, progress=progress)
    check_whole(report, "what arrived")
    return {"record": str(place), "left": left.anchor.text, "anchor": head.text, "seq": head.seq}


def _told(place: Location) -> str:
    """Name a place in an entry, which is for ever: what it is, and its name alone."""
    if isinstance(place, Path):
        return f"the file {place.name}"
    return f"the server {place.label}"
