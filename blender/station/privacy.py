"""What is held on a person, on their asking; and forgetting a customer who asks for that."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from blender.errors import InputError, RefusedError
from blender.record import contacts, forgetting, private, read
from blender.record.entry import Entry
from blender.record.erased import erased_in, keep_beside
from blender.record.models import FillRow, PersonRow
from blender.record.projection import table
from blender.record.states import ENDED
from blender.record.text import clean_text
from blender.station.actor import Actor
from blender.station.copies_left import copies_of
from blender.station.desk import Act, Station

ERASED = "person.erased"
CONTACT = "person.contact"
_PHONE = re.compile(r"[+0-9][0-9 ()/.-]{2,38}")
_MOST_NAMED = 200  # entries that an erasure names one by one


def set_phone(station: Station, actor: Actor, who: str, phone: str) -> dict[str, Any]:
    """Enter where a customer is called, should their gas have to be recalled.

    Raises
    ------
    InputError
        If it is no telephone number, or no customer answers to the name or id.
    """
    number = phone_number(phone, "--phone")
    with station.act(actor, "customer") as act:
        person = read.customer(act.conn, who, "customer")
        keep_phone(act, person.person, number)
    return {"person": person.person, "name": person.name, "phone": number}


def phone_number(text: str, field: str) -> str:
    """Return a telephone number, checked.

    Raises
    ------
    InputError
        If it is none.
    """
    number = text.strip()
    if not _PHONE.fullmatch(number) or sum(char.isdigit() for char in number) < 3:
        raise InputError(field, repr(text[:60]), "digits, with + ( ) / . - and blanks, up to 39")
    return number


def keep_phone(act: Act, person: str, number: str) -> None:
    """Enter a telephone number: it lies in a private row, the journal has a commitment to it."""
    row = f"contact/{person}/{secrets.token_hex(5)}"
    content = {"phone": number, "at_us": act.now.us}
    commitment = act.unit.commit_private(row, person, contacts.WHAT, content)
    data = {"person": person, "private": row, "commitment": commitment}
    act.enter(CONTACT, data, "told by the customer")


def erase(
    station: Station, actor: Actor, who: str, *, reason: str, copies_until: str = ""
) -> dict[str, Any]:
    """Erase a customer: their name, telephone number, signatures and key go, their fills stay.

    Parameters
    ----------
    station : Station
        Where.
    actor : Actor
        A manager.
    who : str
        The customer's name or id.
    reason : str
        Why; it stays for ever, so it may not name them.
    copies_until : str
        The day by which the last older copy of the record will be gone, if that is known.

    Raises
    ------
    InputError
        If nobody answers to that, or the reason names them.
    RefusedError
        If they are staff, or a fill of theirs is not at its end.
    """
    why = clean_text(reason, "--reason", 300)
    until = date_of(copies_until, "--copies-until") if copies_until else ""
    with station.act(actor, "erase") as act:
        person = _customer(act.conn, who)
        _refuse_open_fills(act.conn, person)
        words = _words_for(act, person.person)
        if any(forgetting.folded(word) in forgetting.folded(why) for word in words):
            raise InputError("--reason", "(not shown)", "it names them, and it stays for ever")
        entry, named = forget(act, person.person, why, until)
        copies = copies_of(act.conn, act.unit.station, person.person, entry.seq)
        folder = act.rules.copy_folder
    _tell_copies(station, folder)
    return {
        "person": person.person,
        "rows": entry.data["rows"],
        "fills": entry.data["fills"],
        "named_in": named,
        "copies_before": entry.at.iso,
        "copies_until": until or None,
        "copies": copies.as_dict(),
        "cleared": forgetting.clear(station.record),
        "seq": entry.seq,
        "anchor": entry.anchor.text,
    }


def forget(act: Act, person: str, why: str, until: str = "") -> tuple[Entry, list[int]]:
    """Erase a customer in an act, and enter it; return the entry, and all that name them still.

    Parameters
    ----------
    act : Act
        Of a manager.
    person : str
        Their id.
    why : str
        Checked not to name them.
    until : str
        The day by which older copies will be gone, if that was said.
    """
    known = private.rows_of(act.conn, person)
    also = list(_filed_elsewhere(act, person))
    named = forgetting.mentions(act.conn, act.unit.station, _words_for(act, person))
    rows = [row for row, what, _ in known if what == "acceptance"] + [row for row, _ in also]
    fills = sorted({int(row.split("/")[1]) for row in rows})
    act.unit.erase_person(person)
    for row, _ in also:
        private.erase(act.conn, row)
    data = {"person": person, "reason": why, "rows": len(known) + len(also)}
    data |= {"also": [row for row, _ in also], "fills": fills, "copies_until": until}
    data |= {"named_in": named[:_MOST_NAMED], "named": len(named)}
    return act.enter(ERASED, data, "erased", seal=True), named


def forget_again(act: Act, ids: Sequence[str]) -> list[str]:
    """Erase those customers of a restored copy who had been erased before; return their ids."""
    columns = table(PersonRow).c
    again = []
    for ident in dict.fromkeys(ids):
        here = (columns.person == ident) & (columns.role == "customer") & columns.name.is_not(None)
        if read.rows(act.conn, PersonRow, here):
            forget(act, ident, "erased before the restore of an older copy")
            again.append(ident)
    return again


def _tell_copies(station: Station, folder: str) -> None:
    """Say beside the station's own copies who was erased, should one of them be restored."""
    if folder and station.keys is not None and Path(folder).is_dir():
        with station.record.read() as conn:
            ids = erased_in(conn, station.record.station)
        keep_beside(Path(folder), station.record.station, ids, station.keys)


def date_of(text: str, field: str) -> str:
    """Return a day such as ``2026-11-25``, checked.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise InputError(field, repr(text[:40]), "write a day such as 2026-11-25") from None


def _customer(conn: Connection, who: str) -> PersonRow:
    staff = read.staff_named(conn, who)
    if staff is not None:
        told = "the names of staff stand in the signatures they gave, which prove every fill: they "
        told += "are kept as long as the record is, and then go with it"
        raise RefusedError(told, code="staff")
    return read.customer(conn, who, "name")


def _refuse_open_fills(conn: Connection, person: PersonRow) -> None:
    columns = table(FillRow).c
    theirs = (columns.customer == person.person) & ~columns.state.in_(ENDED)
    if found := read.rows(conn, FillRow, theirs):
        listed = ", ".join(f"{fill.fill} ({fill.state})" for fill in found[:20])
        told = f"fills of theirs are not at their end: {listed}; hand them over or give them up"
        raise RefusedError(told, code="open-fill")


def _filed_elsewhere(act: Act, person: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give what they signed while their fill stood under another customer, by mistake."""
    theirs = table(FillRow).c.customer == person
    for fill in read.rows(act.conn, FillRow, theirs & (table(FillRow).c.accepted_seq > 0)):
        entry = read.entry(act.conn, act.unit.station, fill.accepted_seq)
        if entry is None or entry.data["person"] == person:
            continue
        if (content := private.get(act.conn, entry.data["private"])) is not None:
            yield str(entry.data["private"]), content


def _words_for(act: Act, person: str) -> list[str]:
    """Return the texts of a person's private rows that would name them."""
    known = [content for *_, content in private.rows_of(act.conn, person)]
    return sorted(set(_words(known + [content for _, content in _filed_elsewhere(act, person)])))


def _words(contents: Sequence[dict[str, Any]]) -> Iterator[str]:
    """Give the texts that would name them: names they are known by or signed with, numbers."""
    for content in contents:
        for name in ("name", "phone"):
            if isinstance(content.get(name), str):
                yield content[name]
