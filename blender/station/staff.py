"""The staff over the years: roles that change, people who leave, what signing means, reviews."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from blender.errors import InputError, RefusedError
from blender.record import read
from blender.record.journal import Record
from blender.record.models import PersonRow
from blender.record.moment import Moment
from blender.record.roll import FORMER
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.desk import Act, Station
from blender.station.people import METHODS, check_choice
from blender.station.rules import in_force

ROLES = ("blender", "manager", "auditor")
UNDERTAKING = (
    "What I sign here with my name and my secret stands for me as my signature on paper does. "
    "I read what I sign. I give my secret to nobody, sign for nobody else, and tell a manager at "
    "once if somebody may know it."
)
MONTH_US = 30 * 24 * 3_600_000_000


def change_role(
    station: Station, actor: Actor, name: str, *, role: str, reason: str
) -> dict[str, Any]:
    """Give a member of staff another role; it holds from their next act on.

    Raises
    ------
    InputError
        If nobody of that name signs here, or the role is theirs already.
    RefusedError
        If the actor may not, or the last manager would be gone.
    """
    check_choice("--role", role, ROLES)
    why = clean_text(reason, "--reason", 300)
    with station.act(actor, "staff") as act:
        who = _member(act, name)
        if who.role == role:
            raise InputError("--role", repr(role), "that is their role already")
        _keep_a_manager(act, who, role)
        data = {"person": who.person, "old": who.role, "role": role, "reason": why}
        act.enter("person.role", data, "role changed", seal=True)
    return {"person": who.person, "name": who.name, "old": who.role, "role": role, "reason": why}


def retire(station: Station, actor: Actor, name: str, *, reason: str) -> dict[str, Any]:
    """Take a member of staff off the roll: from now on they can neither sign in nor sign.

    What they signed stays. Whoever comes back is added anew, under an id of their own.

    Raises
    ------
    InputError
        If nobody of that name signs here.
    RefusedError
        If the actor may not, or the last manager would be gone.
    """
    why = clean_text(reason, "--reason", 300)
    with station.act(actor, "staff") as act:
        who = _member(act, name)
        _keep_a_manager(act, who, FORMER)
        data = {"person": who.person, "old": who.role, "role": FORMER, "reason": why}
        act.enter("person.retired", data, "taken off the roll", seal=True)
    return {"person": who.person, "name": who.name, "old": who.role, "role": FORMER, "reason": why}


def qualify(
    station: Station, actor: Actor, name: str, methods: Sequence[str], *, reason: str
) -> dict[str, Any]:
    """Enter which methods a member of staff is qualified for; it takes the place of the last.

    Raises
    ------
    InputError
        If nobody of that name signs here, or a method is unknown.
    RefusedError
        If the actor may not.
    """
    for method in methods:
        check_choice("--qualified", method, METHODS)
    why = clean_text(reason, "--reason", 300)
    with station.act(actor, "staff") as act:
        who = _member(act, name)
        qualified = list(dict.fromkeys(methods))
        data = {"person": who.person, "qualified": qualified, "reason": why}
        data["old"] = json.loads(who.qualified)
        act.enter("person.qualified", data, "qualifications seen", seal=True)
    return {"person": who.person, "name": who.name, "qualified": qualified, "reason": why}


def _member(act: Act, name: str) -> PersonRow:
    who = read.staff_named(act.conn, name)
    if who is None:
        raise InputError("name", repr(name[:80]), "no member of staff of that name; `person list`")
    return who


def _keep_a_manager(act: Act, who: PersonRow, role: str) -> None:
    """Refuse to leave the station without anybody who can give authority."""
    others = [one for one in act.station.roll.of_role("manager") if one.person != who.person]
    if who.role == "manager" and role != "manager" and not others:
        reason = f"{who.name or who.person} is the last manager: make another first"
        gate = {"gate": "last-manager", "answer": "stop", "reason": reason}
        raise RefusedError(reason, code="last-manager", gates=[gate])


def undertake(station: Station, actor: Actor) -> dict[str, Any]:
    """Sign, once, what signing means here.

    Raises
    ------
    InputError
        If the actor has signed it already.
    RefusedError
        If the actor may not.
    """
    with station.act(actor, "undertake") as act:
        if read.finding(act.conn, "undertaking", actor.person) is not None:
            raise InputError("person", actor.name, "has signed what signing means already")
        told = {"what": "undertaking", "about": actor.person, "ok": True, "value": 0, "text": ""}
        data = {"person": actor.person, "words": UNDERTAKING, "findings": [told]}
        entry = act.enter("person.undertook", data, "understands what signing means")
    return {"person": actor.person, "name": actor.name, "words": UNDERTAKING, "seq": entry.seq}


def review(station: Station, actor: Actor, *, note: str) -> dict[str, Any]:
    """Enter that a manager went through the list of accounts, as it stood.

    Raises
    ------
    InputError
        If nothing is said of it.
    RefusedError
        If the actor may not.
    """
    said = clean_text(note, "--note", 400)
    with station.act(actor, "staff") as act:
        staff = [row for row in read.people(act.conn) if row.role in read.STAFF_ROLES]
        seen = [[row.person, row.role] for row in staff]
        told = {"what": "account-review", "about": "", "ok": True, "value": len(seen), "text": said}
        data = {"accounts": seen, "note": said, "findings": [told]}
        entry = act.enter("people.reviewed", data, "accounts reviewed")
    return {"accounts": len(seen), "note": said, "seq": entry.seq}


def standing(record: Record, now: Moment) -> dict[str, Any]:
    """Return what is due about the accounts: the last review, and who has not undertaken.

    Returns
    -------
    dict
        ``reviewed_at``, None if never; ``review_due``; ``not_undertaken``, names.
    """
    with record.read() as conn:
        last = read.finding(conn, "account-review")
        staff = [row for row in read.people(conn) if row.role in read.STAFF_ROLES]
        missing = [row for row in staff if read.finding(conn, "undertaking", row.person) is None]
        months = in_force(conn).review_months
    age_us = now.us - last.at_us if last else None
    return {
        "reviewed_at": Moment(last.at_us, last.offset_min).iso if last else None,
        "review_due": bool(months) and (age_us is None or age_us > months * MONTH_US),
        "not_undertaken": [row.name or row.person for row in missing],
    }
