"""One unit of work on the record: entries and private rows that are saved together."""

from __future__ import annotations

import json
import re
from typing import Any

from sqlalchemy import Connection, Row, bindparam, select

from blender.errors import InputError, KeyFileError, MovedError, RecordError
from blender.record import commitment, dialect, private
from blender.record.chain import SIZE, digest, genesis
from blender.record.driven import Query
from blender.record.entry import Entry, known_as
from blender.record.kept import once, wrote
from blender.record.keys import Signer, StationKeys
from blender.record.moment import Moment
from blender.record.projector import Projector
from blender.record.schema import ENTRY
from blender.record.signature import ALGORITHM, SEAL, SIG, signed_body

FOUNDED = "station.founded"
RESTORED = "station.restored"
MOVED = "station.moved"  # the last entry in the old place: nothing else follows it there
SETTLED = "station.settled"  # follows it in the new one
CLOCK_STEPPED = "clock.stepped"
CLOCK_STEP_US = 60_000_000  # what a clock that is set by others may be put back unsaid; own choice
WHOLE = tuple(ENTRY.c[name] for name in ("station", "seq", "prev", "digest", "body"))
_AT = Query(
    select(*WHOLE).where(ENTRY.c.station == bindparam("station"), ENTRY.c.seq == bindparam("seq")),
    ENTRY,
)
_KIND = re.compile(r"[a-z][a-z0-9.-]{0,47}")
_STEP = re.compile(r"[!-~]{1,80}")


class Unit:
    """What is being entered; `Record.write` gives one and saves it.

    Parameters
    ----------
    conn : Connection
        Holds the transaction, and the lock that makes its entries the next ones.
    station : str
        Whose chain.
    public_key : bytes
        The station's public key, 32 bytes.
    projector : Projector
        Brings the read models along.
    build : str
        Which program writes; empty where that shall not be said.
    """

    def __init__(
        self,
        conn: Connection,
        station: str,
        public_key: bytes,
        projector: Projector,
        build: str = "",
    ) -> None:
        self.conn = conn
        self.station = station
        self._public_key = public_key
        self._projector = projector
        self._build = build
        self._prev = b""  # what the next entry follows
        self._last: Entry | None = None  # its own last entry; nobody else writes meanwhile

    @property
    def last(self) -> Entry | None:
        """The last entry it entered, None if it has entered none."""
        return self._last

    def append(
        self,
        kind: str,
        data: dict[str, Any],
        *,
        at: Moment,
        by: Signer | None = None,
        meaning: str = "",
        seal: StationKeys | None = None,
        step: str | None = None,
    ) -> Entry:
        """Enter one entry, and bring the read models along.

        Parameters
        ----------
        kind : str
            What happened: small letters, digits, points and hyphens.
        data : dict
            The facts, of canonical types only.
        at : Moment
            Now.
        by : Signer
            Who signs it.
        meaning : str
            What their signature means.
        seal : StationKeys
            The station's keys, where it is sealed.
        step : str
            Idempotency key: if an entry has it already, that one is returned, marked
            `repeated`, and nothing is entered.

        Raises
        ------
        InputError
            If a part has no canonical form, or the step was another kind's.
        KeyFileError
            If the keys are another station's.
        StorageError
            If the record was moved to another place.
        """
        if not _KIND.fullmatch(kind) or (step is not None and not _STEP.fullmatch(step)):
            raise InputError("entry", ascii((kind, step)), "kind and step are short plain words")
        if step is not None and (found := self._of_step(kind, step)):
            return found
        last = self._last or last_entry(self.conn, self.station)
        if last is not None and kind not in (MOVED, SETTLED):
            check_stays(last)
        if last is not None and last.at.us - at.us > CLOCK_STEP_US:
            was = self._content(CLOCK_STEPPED, {"was_us": last.at.us}, at, None, last)
            last = self._enter(self._sealed(was, None, "", seal), None)
        content = self._content(kind, data, at, step, last)
        return self._enter(self._sealed(content, by, meaning, seal), step)

    def _enter(self, entry: Entry, step: str | None) -> Entry:
        """Store an entry, and bring the read models along."""
        own = (entry.station, entry.seq, entry.prev, entry.digest, entry.body, step)
        dialect.enter(self.conn, own)
        wrote(self.conn, ENTRY.name)
        self._last = entry
        self._projector.apply(self.conn, entry, self.get_private)
        return entry

    def _content(
        self, kind: str, data: dict[str, Any], at: Moment, step: str | None, last: Entry | None
    ) -> dict[str, Any]:
        """Put a body together, as the next entry of the chain."""
        incarnation = last.incarnation if last else 1
        if kind == RESTORED:  # later than the copy's and than that of the record it replaces
            incarnation = max(incarnation, data.get("replaced_incarnation", 0)) + 1
        content: dict[str, Any] = {
            "v": 1,
            "kind": kind,
            "station": self.station,
            "incarnation": incarnation,
            "seq": last.seq + 1 if last else 1,
            "at": {"us": at.us, "offset_min": at.offset_min},
            "data": data,
        }
        self._prev = last.digest if last else genesis(self.station, 1, self._public_key)
        if step is not None:
            content["step"] = step
        if self._build:
            content["build"] = self._build
        return content

    def _sealed(
        self,
        content: dict[str, Any],
        by: Signer | None,
        meaning: str,
        seal: StationKeys | None,
    ) -> Entry:
        """Sign and seal a body, and chain it to the entry before."""
        if by is not None:
            content[SIG] = {
                "alg": ALGORITHM,
                "person": by.person,
                "name": by.name,
                "role": by.role,
                "meaning": meaning,
                "key": by.key,
            }
        if seal is not None:
            if seal.public != self._public_key:
                raise KeyFileError("the key file is another station's; nothing was saved")
            content[SEAL] = {"alg": ALGORITHM, "key": seal.public.hex()}
        keys = {SIG: by.private_key} if by is not None else {}
        keys |= {SEAL: seal.seal_key} if seal is not None else {}
        body = signed_body(self._prev, content, keys)
        known_as(body, json.loads(body))  # it is canonical: it need not be looked at again
        return Entry(self.station, content["seq"], self._prev, digest(self._prev, body), body)

    def _of_step(self, kind: str, step: str) -> Entry | None:
        """Find the entry a step already made."""
        found = self.conn.execute(select(ENTRY).where(ENTRY.c.step == step)).first()
        if found is None:
            return None
        entry = entry_of(found, repeated=True)
        if entry.kind != kind:
            raise InputError("step", ascii(step), f"it was used for a {entry.kind} entry")
        return entry

    # -- private rows ------------------------------------------------------------------

    def get_private(self, row_id: str) -> dict[str, Any] | None:
        """Read a private row, None if there is none."""
        return private.get(self.conn, row_id)

    def put_private(
        self,
        row_id: str,
        person: str,
        what: str,
        content: dict[str, Any],
        *,
        replace: bool = False,
    ) -> None:
        """Store a private row; one of that id is only replaced if asked."""
        private.put(self.conn, row_id, person, what, content, replace=replace)

    def commit_private(self, row_id: str, person: str, what: str, content: dict[str, Any]) -> str:
        """Store a private row and return the commitment to it, 64 hex digits.

        It belongs in the data of an entry, beside ``person`` and ``private`` (the row's id).
        """
        self.put_private(row_id, person, what, content)
        return commitment.commit(self.person_key(person), content)

    def person_key(self, person: str) -> bytes:
        """Return the person's own key, drawn when first asked for."""
        row_id = commitment.key_row(person)
        kept = self.get_private(row_id)
        if kept is not None:
            return bytes.fromhex(kept["key"])
        key = commitment.new_key()
        self.put_private(row_id, person, commitment.KEY_WHAT, {"key": key.hex()})
        return key

    def erase_person(self, person: str) -> None:
        """Forget a person's private rows; enter a ``person.erased`` entry with it.

        Read models still hold what they took from those rows until that entry's
        projection, or a rebuild, takes it away.
        """
        private.erase_person(self.conn, person)


