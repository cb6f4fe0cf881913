"""The ways out: rejected and drained, or quarantined until a manager says so."""

from __future__ import annotations

from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.desk import Station

_MEANS = {"reject": "rejected", "quarantine": "quarantined"}


def reject(station: Station, actor: Actor, number: int, *, reason: str) -> Answer:
    """Give a fill up: the cylinder is drained.

    Raises
    ------
    InputError
        If no reason is given.
    """
    return _end(station, actor, number, "reject", reason, "Bleed it outdoors or to a vent, slowly.")


def quarantine(station: Station, actor: Actor, number: int, *, reason: str) -> Answer:
    """Set a cylinder apart: nobody touches it until a manager releases it.

    Raises
    ------
    InputError
        If no reason is given.
    """
    return _end(station, actor, number, "quarantine", reason, "Nobody touches it: ask a manager.")


def _end(
    station: Station, actor: Actor, number: int, name: str, reason: str, advice: str
) -> Answer:
    why, state = clean_text(reason, "--reason", 300), _MEANS[name]
    with station.act(actor, name) as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where]):
            return refused
        data = {"fill": number, "was": fill.state, "reason": why}
        act.enter(f"fill.{state}", data, state)
    return Answer(number, state, [where], text=f"{state.capitalize()}. {advice}")


def release(station: Station, actor: Actor, number: int, *, reason: str) -> Answer:
    """Release a quarantined cylinder; a part-filled one goes on as held.

    Raises
    ------
    InputError
        If no reason is given.
    """
    why = clean_text(reason, "--reason", 300)
    with station.act(actor, "release") as act:
        fill, where = act.fill(number)
        if refused := act.refused(fill, [where]):
            return refused
        back = fill.resumes_to or "requested"
        state = "held" if back in ("filling", "resting", "held") else back
        data = {"fill": number, "state": state, "reason": why}
        act.enter("fill.released", data, "released")
    return Answer(number, state, [where], text=f"Released: {state}.")
