"""What a gauge reading takes from the supplies, and what a corrected one gives back.

A supply that never runs out has nothing to take; one whose own gauge was read since a reading
was first entered is known better by that, and is left as it is.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, bindparam, select

from blender.record.driven import Query
from blender.record.models import SupplyRow
from blender.record.projection import change, table

Taken = tuple[str, int, int]


_supply = table(SupplyRow)
_LEFT = Query(
    select(_supply.c.content_umol).where(
        _supply.c.name == bindparam("called"), _supply.c.size_ml > 0
    ),
    _supply,
)


def taken(conn: Connection, seq: int, data: Mapping[str, Any], since_us: int = -1) -> list[Taken]:
    """Take what a reading drew, and return for each supply what was drawn and what it had [umol].

    Parameters
    ----------
    conn : Connection
        The transaction.
    seq : int
        The reading's entry.
    data : mapping
        Its facts: ``supply`` and ``drawn_umol``, and further supplies under ``also``.
    since_us : int
        When the reading was first entered, if this one corrects it [us UTC].
    """
    draws = [(data["supply"], data["drawn_umol"]), *data.get("also", ())]
    return [
        (name, umol, 0 if _read_since(conn, name, since_us) else _move(conn, seq, name, umol))
        for name, umol in draws
    ]


def give_back(conn: Connection, seq: int, reading: Any, since_us: int) -> None:
    """Give back what a mistaken reading took.

    Parameters
    ----------
    conn : Connection
        The transaction.
    seq : int
        The entry that corrects it.
    reading : row
        The mistaken reading.
    since_us : int
        When it was first entered [us UTC].
    """
    first = (reading.supply, reading.drawn_umol, reading.taken_umol)
    for name, _, umol in (first, *json.loads(reading.also)):
        if not _read_since(conn, name, since_us):
            _move(conn, seq, name, -umol)


def _move(conn: Connection, seq: int, supply: str, amount_umol: int) -> int:
    """Take an amount from a supply that can run out (give it back if negative).

    Returns what it was known to have of it [umol].
    """
    left = _LEFT.value(conn, called=supply)
    if left is None or amount_umol == 0:
        return 0
    moved = min(amount_umol, int(left))
    change(conn, _supply.c.name, supply, {"content_umol": left - moved, "seq": seq})
    return moved


def _read_since(conn: Connection, supply: str, at_us: int) -> bool:
    """Tell whether a supply's own gauge was read since; at -1 that is not asked."""
    if at_us < 0:
        return False
    query = select(_supply.c.read_us).where(_supply.c.name == supply)
    return (conn.execute(query).scalar() or 0) > at_us
