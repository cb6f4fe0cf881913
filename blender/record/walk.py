"""Walking the chain from its first entry, naming what is wrong and where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from blender.errors import FillwrightError, RecordError
from blender.record.canonical import parse
from blender.record.chain import digest, genesis
from blender.record.keybook import KeyBook
from blender.record.moment import Moment
from blender.record.unit import RESTORED, founding_key


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with a record.

    Parameters
    ----------
    seq : int
        The entry it concerns, 0 where none.
    kind : str
        ``file``, ``schema``, ``genesis``, ``chain``, ``gap``, ``body``, ``signature``,
        ``seal``, ``private``, ``read-model``, ``anchor``, ``root`` or ``paper``.
    text : str
        For a person.
    """

    seq: int
    kind: str
    text: str

    def __str__(self) -> str:
        """Return it as one line for a person."""
        where = f"entry {self.seq}: " if self.seq else ""
        return f"{where}{self.kind}: {self.text}"


_PARTS = {"kind": str, "station": str, "incarnation": int, "seq": int, "at": dict, "data": dict}


class Stored(NamedTuple):
    """A row of the journal as the file has it, whatever that is."""

    station: Any
    seq: Any
    prev: Any
    digest: Any
    body: Any
    step: Any


def link_problem(row: Stored, before: bytes | None) -> Problem | None:
    """Check a row's own digest and its link to the one before.

    Parameters
    ----------
    row : Stored
        The row.
    before : bytes or None
        The digest stored before it, None where that row is missing.
    """
    if not (isinstance(row.prev, bytes) and isinstance(row.body, bytes)):
        return Problem(row.seq, "body", "the entry holds text where bytes belong")
    if before is not None and row.prev != before:
        return Problem(row.seq, "chain", "it does not follow the entry before it")
    if digest(row.prev, row.body) != row.digest:
        return Problem(row.seq, "chain", "its content is not what its digest was made of")
    return None


class Walk:
    """A walk along the one chain of a file; feed it every row in order of seq."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.station = ""
        self.incarnation = 0
        self.count = 0
        self.seq = 0
        self.head = b""
        self.sound = True  # every body so far can be read
        self.restores: list[tuple[int, int]] = []  # incarnations, and the entry each began with
        self.keys: KeyBook | None = None

    def take(self, row: Stored) -> dict[str, Any] | None:
        """Check the next row; return its content if it can be read."""
        self.count += 1
        if not self.station:
            self.station = str(row.station)
        if row.station != self.station or not isinstance(row.seq, int):
            self._say(self.seq + 1, "chain", f"an entry of another station: {row.station!a}")
            return None
        before: bytes | None = self.head
        if row.seq != self.seq + 1:
            last = f" to {row.seq - 1}" if row.seq - 1 > self.seq + 1 else ""
            self._say(self.seq + 1, "gap", f"the entry is missing{last}")
            before = None
        if row.seq == 1:
            before = None
        if problem := link_problem(row, before):
            self._note(problem)
        content = self._content(row)
        self.seq, self.head = row.seq, row.digest if isinstance(row.digest, bytes) else b""
        return content

    def _content(self, row: Stored) -> dict[str, Any] | None:
        """Read a body, and check it against its columns, its signers and its incarnation."""
        try:
            content = parse(row.body if isinstance(row.body, bytes) else b"")
            _check_shape(content)
        except FillwrightError as error:
            self._say(row.seq, "body", error.text)
            self.sound = False
            return None
        columns = (row.station, row.seq, row.step)
        if columns != (content["station"], content["seq"], content.get("step")):
            self._say(row.seq, "body", "its columns are not what its body says")
        if row.seq == 1:
            self._founding(row, content)
        self._check_incarnation(row.seq, content)
        if self.keys is not None and isinstance(row.prev, bytes):
            for flaw in self.keys.check(row.prev, content):
                self._say(row.seq, flaw.kind, flaw.text)
        return content

    def _founding(self, row: Stored, content: dict[str, Any]) -> None:
        """Check what the chain stands on."""
        self.incarnation = content["incarnation"]
        public = founding_key(content)
        if public is None:
            self._say(1, "genesis", "the first entry does not found a station")
            return
        self.keys = KeyBook(public.hex())
        if row.prev != genesis(content["station"], 1, public) or self.incarnation != 1:
            self._say(1, "genesis", "it does not stand on its station, incarnation and key")

    def _check_incarnation(self, seq: int, content: dict[str, Any]) -> None:
        """Only a restore starts a new incarnation, a later one."""
        before, now = self.incarnation, content["incarnation"]
        is_restore = content["kind"] == RESTORED
        if before and not (now > before if is_restore else now == before):
            wanted = f"later than {before}" if is_restore else before
            self._say(seq, "body", f"it is of incarnation {now}, not {wanted}")
        self.incarnation = now
        if is_restore:
            self.restores.append((now, seq))

    def _say(self, seq: int, kind: str, text: str) -> None:
        self._note(Problem(seq, kind, text))

    def _note(self, problem: Problem) -> None:
        self.problems.append(problem)


def _check_shape(content: dict[str, Any]) -> None:
    """Refuse a body without the parts every entry has.

    Raises
    ------
    RecordError
        If a part is missing, or its time is none.
    """
    if content.get("v") != 1:
        raise RecordError(f"the body has format {content.get('v')!a}, which is not known here")
    if tuple(type(content.get(name)) for name in _PARTS) != tuple(_PARTS.values()):
        raise RecordError("the body lacks a part every entry has")
    Moment(content["at"].get("us"), content["at"].get("offset_min"))
