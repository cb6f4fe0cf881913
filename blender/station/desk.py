"""The station as a place to work: its record, keys, clock and rules, and one act at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from blender.errors import InputError, RefusedError
from blender.record import private, read
from blender.record.entry import Entry
from blender.record.journal import Record, Unit
from blender.record.keys import Signer, StationKeys, unwrap_key
from blender.record.models import FillRow
from blender.record.moment import Moment
from blender.record.staff_keys import staff_key_row
from blender.station.actor import Actor, require
from blender.station.answer import Answer
from blender.station.gates import ASK, Gate, order, refuses, storable
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
    """

    record: Record
    keys: StationKeys
    clock: Clock
    key: str | None = None

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
            the same for both.
        """
        keys = self.keys
        with self.record.read() as conn:
            person = read.staff_named(conn, name)
            wrapped = private.get(conn, staff_key_row(person.person)) if person else None
        key = unwrap_key(wrapped, secret, keys.secret)
        if person is None:  # pragma: no cover - unwrap_key refused already
            raise RefusedError("name and secret do not belong together", code="sign-in")
        printed = person.name or person.person
        signer = Signer(person.person, printed, person.role, key)
        return Actor(person.person, printed, person.role, signer)

    @contextmanager
    def act(self, actor: Actor, name: str) -> Iterator[Act]:
        """Hold one act: authority first, then one transaction, saved whole or not at all."""
        require(actor, name)
        with self.record.write() as unit:
            _check_key(unit, actor)
            if self.key is not None and (entry := read.entry_of_step(unit.conn, self.key)):
                raise AlreadyEnteredError(entry)
            yield Act(self, actor, name, unit, self.clock())


def _check_key(unit: Unit, actor: Actor) -> None:
    """Refuse a session that goes on with a key the person does not have any more."""
    row = read.person(unit.conn, actor.person)
    if row is not None and row.key != actor.signer.key:
        told = f"{actor.name}: your secret was reset meanwhile; sign in again with the new one"
        raise RefusedError(told, code="sign-in")


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
    "fill.disputed": "accept",
    "fill.accepted": "accept",
    "fill.collected": "collect",
    "fill.rejected": "reject",
    "fill.quarantined": "quarantine",
    "fill.released": "release",
    "fill.amended": "amend",
    "fill.voided": "void",
}


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
    allowed: dict[str, str] = field(default_factory=dict)

    @property
    def conn(self) -> Any:
        """The transaction's connection, for `blender.record.read`."""
        return self.unit.conn

    @cached_property
    def rules(self) -> Rules:
        """The station's rules, as they are in force in this act."""
        return in_force(self.conn)

    @property
    def today(self) -> tuple[int, int]:
        """Year and month of the act, in the station's zone."""
        local = self.now.local
        return local.year, local.month

    def fill(self, number: int) -> tuple[FillRow, Gate]:
        """Return the fill and whether this act is possible where it stands."""
        fill = read.fill(self.conn, number)
        return fill, order(self.name, fill.state)

    def enter(self, kind: str, data: dict[str, Any], meaning: str, *, seal: bool = False) -> Entry:
        """Enter what happened, signed by the actor; `seal` adds the station's own seal.

        What only a manager may allow, and now did, is entered with it.
        """
        if self.allowed:
            data = {**data, "allowed": list(self.allowed.values())}
        keys = self.station.keys if seal else None
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
        if not refuses(gates, self.actor.role):
            asked = [gate for gate in gates if gate.answer == ASK]
            self.allowed.update({g.gate: f"{g.gate}: {g.reason}" for g in asked})
            return None
        self.allowed.clear()
        answers = [gate.as_dict() for gate in gates]
        kept = {name: storable(value) for name, value in (given or {}).items()}
        data = {"fill": fill.fill, "action": self.name, "gates": answers, "given": kept}
        self.enter("fill.refused", data, "refused by the rules")
        return refusal(fill, gates)


def repeated(station: Station, actor: Actor, entry: Entry, act: str, number: int | None) -> Answer:
    """Return the answer of an act that was entered before under the same key.

    Raises
    ------
    InputError
        If the key was used by somebody else, for another act or another fill.
    """
    was = entry.data.get("action") or _ACTS.get(entry.kind, entry.kind)
    same_fill = number is None or number == entry.data.get("fill")
    if was != act or not same_fill or (entry.sig or {}).get("person") != actor.person:
        used = (
            f"it was used for entry {entry.seq}, {entry.kind}, fill {entry.data.get('fill', '-')}"
        )
        raise InputError("--key", station.key, f"{used}: a new act needs a new key")
    with station.record.read() as conn:
        fill = read.fill(conn, entry.data["fill"])
    given = entry.data["gates"] if entry.kind == "fill.refused" else []
    gates = [Gate(g["gate"], g["answer"], g["reason"]) for g in given]
    told = f"Entered before, as entry {entry.seq}; nothing was entered now."
    facts: dict[str, Any] = {"repeated": True, "seq": entry.seq}
    if entry.kind == "fill.accepted":
        facts |= {"anchor": entry.anchor.text, "label": entry.data["label"]}
    return Answer(fill.fill, fill.state, gates, not _is_refusal(entry), told, facts)


def _is_refusal(entry: Entry) -> bool:
    """Tell whether what was entered says no: a gate, a diver's reading, rich gas found."""
    if entry.kind == "fill.residual":
        return bool(entry.data["decision"] == "reject")
    return entry.kind in ("fill.refused", "fill.disputed")


def refusal(fill: FillRow, gates: Sequence[Gate]) -> Answer:
    """Return the answer of an act that a gate refused."""
    told = "; ".join(f"{g.gate}: {g.reason}" for g in gates if g.answer != "pass")
    return Answer(fill.fill, fill.state, gates, done=False, text=f"Refused. {told}")
