"""Who may act, and with which key, as the sealed entries of the journal say.

The table of people can be changed by whoever can write to the file; an entry that gives a
role cannot be made without the station's key file.  So authority is asked here.
"""

from __future__ import annotations

import hmac
import threading
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any

from sqlalchemy import Connection, and_, select, text

from blender.errors import RecordError
from blender.record import private
from blender.record.canonical import canonical, parse
from blender.record.chain import digest
from blender.record.entry import Entry
from blender.record.keys import StationKeys
from blender.record.schema import ENTRY
from blender.record.signature import SEAL, holds
from blender.record.unit import Unit, last_entry

FORMER = "former"
# Looked for in the bytes, for reading every body would take ten times as long.  A quotation
# mark within a text is spelled with a backslash, so that no text can look like it.
_MARK = b'"kind":"person.'
_QUERY = text(
    "SELECT seq, prev, digest, body FROM entry WHERE station = :whose AND seq > :after"
    " AND seq <= :last ORDER BY seq"
)
ROW, _WHAT = "roll", "roll"  # the private row that keeps how far it was read
_OFTEN = 5000  # entries after which that is kept again
_MOST_BYTES = 60_000


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
        self._seq = self._kept = 0
        self._digest = b""
        self._lock = threading.Lock()

    def catch_up(self, conn: Connection, station: str, keys: StationKeys) -> None:
        """Read the entries that came since.

        Parameters
        ----------
        conn : Connection
            Reads the journal.
        station : str
            Whose chain.
        keys : StationKeys
            The station's own, from its key file.

        Raises
        ------
        RecordError
            If an entry that gives a role or key does not bear the station's seal.
        """
        with self._lock:
            if not self._seq:
                self._begin(conn, station, keys)
            last = last_entry(conn, station)
            for row in self._since(conn, station, last):
                self._digest = row.digest
                if _MARK not in row.body:
                    continue
                content = parse(row.body)
                if _gives_authority(content):
                    _check(row, content, keys.public.hex())
                    self._take(content["kind"], content["data"])
            self._seq = last.seq if last else 0

    def _since(self, conn: Connection, station: str, last: Entry | None) -> Iterable[Any]:
        """Return the entries since it was read; mostly that is the last one, or none."""
        if last is None or last.seq == self._seq:
            return ()
        if last.seq == self._seq + 1:
            return (last,)
        return conn.execute(_QUERY, {"whose": station, "after": self._seq, "last": last.seq})

    def _begin(self, conn: Connection, station: str, keys: StationKeys) -> None:
        """Go on from where it was read before, if that is kept and fits this journal.

        An older one put back in its place is no harm: what came after it is read again.
        """
        try:
            kept = private.get(conn, ROW)
        except RecordError:
            return
        if kept is None or not hmac.compare_digest(str(kept.pop("mac", "")), _mac(kept, keys)):
            return
        place = and_(ENTRY.c.station == station, ENTRY.c.seq == kept["seq"])
        here = conn.execute(select(ENTRY.c.digest).where(place)).scalar()
        if here is not None and here.hex() == kept["digest"]:
            self._seq = self._kept = kept["seq"]
            self._digest = here
            for line in kept["staff"]:
                line["qualified"] = tuple(line["qualified"])
                self._staff[line["person"]] = Standing(**line)

    def keep(self, unit: Unit, keys: StationKeys) -> None:
        """Keep how far it was read now and then, so that opening a long record stays quick."""
        with self._lock:
            if self._seq - self._kept < _OFTEN:
                return
            staff = [
                asdict(one) | {"qualified": list(one.qualified)} for one in self._staff.values()
            ]
            kept: dict[str, Any] = {"seq": self._seq, "digest": self._digest.hex(), "staff": staff}
            if len(canonical(kept)) < _MOST_BYTES:
                kept["mac"] = _mac(kept, keys)
                unit.put_private(ROW, "", _WHAT, kept, replace=True)
            self._kept = self._seq

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


def _mac(kept: dict[str, Any], keys: StationKeys) -> str:
    return hmac.digest(keys.secret, b"fillwright roll 1\x00" + canonical(kept), "sha256").hex()


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
