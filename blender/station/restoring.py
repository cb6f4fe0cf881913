"""Putting a copy in the record's place: a new life of the record, entered by a manager.

The entry is made in the copy before that stands in its place, so no moment passes in which a
restored record could be taken for the one that was lost.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from blender.errors import FillwrightError, InputError
from blender.record.anchor import Anchor
from blender.record.erased import erased_in, known_beside
from blender.record.files import mark
from blender.record.journal import Record
from blender.record.place import READING_TAIL
from blender.record.restore import Candidate, is_taken, move_aside, put
from blender.record.text import clean_text
from blender.record.unit import RESTORED
from blender.station.actor import Actor
from blender.station.desk import Station
from blender.station.privacy import forget_again

WITHOUT_KEYS = (
    "Its key file is not there, so the record can be read, verified, exported and its labels"
    " printed again as copies, and nothing more: nobody can sign in, nothing can be entered, no"
    " label is a first one. Put the key file back and restore the same copy again to go on."
)
AFTER = (
    "Whoever was erased after the copy was made, and is not named here, has to be erased again."
    " Fills entered after it are gone: what is in those cylinders is known only from their labels"
    " and tags, so analyse each before anything else. Labels of lost entries verify as lost with"
    " the restore."
)


def check_place(place: Path, *, aside: bool) -> Anchor | None:
    """Tell where the record ends that is there now, None where it cannot be told.

    Raises
    ------
    InputError
        If something is there and shall not be moved aside.
    """
    if not is_taken(place):
        return None
    if not aside:
        told = "a record is there; it is never overwritten: --move-aside keeps it beside the new"
        raise InputError("--station", str(place), told)
    try:
        with Record.open(place, readonly=True, check=False) as record:
            return record.head()
    except (FillwrightError, ArithmeticError, LookupError, TypeError, ValueError):
        return None  # a damaged record is what a restore is for


def enter(
    station: Station,
    actor: Actor,
    candidate: Candidate,
    *,
    reason: str,
    replaced: Anchor | None,
    erased: Sequence[str] = (),
) -> tuple[int, list[str]]:
    """Enter in the copy that it was restored, as the first entry of its new incarnation.

    Parameters
    ----------
    station : Station
        The copy, opened, with the station's keys.
    actor : Actor
        A manager of that copy.
    candidate : Candidate
        What was admitted.
    reason : str
        Why.
    replaced : Anchor or None
        Where the record ended that the copy takes the place of, if that can be told.
    erased : sequence of str
        Whom the record is known to have forgotten: they are forgotten in the copy, too.

    Returns
    -------
    tuple
        The entry of the restore, and the ids of those erased again.

    Raises
    ------
    RefusedError
        If the actor may not.
    """
    why = clean_text(reason, "--reason", 300)
    data: dict[str, Any] = {
        "at_seq": candidate.anchor.seq,
        "at_head": candidate.anchor.head.hex(),
        "sha256": candidate.sha256,
        "reason": why,
    }
    if replaced is not None:
        data |= {"replaced_seq": replaced.seq, "replaced_head": replaced.head.hex()}
        data["replaced_incarnation"] = replaced.incarnation
    with station.act(actor, "restore") as act:
        seq = act.enter(RESTORED, data, "restored from a copy", seal=True).seq
        return seq, forget_again(act, erased)


def known_erased(place: Path, source: Path, station: Station) -> list[str]:
    """Return whom the record to be replaced, or the list beside the copy, says was erased.

    Parameters
    ----------
    place : Path
        Where the record is, or was.
    source : Path
        The copy that was handed over.
    station : Station
        The copy, opened, with the station's keys.
    """
    ours = station.record
    ids = known_beside(source.parent, ours.station, ours.public_key)
    if not is_taken(place):
        return ids
    try:
        with Record.open(place, readonly=True, check=False) as old, old.read() as conn:
            if (old.station, old.public_key) == (ours.station, ours.public_key):
                ids += erased_in(conn, old.station)
    except (FillwrightError, ArithmeticError, LookupError, TypeError, ValueError):
        return ids  # damaged: what the list says has to do
    return ids


def settle(candidate: Candidate, place: Path, aside: Path | None, *, for_reading: bool) -> None:
    """Move what is there aside, and put the copy in its place.

    Raises
    ------
    StorageError
        If another terminal is at work there, or the disk does not do it.
    """
    if aside is not None and is_taken(place):
        move_aside(place, aside)
    if for_reading:
        mark(place.with_name(place.name + READING_TAIL), "restored without its key file\n")
    put(candidate, place)
