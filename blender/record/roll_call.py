"""Whom of the staff a name typed at a terminal means: a beginning of it, or of one of its words.

As `glance` it loads the standard library alone.  It looks at names only: whoever was not meant
is never asked whether a secret is theirs.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from blender.errors import RefusedError
from blender.record.glance import Ask, look

ROLES = ("blender", "manager", "auditor")
# Letters that are no other letter with an accent, and are typed as these.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "æ": "ae", "œ": "oe", "þ": "th"})
_NAMED = 5  # of several that are meant, so many are named
_LEAST = 2  # of a part of a name: a single letter is a slip


@dataclass(frozen=True, slots=True)
class Known:
    """One member of staff: id and printed name."""

    person: str
    name: str


def staff(location: str) -> list[Known]:
    """Return who may sign at a station, by its file or server; raises as `glance`."""
    return look(location, _staff)


def _staff(ask: Ask) -> list[Known]:
    marks = ",".join("?" * len(ROLES))
    query = f"SELECT person, name FROM person WHERE role IN ({marks}) ORDER BY name, person"  # noqa: S608 - only question marks go in
    return [Known(row["person"], row["name"] or row["person"]) for row in ask(query, ROLES)]


def folded(name: str) -> str:
    """Return a name without regard to letters' size, accents and signs, its words kept apart.

    Examples
    --------
    >>> folded("  Zoë  van-Dam "), folded("Bjørn Ångström")
    ('zoe van dam', 'bjorn angstrom')
    """
    parts = unicodedata.normalize("NFKD", name.casefold().translate(_PLAIN))
    kept = (char for char in parts if not unicodedata.combining(char))
    return " ".join("".join(char if char.isalnum() else " " for char in kept).split())


def meant(typed: str, known: Sequence[Known]) -> list[Known]:
    """Return whom a typed text may mean; several where it does not tell them apart.

    A whole name or id comes before a part of one, and as it is written before all.  Nothing
    typed means the only one there is.

    Examples
    --------
    >>> mara, jo, ana = Known("p1", "Mara Linde"), Known("p2", "Jo Sand"), Known("p3", "Jo Márai")
    >>> [one.name for one in meant("lin", [mara, jo, ana])]
    ['Mara Linde']
    >>> meant("l", [mara, jo, ana])
    []
    >>> [one.name for one in meant("JO", [mara, jo, ana])]
    ['Jo Sand', 'Jo Márai']
    >>> [one.name for one in meant("jo ma", [mara, jo, ana])]
    ['Jo Márai']
    """
    given, wanted = typed.strip(), folded(typed)
    if not given:
        return list(known) if len(known) == 1 else []
    exactly = [one for one in known if given in (one.person, one.name)]
    wholly = [one for one in known if wanted and wanted in (folded(one.person), folded(one.name))]
    return exactly or wholly or [one for one in known if _is_part(wanted, one.name)]


def _is_part(wanted: str, name: str) -> bool:
    if len(wanted) < _LEAST:
        return False
    whole = folded(name)
    return whole.startswith(wanted) or any(word.startswith(wanted) for word in whole.split())


def the_one(typed: str, known: Sequence[Known]) -> Known | None:
    """Return the one a text means, None if it means nobody.

    Raises
    ------
    RefusedError
        If it may mean several: it names them, and no secret is tried on any.
    """
    found = meant(typed, known)
    if len(found) < 2:
        return found[0] if found else None
    raise RefusedError(f"{typed.strip()[:40]} may be {named(found)}", code="sign-in")


def named(found: Sequence[Known]) -> str:
    """Name several people so that the next try tells them apart.

    Examples
    --------
    >>> named([Known("p1", "Jo Sand"), Known("p2", "Jo Berg")])
    'Jo Sand or Jo Berg: type more of the name'
    >>> named([Known("p1", "Jo Sand"), Known("p2", "Jo Sand")])
    'Jo Sand (p1) or Jo Sand (p2): type the id'
    """
    names = [one.name for one in found]
    is_twice = len(set(names)) < len(names)
    said = [f"{one.name} ({one.person})" if is_twice else one.name for one in found[:_NAMED]]
    more = [f"one of {len(found) - _NAMED} more"] if len(found) > _NAMED else []
    *most, last = [*said, *more]
    return f"{', '.join(most)} or {last}: type {'the id' if is_twice else 'more of the name'}"
