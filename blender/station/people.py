"""The people: founding a station with its first manager, adding staff and customers."""

from __future__ import annotations

import re
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from blender.errors import InputError
from blender.record import read
from blender.record.journal import Record, Unit
from blender.record.keys import (
    DEFAULT_COST,
    Cost,
    Signer,
    StationKeys,
    new_signing_key,
    public_hex,
    wrap_key,
)
from blender.record.moment import Moment
from blender.record.server import Location
from blender.record.staff_keys import staff_key_row
from blender.record.text import clean_text
from blender.station import entrance
from blender.station.actor import Actor
from blender.station.alike import alike_in, caution
from blender.station.desk import Act, Station

ROLES = ("blender", "manager", "auditor", "customer")
CERTIFIED = ("air", "nitrox", "trimix")
METHODS = ("partial-pressure", "continuous-flow", "banked", "mass")
MIN_SECRET = 4
_STATION_ID = re.compile(r"[A-Z0-9][A-Z0-9-]{0,30}")


def station_id(text: str) -> str:
    """Return a station's id, checked.

    Raises
    ------
    InputError
        If it is not capital letters, digits and hyphens, at most 31 of them.
    """
    if not _STATION_ID.fullmatch(text):
        raise InputError("--id", repr(text), "use A-Z, 0-9 and '-', at most 31, such as HARBOUR-1")
    return text


