"""What is seen of a cylinder at the counter, and what a manager allows, with a reason."""

from __future__ import annotations

from typing import Any

from blender.errors import InputError
from blender.record import read
from blender.record.models import FillRow
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.answer import Answer
from blender.station.desk import Act, Station
from blender.station.fitness import LOOKS
from blender.station.states import NEXT

# Gates that a manager may allow; every other one stops, and nobody overrides it.
ASKING = (
    "visual-inspection",
    "external-look",
    "valve",
    "marking",
    "internal-look",
    "residual-rich",
    "certification",
    "qualified",
    "calibration",
    "calculated",
    "supply-gas",
    "carbon-monoxide",
    "air-test",
    "two-parties",
    "amended",
    "filter",
    "other-site-clean",
    "lost-gas",
)
_ENDED = ("collected", "rejected")
_YES = "yes"


def look(
    station: Station,
    actor: Actor,
    number: int,
    *,
    outside: str = "",
    valve: str = "",
    marking: str = "",
    inside: str = "",
) -> Answer:
    """Enter what is seen of the cylinder of a fill.

    Each part is answered yes where it is sound, or no with what is wrong: ``no, dent at the
    shoulder``.  A part nobody names stays as it was.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        Who looks.
    number : int
        The fill.
    outside : str
        Dents, corrosion, heat, foreign threads.
    valve : str
        Its rating, its condition, clean for the gas.
    marking : str
        Stamps that can be read, the right label and nothing misleading.
    inside : str
        Water, rust, flakes; needed where it came without pressure.

    Raises
    ------
    InputError
        If nothing is answered, an answer cannot be read, or the fill has ended.
    """
    typed = {"outside": outside, "valve": valve, "marking": marking, "inside": inside}
    answers = {what: answer for what, answer in typed.items() if answer.strip()}
    if not answers:
        raise InputError("look", "nothing", f"say what was looked at: {', '.join(LOOKS)}")
    with station.act(actor, "look") as act:
        fill = _open(act, number)
        findings = [_finding(what, said, fill.serial) for what, said in answers.items()]
        data = {"fill": number, "serial": fill.serial, "findings": findings}
        act.enter("fill.looked", data, "looked at the cylinder")
    wrong = [f"{one['what']}: {one['text']}" for one in findings if not one["ok"]]
    told = f"Looked at {fill.serial}: {'; '.join(wrong) if wrong else 'sound'}."
    seen = [{"what": one["what"], "ok": one["ok"], "note": one["text"]} for one in findings]
    return Answer(number, fill.state, text=told, facts={"looked": seen})


def _finding(what: str, answer: str, serial: str) -> dict[str, Any]:
    said = clean_text(answer, f"--{what}", 200)
    word, _, rest = said.partition(" ")
    word, note = word.strip(",:;.").lower(), rest.strip()
    if word not in (_YES, "no") or (word == "no" and not note):
        allowed = "answer yes, or no and what is wrong: 'no, dent at the shoulder'"
        raise InputError(f"--{what}", repr(answer[:80]), allowed)
    return {"what": what, "about": serial, "ok": word == _YES, "value": 0, "text": note}


def allow(station: Station, actor: Actor, number: int, *, gate: str, reason: str) -> Answer:
    """Give leave, for this fill, where a gate asks a manager; it is shown for ever.

    Raises
    ------
    InputError
        If no gate of that name ever asks, no reason is given, or the fill has ended.
    RefusedError
        If the actor may not.
    """
    if gate not in ASKING:
        allowed = f"these ask a manager: {', '.join(ASKING)}; any other stops, for everybody"
        raise InputError("--gate", repr(gate[:40]), allowed)
    why = clean_text(reason, "--reason", 300)
    with station.act(actor, "allow") as act:
        fill = _open(act, number)
        act.enter("fill.allowed", {"fill": number, "gate": gate, "reason": why}, "allowed")
    told = f"Allowed for fill {number} where {gate} asks: {why}."
    return Answer(number, fill.state, text=told, facts={"gate": gate, "reason": why})


def _open(act: Act, number: int) -> FillRow:
    fill = read.fill(act.conn, number)
    if fill.state in _ENDED:
        raise InputError("fill", number, f"it is {fill.state}: {NEXT[fill.state]}")
    return fill