def entry_of(row: Row[Any], *, repeated: bool = False) -> Entry:
    """Make an entry of a row of the journal."""
    return Entry(row.station, row.seq, row.prev, row.digest, row.body, repeated)


def last_entry(conn: Connection, station: str) -> Entry | None:
    """Return the last entry of a station's chain."""

    def ask() -> Entry | None:
        row = dialect.last_of_chain(conn, station)
        return Entry(*row) if row else None

    return once(conn, ENTRY.name, ("last", station), ask)


def entry_at(conn: Connection, station: str, seq: int) -> Entry | None:
    """Return one entry of a station's chain, None if there is none of that place."""
    found = _AT.rows(conn, station=station, seq=seq)
    return Entry(*found[0]) if found else None


def check_stays(last: Entry) -> None:
    """Refuse to go on where a record was moved away from.

    Raises
    ------
    MovedError
        Where it goes on.
    """
    if last.kind == MOVED:
        raise MovedError(
            f"with entry {last.seq} this record was moved to {last.data.get('to')}: it goes on"
            " there, and here it can only be read; nothing was saved"
        )


def founding(conn: Connection) -> Entry:
    """Return the entry the one station of a file was founded with.

    Raises
    ------
    RecordError
        If there is none, or more than one.
    """
    first = conn.execute(select(ENTRY).order_by(ENTRY.c.station, ENTRY.c.seq).limit(1)).first()
    if first is not None and first.seq == 1:  # by the key's order: the journal may be long
        others = select(ENTRY.c.seq).where(ENTRY.c.station > first.station).limit(1)
        if conn.execute(others).first() is None:
            return entry_of(first)
    raise RecordError("the file does not hold exactly one station's record; run `verify`")


def founding_key(content: dict[str, Any]) -> bytes | None:
    """Read the station's public key from a founding entry's content, None if there is none."""
    try:
        public = bytes.fromhex(content["data"]["key"])
    except (KeyError, TypeError, ValueError):
        return None
    return public if len(public) == SIZE and content["kind"] == FOUNDED else None