def found(
    location: str | Location,
    keys: StationKeys,
    now: Moment,
    *,
    ident: str,
    name: str,
    manager: str,
    secret: str,
    cost: Cost = DEFAULT_COST,
    draft: bool = False,
) -> Record:
    """Start a new record with its first manager, and return it open.

    One that is made up may be a `draft`, see `Record.found`.

    Raises
    ------
    InputError
        If a text cannot be used, or the place already holds a record.
    """
    data = {"name": clean_text(name, "--name")}
    new = _NewPerson(clean_text(manager, "--manager"), "manager")
    _check_secret(secret)

    def first_manager(unit: Unit) -> None:
        facts, signer = _store(unit, new, keys, secret, cost)
        unit.append("person.added", facts, at=now, by=signer, meaning="founded", seal=keys)

    return Record.found(
        location, keys=keys, station=station_id(ident), data=data, at=now, writes=first_manager,
        draft=draft,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _NewPerson:
    name: str
    role: str
    qualified: tuple[str, ...] = ()
    certified: str = ""


def add_person(
    station: Station,
    actor: Actor,
    *,
    name: str,
    role: str,
    qualified: Sequence[str] = (),
    certified: str = "",
    secret: str | None = None,
    cost: Cost = DEFAULT_COST,
) -> dict[str, Any]:
    """Add a member of staff (with their first secret) or a customer.

    Raises
    ------
    InputError
        If the role is unknown, a member of staff of that name exists, or a secret is
        missing.
    RefusedError
        If the actor may not.
    """
    check_choice("--role", role, ROLES)
    for method in qualified:
        check_choice("--qualified", method, METHODS)
    if certified:
        check_choice("--certified", certified, CERTIFIED)
    new = _NewPerson(clean_text(name, "name"), role, tuple(qualified), certified)
    with station.act(actor, "customer" if role == "customer" else "staff") as act:
        if role != "customer":
            _refuse_namesake(act.unit, new.name)
            _check_secret(secret)
        found = alike_in(act.conn, new.name)
        facts, _ = _store(act.unit, new, station.keys, secret or "", cost)
        act.enter("person.added", facts, f"added as {role}", seal=True)
    answer = {"person": facts["person"], "name": new.name, "role": role, "alike": found}
    return answer | {"cautions": [caution(new.name, found)] if found else []}


def enter_customer(act: Act, name: str, certified: str, **more: Any) -> str:
    """Enter a customer in an act that does more than that; return their id."""
    new = _NewPerson(clean_text(name, "name"), "customer", (), certified)
    facts, _ = _store(act.unit, new, act.station.keys, "", DEFAULT_COST)
    act.enter("person.added", {**facts, **more}, "taken over as customer", seal=True)
    return str(facts["person"])


def see_card(station: Station, actor: Actor, person: str, certified: str) -> dict[str, Any]:
    """Enter that a customer's card was seen; what they may be given follows from it.

    Raises
    ------
    InputError
        If there is no such customer or certification.
    RefusedError
        If the actor may not.
    """
    check_choice("--certified", certified, CERTIFIED)
    with station.act(actor, "customer") as act:
        row = read.person(act.conn, person)
        if row is None or row.role != "customer":
            raise InputError("person", repr(person), "no customer has this id")
        facts = {"person": row.person, "old": row.certified, "new": certified}
        act.enter("person.certified", facts, f"shown a {certified} card")
    return {"person": row.person, "name": row.name, "certified": certified}


def change_secret(
    station: Station, actor: Actor, old_secret: str, new_secret: str, cost: Cost = DEFAULT_COST
) -> dict[str, Any]:
    """Lock the actor's own key with a new secret; who only found them signed in cannot.

    Where a manager had given the old secret, a new key is drawn too: whoever knew that secret
    could have kept a copy of the key it opened.  They sign in again then.

    Raises
    ------
    InputError
        If the new secret is too short, or a secret a manager gave is to stay.
    RefusedError
        If the old secret is not theirs.
    """
    _check_secret(new_secret)
    if actor.one_time and new_secret == old_secret:
        raise InputError("secret", "(not shown)", "choose another than the one you were given")
    with station.record.read() as conn:
        station.check(conn, actor, "secret")
    key = entrance.open_key(station, actor.person, actor.person, old_secret)
    facts, signer = {"person": actor.person}, actor.signer
    if actor.one_time:
        key = new_signing_key()
        facts["key"] = public_hex(key)
        signer = Signer(actor.person, actor.name, actor.role, key)
    wrapped = wrap_key(key, new_secret, station.keys.secret, cost)
    with station.act(actor, "secret") as act:
        row = staff_key_row(actor.person)
        act.unit.put_private(row, actor.person, "staff-key", wrapped, replace=True)
        keys, meaning = station.keys, "changed own secret"
        act.unit.append("person.secret", facts, at=act.now, by=signer, meaning=meaning, seal=keys)
    return {"person": actor.person, "name": actor.name}


def reset_secret(
    station: Station,
    actor: Actor,
    name: str,
    *,
    reason: str,
    secret: str,
    cost: Cost = DEFAULT_COST,
) -> dict[str, Any]:
    """Give a member of staff a secret for once, and with it a new key: the old one stays locked.

    It signs nothing: at their first sign-in they replace it.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager; nobody resets their own.
    name : str
        Whose secret.
    reason : str
        Why.
    secret : str
        The new secret, to be changed by them.
    cost : Cost
        What one guess at it shall cost.

    Raises
    ------
    InputError
        If nobody of that name signs here, it is the actor, or the secret is too short.
    RefusedError
        If the actor may not.
    """
    why = clean_text(reason, "--reason", 300)
    _check_secret(secret)
    with station.act(actor, "staff") as act:
        who = read.staff_named(act.conn, name)
        if who is None:
            raise InputError("name", repr(name[:80]), "no member of staff of that name")
        if who.person == actor.person:
            raise InputError("name", repr(name), "change your own with your old secret instead")
        key = new_signing_key()
        wrapped = wrap_key(key, secret, station.keys.secret, cost)
        act.unit.put_private(
            staff_key_row(who.person), who.person, "staff-key", wrapped, replace=True
        )
        data = {"person": who.person, "key": public_hex(key), "once": True, "reason": why}
        act.enter("person.secret-reset", data, "secret reset by a manager", seal=True)
    return {"person": who.person, "name": who.name, "reason": why}


def _store(
    unit: Unit, new: _NewPerson, keys: StationKeys, secret: str, cost: Cost
) -> tuple[dict[str, Any], Signer]:
    """Store a person's private rows; return what enters the journal, and their signer."""
    person = f"P-{secrets.token_hex(5).upper()}"
    private = f"person/{person}"
    key = new_signing_key()
    signer = Signer(person, new.name, new.role, key)
    facts: dict[str, Any] = {
        "person": person,
        "role": new.role,
        "qualified": list(new.qualified),
        "certified": new.certified,
        "private": private,
        "commitment": unit.commit_private(private, person, "person", {"name": new.name}),
    }
    if new.role != "customer":
        wrapped = wrap_key(key, secret, keys.secret, cost)
        unit.put_private(staff_key_row(person), person, "staff-key", wrapped)
        facts["key"] = signer.key
    return facts, signer


def _refuse_namesake(unit: Unit, name: str) -> None:
    for row in read.people(unit.conn):
        if row.name == name and row.role in read.STAFF_ROLES:
            raise InputError("name", repr(name), "a member of staff of that name exists already")


def check_choice(field: str, given: str, allowed: Sequence[str]) -> None:
    """Refuse a word that is none of those allowed.

    Raises
    ------
    InputError
        Naming them.
    """
    if given not in allowed:
        raise InputError(field, repr(given), "allowed are " + ", ".join(allowed))


def _check_secret(secret: str | None) -> None:
    if not secret or len(secret) < MIN_SECRET:
        raise InputError("secret", "(not shown)", f"a secret has at least {MIN_SECRET} characters")
