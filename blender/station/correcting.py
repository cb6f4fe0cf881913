"""A gauge's correction, signed into force by a manager and ended the same way.

Only a gauge is corrected.  An analyser that reads off is set afresh or retired, for what it
reads goes on a label; a supply is analysed and entered as what it is; for a way of filling there
is nothing to correct but how it is done.
"""

from __future__ import annotations

from blender.errors import InputError
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.gauges import CORRECTED, ENDED, in_force
from blender.station.items import Facts, day_of, in_use
from blender.station.numbers import mbar
from blender.units import parse_number

MOST_BAR = 5.0  # a gauge further off is no gauge to fill by; own choice
_INSTEAD = {
    "analyser": "what it reads goes on a label: `analyser calibrate` it afresh, or retire it",
    "supply": "`supply analyse` it, and enter what it is with `supply change --gas`",
    "method": "nothing on record is to be corrected: look at how it is done",
}


def correct(
    station: Station, actor: Actor, gauge: str, *, by: str, since: str, reason: str
) -> Facts:
    """Sign a correction of a gauge into force: from now on it is added to what it shows.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager.
    gauge : str
        A registered gauge, ``G1`` or ``gauge G1``.
    by : str
        What is added to what it shows: ``1.3bar`` for one that shows too little.
    since : str
        The day from which on it was off, ``2026-03-12``; charts take it off from then on.
    reason : str
        Why.

    Raises
    ------
    InputError
        If it is no gauge in use, is corrected already, or a value cannot be read.
    """
    name, by_mbar = _gauge(gauge), _by_mbar(by)
    why = clean_text(reason, "--reason", 200)
    with station.act(actor, "correction") as act:
        called = in_use(act.conn, "gauge", name).name
        if (now := in_force(act.conn, called)) is not None:
            told = f"it is corrected already: {now.text()}; end that first: `drift end`"
            raise InputError("GAUGE", repr(gauge[:80]), told)
        day = day_of(act, since, "--since")
        text = f"corrected by {by_mbar / 1000.0:+.1f} bar from {day}: {why}"
        facts = {"by_mbar": by_mbar, "reason": why, "typed": by.strip()}
        data = {"kind": "gauge", "name": called, "act": CORRECTED, "day": day, "ok": True,
                "facts": facts, "text": text}  # fmt: skip
        entry = act.enter("correction.signed", data, "correction signed into force")
    return {"gauge": called, "by_bar": by_mbar / 1000.0, "since": day, "reason": why,
            "seq": entry.seq, "text": f"gauge {called}: {text}"}  # fmt: skip


def _gauge(typed: str) -> str:
    """Return the name of a gauge, from a name or a cause."""
    words = " ".join(typed.split())
    kind, _, name = words.partition(" ")
    if kind in _INSTEAD and name:
        raise InputError("GAUGE", repr(typed[:80]), f"only a gauge is corrected; {_INSTEAD[kind]}")
    if kind == "gauge" and name.startswith("of "):
        told = "register it first: `equipment add gauge NAME --range ... --serves oxygen`"
        raise InputError("GAUGE", repr(typed[:80]), told)
    return name if kind == "gauge" and name else words


def _by_mbar(typed: str) -> int:
    text = typed.strip().lower()
    if not text.endswith("bar"):
        raise InputError("--by", repr(typed[:40]), "write it with its unit: 1.3bar or -0.5bar")
    text = text.removesuffix("bar").strip()
    sign, digits = (-1.0, text[1:]) if text.startswith("-") else (1.0, text.removeprefix("+"))
    by_bar = sign * parse_number(digits, "--by")
    if not 0.05 <= abs(by_bar) <= MOST_BAR:
        told = f"0.05 to {MOST_BAR:g} bar either way; a gauge further off is replaced"
        raise InputError("--by", repr(typed[:40]), told)
    return mbar(by_bar)


def end(station: Station, actor: Actor, gauge: str, *, reason: str) -> Facts:
    """End the correction of a gauge: from now on what it shows counts as it is.

    Raises
    ------
    InputError
        If none is in force, or no reason is given.
    """
    name, why = _gauge(gauge), clean_text(reason, "--reason", 200)
    with station.act(actor, "correction") as act:
        found = in_force(act.conn, name)
        if found is None:
            raise InputError("GAUGE", repr(gauge[:80]), "no correction of it is in force")
        return _ended(act, found.gauge, found.by_bar, found.seq, why)


def _ended(act: Act, gauge: str, by_bar: float, signed_seq: int, why: str) -> Facts:
    text = f"correction by {by_bar:+.1f} bar (entry {signed_seq}) ended: {why}"
    data = {"kind": "gauge", "name": gauge, "act": ENDED, "day": day_of(act, "", "--since"),
            "ok": True, "facts": {"ends": signed_seq, "reason": why}, "text": text}  # fmt: skip
    entry = act.enter("correction.ended", data, "correction ended")
    return {"gauge": gauge, "by_bar": by_bar, "ended": signed_seq, "reason": why,
            "seq": entry.seq, "text": f"gauge {gauge}: {text}"}  # fmt: skip
