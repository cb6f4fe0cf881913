"""The station as a place to work: its record, keys, clock and rules, and one act at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError, LeaveNeededError, RefusedError
from blender.record import read
from blender.record.entry import Entry
from blender.record.journal import Record, Unit
from blender.record.keys import StationKeys
from blender.record.models import FillRow
from blender.record.moment import Moment
from blender.record.roll import Roll
from blender.station import entrance, handing
from blender.station.actor import Actor, require
from blender.station.answer import Answer
from blender.station.gates import ASK, STOP, Gate, order, refuses, storable
from blender.station.handing import Handing
from blender.station.rules import Rules, in_force

Clock = Callable[[], Moment]


@dataclass(frozen=True)
class Station:
    """Everything a use case needs, wired once from outside.

    Parameters
    ----------
    record : Record
        The open record.
    keys : StationKeys
        The station's own keys.
    clock : callable
        Gives the moment.
    key : str or None
        Idempotency key of the next act: under one key only one act is ever entered.
    roll : Roll
        Who may act by the journal, read as far as it went.
    asks_first : bool
        Whether a manager is asked before what a gate leaves to them: so at the terminal. A
        script of a manager's goes on, and is told.
    """

    record: Record
    keys: StationKeys
    clock: Clock
    key: str | None = None
    roll: Roll = field(default_factory=Roll, compare=False, repr=False)
    asks_first: bool = False

    @property
    def rules(self) -> Rules:
        """Limits and tolerances in force now, whichever terminal changed them."""
        with self.record.read() as conn:
            return in_force(conn)

    def only_signer(self) -> str | None:
        """Return the one member of staff there is, None where there are several."""
        with self.record.read() as conn:
            staff = [row for row in read.people(conn) if row.role in read.STAFF_ROLES]
        return staff[0].person if len(staff) == 1 else None

    def sign_in(self, name: str, secret: str) -> Actor:
        """Unlock a member of staff's key for this session.

        Raises
        ------
        RefusedError
            If the name is unknown or the secret does not open the key; the words are
            the same for both.  After several wrong ones a wait is asked for.
        """
        return entrance.sign_in(self, name, secret)

    @contextmanager
    def act(self, actor: Actor, name: str) -> Iterator[Act]:
        """Hold one act: authority first, then one transaction, saved whole or not at all."""
        with self.record.write() as unit:
            handed = self.check(unit.conn, actor, name)
            self.roll.keep(unit, self.keys)
            if self.key is not None and (entry := read.entry_of_step(unit.conn, self.key)):
                raise AlreadyEnteredError(entry)
            yield Act(self, actor, name, unit, self.clock(), handed)

    def check(self, conn: Connection, actor: Actor, name: str) -> Handing | None:
        """Ask the journal whether the actor still is who they were, and may do this.

        Returns what they handed to the tablet, where it is that which is acted on.

        Raises
        ------
        RefusedError
            If they may not, or are to sign in again.
        RecordError
            If the table of people was changed from outside.
        """
        row = read.person(conn, actor.person)
        if row is None or row.role == "customer":
            require(actor, name, "customer")
            return None
        standing = entrance.standing_of(self, conn, row)
        if actor.handed:
            return self._handed(conn, actor, name, standing.role)
        if actor.signer is None or standing.key != actor.signer.key:
            told = f"{actor.name}: your secret was reset or changed meanwhile; sign in again"
            raise RefusedError(told, code="sign-in")
        require(actor, name, standing.role)
        if standing.one_time and name != "secret":
            told = (
                f"{actor.name}: your secret was given by a manager and signs nothing; "
                "choose your own first: `person secret`"
            )
            raise RefusedError(told, code="one-time")
        return None

    def _handed(self, conn: Connection, actor: Actor, name: str, role: str) -> Handing:
        """Return what was handed to the tablet, if it stands and this act is what it is for."""
        found = handing.find(conn, self.record.station, self.keys, actor.handed)
        if found.person != actor.person or handing.ACTS.get(found.purpose) != name:
            raise RefusedError(f"the tablet was not handed this: {name}", code=handing.UNKNOWN)
        handing.check(conn, found, self.clock())
        require(actor, handing.NEEDS[found.purpose], role)
        return found


# The act behind each kind of entry that opens with it.
_ACTS = {
    "fill.requested": "request",
    "fill.planned": "plan",
    "fill.started": "start",
    "fill.reading": "reading",
    "fill.reading-corrected": "correct_reading",
    "fill.held": "hold",
    "fill.resumed": "resume",
    "fill.residual": "analyse",
    "fill.analysed": "analyse",
    "fill.analysis-corrected": "correct_analysis",
    "fill.residual-corrected": "correct_residual",
    "fill.disputed": "accept",
    "fill.accepted": "accept",
    "fill.collected": "collect",
    "fill.rejected": "reject",
    "fill.quarantined": "quarantine",
    "fill.released": "release",
    "fill.amended": "amend",
    "fill.voided": "void",
}


# Entries that keep what every gate answered, also where none objected.
_WITH_GATES = frozenset(
    f"fill.{done}"
    for done in ("planned", "started", "resumed", "residual", "analysed", "accepted", "collected")
)

# With these what was handed to the tablet is done.
_ENDS_HANDING = frozenset({"fill.accepted", "fill.disputed", "person.added", "person.agreed"})


class AlreadyEnteredError(Exception):
    """The act's key was used before: `entry` is what was entered then, nothing was now."""

    def __init__(self, entry: Entry) -> None:
        super().__init__(f"already entered as entry {entry.seq}")
        self.entry = entry


