"""Who may act, and with which key, as the sealed entries of the journal say.

The table of people can be changed by whoever can write to the file; an entry that gives a
role cannot be made without the station's key file.  So authority is asked here.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection

from blender.errors import RecordError
from blender.record.canonical import parse
from blender.record.chain import digest
from blender.record.signature import SEAL, holds

FORMER = "former"
_QUERY = (
    "SELECT seq, prev, digest, body FROM entry WHERE station = ? AND seq > ? AND seq <= ?"
    ' AND instr(body, CAST(\'"kind":"person.\' AS BLOB)) > 0 ORDER BY seq'
)


@dataclass(frozen=True, slots=True)
class Standing:
    """How a member of staff stands.

    Parameters
    ----------
    person : str
        Id in the record; never given twice.
    role : str
        ``blender``, ``manager``, ``auditor`` or ``former``.
    key : str
        Their public key, in hex.
    qualified : tuple of str
        Methods they are qualified for, as entered.
    one_time : bool
        Whether their secret was given by a manager and has yet to be replaced.
    private, commitment : str
        The private row that holds their name, and the commitment to it.
    """

    person: str
    role: str
    key: str
    qualified: tuple[str, ...]
    one_time: bool
    private: str
    commitment: str


class Roll:
    """The staff as the journal has them, kept up to its last entry.

    Only the entries about people are read; each must bear the station's seal.
    """

    def __init__(self) -> None:
        self._staff: dict[str, Standing] = {}
        self._seq = 0
        self._lock = threading.Lock()

    def catch_up(self, conn: Connection, station: str, station_key: bytes) -> None:
        """Read the entries that came since.

        Parameters
        ----------
        conn : Connection
            Reads the journal.
        station : str
            Whose chain.
        station_key : bytes
            The public key of the station's own key file.

        Raises
        ------
        RecordError
            If an entry that gives a role or key does not bear the station's seal.
        """
        with self._lock:
            query = "SELECT max(seq) FROM entry WHERE station = ?"
            last = conn.exec_driver_sql(query, (station,)).scalar() or 0
            for row in conn.exec_driver_sql(_QUERY, (station, self._seq, last)):
                content = parse(row.body)
                if _gives_authority(content):
                    _check(row, content, station_key.hex())
                    self._take(content["kind"], content["data"])
            self._seq = last

    def of(self, person: str) -> Standing | None:
        """Return how a person stands, None if they never were staff."""
        return self._staff.get(person)

    def of_role(self, role: str) -> list[Standing]:
        """Return everybody of a role."""
        return [one for one in self._staff.values() if one.role == role]

    def _take(self, kind: str, data: dict[str, Any]) -> None:
        person = str(data["person"])
        if kind == "person.added":
            methods = tuple(data["qualified"])
            named = (data["private"], data["commitment"])
            self._staff[person] = Standing(
                person, data["role"], data["key"], methods, False, *named
            )
        elif (known := self._staff.get(person)) is not None:
            given = {name: data[name] for name in ("role", "key") if data.get(name)}
            if "qualified" in data:
                given["qualified"] = tuple(data["qualified"])
            if "key" in given:
                given["one_time"] = bool(data.get("once"))
            self._staff[person] = replace(known, **given)


def _gives_authority(content: dict[str, Any]) -> bool:
    """Tell whether an entry gives or takes a member of staff's role, key or qualification."""
    data = content["data"]
    if not content["kind"].startswith("person.") or data.get("role") == "customer":
        return False
    return "person" in data and any(name in data for name in ("role", "key", "qualified"))


def _check(row: Any, content: dict[str, Any], station_key: str) -> None:
    seal = content.get(SEAL)
    is_ours = isinstance(seal, dict) and seal.get("key") == station_key
    if is_ours and digest(row.prev, row.body) == row.digest and holds(row.prev, content, SEAL):
        return
    told = f"entry {row.seq} gives somebody a role or key without the station's seal; run `verify`"
    raise RecordError(told, code="authority")
