"""What every gate answered at the last act of a fill, and what none asked, in plain words."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from blender.record import read
from blender.record.entry import Entry
from blender.record.journal import Record
from blender.station.gates import Gate
from blender.station.looking import ASKING

# The rule of the station behind a gate, by the name `rule set` knows it by; others have none.
RULE_OF = {
    "air-test": "air-test",
    "calculated": "calculated",
    "calibration": "calibration",
    "carbon-monoxide": "co-reading",
    "contents": "leak-tolerance",
    "developed-pressure": "hot",
    "drift": "drift",
    "external-look": "look",
    "internal-look": "inside-look",
    "lost-gas": "leak-tolerance",
    "marking": "look",
    "oxygen-clean": "clean-above",
    "periodic-test": "test",
    "qualified": "qualified",
    "residual": "clean-above",
    "residual-rich": "clean-above",
    "rest": "rest",
    "supply-gas": "supply-analysis",
    "top-air": "compatible-air",
    "two-parties": "one-person",
    "undertaking": "undertaking",
    "valve": "look",
    "visual-inspection": "inspection",
    "working-pressure": "rating-tolerance",
}
_NOT_DONE = {
    "external-look": "the cylinder's outside was not looked at",
    "valve": "nor its valve",
    "marking": "nor its stamps and labels",
    "internal-look": "nobody looked inside, though it came without pressure",
    "carbon-monoxide": "the air's carbon monoxide was not read",
    "air-test": "the compressor's air has no test on record",
    "top-air": "nobody tested whether the air may meet oxygen",
    "supply-gas": "the gas of the supply was not analysed",
    "undertaking": "who signs has not signed what signing means",
    "qualified": "no qualification of who fills is on record",
}
_ENDS_SERVICE = "ordinary air"  # a fact that was measured, not something left undone
# Likewise: what is known, and stops whoever stands at the Panel.
_FACTS = frozenset({"other-site", "other-site-clean", "read-elsewhere", "one-fill", "banks"})


def last_asked(record: Record, number: int) -> dict[str, Any]:
    """Return what every gate answered when it was last asked about a fill, JSON-ready.

    Returns
    -------
    dict
        ``fill``; ``at``, ``by`` and ``act`` of that act, None if no gate was asked yet; ``gates``
        with ``gate``, ``answer``, ``reason``, ``rule`` (None where no rule of the station is
        behind it), ``caution``, ``may_be_allowed``; ``allowed``: by gate, who gave leave and why;
        ``looked``: every part of the cylinder that was looked at, when, by whom, how it was found.

    Raises
    ------
    InputError
        If there is no such fill.
    """
    entries = _entries(record, number)
    asked = [entry for entry in entries if "gates" in entry.data]
    last = asked[-1] if asked else None
    return {
        "fill": number,
        "act": _act(last) if last else None,
        "at": last.at.iso if last else None,
        "by": (last.sig or {}).get("name") if last else None,
        "gates": [_gate(one) for one in last.data["gates"]] if last else [],
        "allowed": {
            entry.data["gate"]: f"{(entry.sig or {}).get('name')}: {entry.data['reason']}"
            for entry in entries
            if entry.kind == "fill.allowed"
        },
        "looked": [one for entry in entries if entry.kind == "fill.looked" for one in _seen(entry)],
    }


def _seen(entry: Entry) -> list[dict[str, Any]]:
    """Return what was seen at one look, part by part."""
    who = {"at": entry.at.iso, "by": (entry.sig or {}).get("name")}
    return [
        {**who, "what": one["what"], "ok": one["ok"], "note": one["text"]}
        for one in entry.data["findings"]
    ]


def _entries(record: Record, number: int) -> list[Entry]:
    with record.read() as conn:
        read.fill(conn, number)
        return list(read.entries_of_fill(conn, record.station, number))


def _act(entry: Entry) -> str:
    return str(entry.data.get("action") or entry.kind.removeprefix("fill."))


def _gate(given: dict[str, Any]) -> dict[str, Any]:
    name = given["gate"]
    return {
        "gate": name,
        "answer": given["answer"],
        "reason": given["reason"],
        "rule": RULE_OF.get(name),
        "caution": bool(given.get("caution")),
        "may_be_allowed": given["answer"] == "ask" or name in ASKING,
    }


def cautioned_before(record: Record, number: int) -> frozenset[str]:
    """Return the gates of a fill that passed before only because no rule asks for them."""
    found = [gate for entry in _entries(record, number) for gate in entry.data.get("gates", ())]
    return frozenset(gate["gate"] for gate in found if gate.get("caution"))


def unchecked(gates: Iterable[Gate], told: Collection[str] = ()) -> str:
    """Say in one sentence what was not done and no rule of the station asks for.

    Parameters
    ----------
    gates : iterable of Gate
        What was answered.
    told : collection of str
        Gates of which that was said before.

    Examples
    --------
    >>> unchecked([Gate("air-test", "pass", "no test on record", caution=True)])
    "Not checked, and no rule here asks for it: the compressor's air has no test on record."
    """
    said_once = set(told) - _FACTS  # what is known of the cylinder is said at every act
    found = [gate for gate in gates if gate.caution and gate.gate not in said_once]
    left = [g for g in found if not g.reason.startswith(_ENDS_SERVICE) and g.gate not in _FACTS]
    facts = [gate.reason for gate in found if gate not in left]
    said = [f"{_capital(fact)}." for fact in facts]
    if left:
        undone = ", ".join(_NOT_DONE.get(gate.gate, gate.reason) for gate in left)
        said.append(f"Not checked, and no rule here asks for it: {undone}.")
    return " ".join(said)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
