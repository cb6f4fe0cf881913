"""Names so alike that one person may have been registered twice."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection

from blender.record import read
from blender.record.journal import Record
from blender.record.models import PersonRow

_LEAST = 4  # letters: of shorter names one letter tells people apart


def folded(name: str) -> str:
    """Return a name without regard to letters' size, accents, blanks and signs.

    Examples
    --------
    >>> folded("Zoë  van-Dam"), folded("zoe VanDam")
    ('zoevandam', 'zoevandam')
    """
    plain = unicodedata.normalize("NFKD", name.casefold())
    return "".join(char for char in plain if char.isalnum())


def are_alike(one: str, other: str) -> bool:
    """Tell whether two names may be meant for one person.

    They are the same but for size, accents, blanks and the order of their words, or one letter
    is another, missing, too many, or changed places with the next.

    Examples
    --------
    >>> are_alike("Kai Berg", "kai  bérg"), are_alike("Kai Berg", "Kay Berg")
    (True, True)
    >>> are_alike("Berg, Kai", "Kai Berg"), are_alike("Kai Berg", "Kai Bergmann")
    (True, False)
    """
    short, long = sorted((folded(one), folded(other)), key=len)
    if short == long or _words(one) == _words(other):
        return bool(short)
    return len(short) >= _LEAST and _one_apart(short, long)


def _words(name: str) -> list[str]:
    return sorted(filter(None, (folded(word) for word in name.split())))


def _one_apart(short: str, long: str) -> bool:
    """Tell whether one letter makes the difference; `long` is no shorter."""
    if len(long) - len(short) > 1:
        return False
    at = next((i for i, (a, b) in enumerate(zip(short, long, strict=False)) if a != b), len(short))
    if len(short) < len(long):
        return short[at:] == long[at + 1 :]
    is_swapped = short[at : at + 2] == long[at : at + 2][::-1] and short[at + 2 :] == long[at + 2 :]
    return short[at + 1 :] == long[at + 1 :] or is_swapped


def alike(record: Record, name: str) -> list[dict[str, Any]]:
    """Return the people on record whose names are alike, customers and staff, JSON-ready."""
    with record.read() as conn:
        return alike_in(conn, name)


def alike_in(conn: Connection, name: str) -> list[dict[str, Any]]:
    """Return the same in a transaction."""
    return [_facts(row) for row in _found(read.people(conn), name)]


def _found(rows: Iterable[PersonRow], name: str) -> list[PersonRow]:
    return [row for row in rows if row.name and are_alike(row.name, name)]


def _facts(row: PersonRow) -> dict[str, Any]:
    return {"person": row.person, "name": row.name, "role": row.role}


def caution(name: str, found: list[dict[str, Any]]) -> str:
    """Say whose names are alike; empty if nobody's is."""
    if not found:
        return ""
    named = ", ".join(f"{one['name']} ({one['role']}, {one['person']})" for one in found[:5])
    more = f" and {len(found) - 5} more" if len(found) > 5 else ""
    return f"{name} is nearly the name of {named}{more}: is it the same person?"