@dataclass(frozen=True)
class Act:
    """One act inside its transaction."""

    station: Station
    actor: Actor
    name: str
    unit: Unit
    now: Moment
    handed: Handing | None = None
    allowed: dict[str, str] = field(default_factory=dict)
    asked: dict[str, Gate] = field(default_factory=dict)

    @property
    def conn(self) -> Any:
        """The transaction's connection, for `blender.record.read`."""
        return self.unit.conn

    @cached_property
    def rules(self) -> Rules:
        """The station's rules, as they are in force in this act."""
        return in_force(self.conn)

    @property
    def _rank(self) -> str:
        """Return whose leave counts: nobody stands by the tablet to allow what a manager may."""
        return self.actor.role if self.handed is None else "blender"

    @property
    def today(self) -> tuple[int, int]:
        """Year and month of the act, in the station's zone."""
        local = self.now.local
        return local.year, local.month

    def fill(self, number: int) -> tuple[FillRow, Gate]:
        """Return the fill and whether this act is possible where it stands."""
        if self.handed is not None and number != self.handed.fill:
            raise RefusedError("the tablet was handed another fill", code=handing.UNKNOWN)
        fill = read.fill(self.conn, number)
        return fill, order(self.name, fill.state)

    def enter(self, kind: str, data: dict[str, Any], meaning: str, *, seal: bool = False) -> Entry:
        """Enter what happened, signed by the actor; `seal` adds the station's own seal.

        What only a manager may allow, and now did, is entered with it; so is what every gate
        answered, where the act began or ended something.
        """
        if self.asked and kind in _WITH_GATES:
            data = {**data, "gates": [gate.as_dict() for gate in self.asked.values()]}
        if self.allowed:
            data = {**data, "allowed": list(self.allowed.values())}
        if self.handed is not None:
            data = {**data, "tablet": self.handed.seq}
            if kind in _ENDS_HANDING:
                used = handing.told(handing.USED, self.handed.seq)
                data["findings"] = [*data.get("findings", ()), used]
        keys = self.station.keys if seal or self.actor.signer is None else None
        step = None if read.entry_of_step(self.conn, self.station.key) else self.station.key
        return self.unit.append(
            kind, data, at=self.now, by=self.actor.signer, meaning=meaning, seal=keys, step=step
        )

    def refused(
        self, fill: FillRow, gates: Sequence[Gate], given: dict[str, Any] | None = None
    ) -> Answer | None:
        """Enter a refusal and return its answer, or None if every gate lets this actor on.

        `given` is what was typed, so that a reading is kept even where it was refused.
        """
        self.asked.update({gate.gate: gate for gate in gates})
        self.ask_first(fill, gates)
        gates, leave = self._judged(fill, gates)
        if not refuses(gates, self._rank, leave):
            asked = [gate for gate in gates if gate.answer == ASK]
            self.allowed.update({g.gate: _why(g, leave) for g in asked})
            return None
        self.allowed.clear()
        answers = [gate.as_dict() for gate in gates]
        kept = {name: storable(value) for name, value in (given or {}).items()}
        data = {"fill": fill.fill, "action": self.name, "gates": answers, "given": kept}
        self.enter("fill.refused", data, "refused by the rules")
        return refusal(fill, gates)

    def ask_first(self, fill: FillRow, gates: Sequence[Gate]) -> None:
        """Stop where this manager would allow what they were not asked about.

        Raises
        ------
        LeaveNeededError
            Naming what is to be allowed, where nothing else stands against it.
        """
        if not self.station.asks_first or self._rank != "manager" or refuses(gates, self._rank):
            return
        if all(gate.answer != ASK for gate in gates):
            return
        leave = self._leave(fill)
        open_ones = [gate for gate in gates if gate.answer == ASK and not _has_reason(gate, leave)]
        if open_ones:
            raise LeaveNeededError(fill.fill, [gate.as_dict() for gate in open_ones])

    def would_refuse(self, fill: FillRow, gates: Sequence[Gate]) -> bool:
        """Tell whether a gate keeps this actor from going on; nothing is entered."""
        judged, leave = self._judged(fill, gates)
        return refuses(judged, self._rank, leave)

    def _judged(
        self, fill: FillRow, gates: Sequence[Gate]
    ) -> tuple[Sequence[Gate], dict[str, str]]:
        """Return what the gates come to here, and for which of them a manager gave leave."""
        if all(gate.answer != ASK for gate in gates):
            return gates, {}
        leave = self._leave(fill)
        return [self._needs_reason(gate, leave) for gate in gates], leave

    def _leave(self, fill: FillRow) -> dict[str, str]:
        """Return the gates a manager gave leave for at this fill: who, and why."""
        entries = read.entries_of_fill(self.conn, self.station.record.station, fill.fill)
        read_last = max((one.seq for one in entries if one.kind in _READ_ANEW), default=0)
        return {
            entry.data["gate"]: f"allowed by {(entry.sig or {})['name']}: {entry.data['reason']}"
            for entry in entries
            if entry.kind == "fill.allowed"
            and (entry.data["gate"] != "calculated" or entry.seq > read_last)
        }

    def _needs_reason(self, gate: Gate, leave: dict[str, str]) -> Gate:
        """Make a stop of what a manager would allow without a reason, where that is a rule."""
        if gate.answer != ASK or _has_reason(gate, leave) or self.rules.allow_reason == "no":
            return gate
        told = f"{gate.reason}; a manager may allow it, with a reason: `fill allow`"
        return Gate(gate.gate, STOP, told)


# Leave for a reading that does not fit what was let in is leave for that reading alone.
_READ_ANEW = ("fill.analysed", "fill.analysis-corrected")


def _has_reason(gate: Gate, leave: dict[str, str]) -> bool:
    return gate.gate in leave or "; waived: " in gate.reason


def _why(gate: Gate, leave: dict[str, str]) -> str:
    """Return what was allowed, by whom and why, as it is kept for ever."""
    told = f"{gate.gate}: {gate.reason}"
    if gate.gate in leave:
        return f"{told}; {leave[gate.gate]}"
    return told if "; waived: " in gate.reason else f"{told}; no reason given"


def repeated(station: Station, actor: Actor, entry: Entry, act: str, number: int | None) -> Answer:
    """Return the answer of an act that was entered before under the same key.

    Raises
    ------
    InputError
        If the key was used by somebody else, for another act or another fill.
    """
    was = entry.data.get("action") or _ACTS.get(entry.kind, entry.kind)
    if entry.kind == "fill.residual-corrected" and "typed" in entry.data:
        was = "correct_analysis"
    same_fill = number is None or number == entry.data.get("fill")
    if was != act or not same_fill or (entry.sig or {}).get("person") != actor.person:
        used = (
            f"it was used for entry {entry.seq}, {entry.kind}, fill {entry.data.get('fill', '-')}"
        )
        raise InputError("--key", station.key, f"{used}: a new act needs a new key")
    with station.record.read() as conn:
        fill = read.fill(conn, entry.data["fill"])
    given = entry.data.get("gates", [])
    gates = [Gate(g["gate"], g["answer"], g["reason"], g.get("caution", False)) for g in given]
    told = f"Entered before, as entry {entry.seq}; nothing was entered now."
    facts: dict[str, Any] = {"repeated": True, "seq": entry.seq}
    if entry.kind == "fill.accepted":
        facts |= {"anchor": entry.anchor.text, "label": entry.data["label"]}
    return Answer(fill.fill, fill.state, gates, not _is_refusal(entry), told, facts)


def _is_refusal(entry: Entry) -> bool:
    """Tell whether what was entered says no: a gate, a diver's reading, rich gas found."""
    if entry.kind in ("fill.residual", "fill.residual-corrected"):
        return entry.data.get("decision") == "reject"
    return entry.kind in ("fill.refused", "fill.disputed")


def refusal(fill: FillRow, gates: Sequence[Gate]) -> Answer:
    """Return the answer of an act that a gate refused."""
    told = "; ".join(f"{g.gate}: {g.reason}" for g in gates if g.answer != "pass")
    return Answer(fill.fill, fill.state, gates, done=False, text=f"Refused. {told}")
