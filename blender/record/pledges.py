"""Commitments in the journal against the private rows they were made to."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from blender.errors import FillwrightError
from blender.record.commitment import fits, key_row
from blender.record.projector import Private
from blender.record.walk import Problem

ERASED = "person.erased"
WHAT = frozenset({"key", "person", "acceptance", "contact", "staff-key", "undertaking"})
Filed = Callable[[str], tuple[str, str]]


class Pledges:
    """What entries commit to, and who was erased since.

    Parameters
    ----------
    private : callable
        Gives the content of a private row of the file.
    filed : callable
        Gives whose that row is filed as, and as what: erasing goes by it.
    """

    def __init__(self, private: Private, filed: Filed) -> None:
        self._private = private
        self._filed = filed
        self._gone: list[tuple[int, str, str]] = []
        self._erased: set[str] = set()
        self._erased_rows: set[str] = set()  # filed under somebody else, but theirs

    def take(self, seq: int, content: dict[str, Any]) -> Iterator[Problem]:
        """Check what an entry commits to; note whom it erases."""
        data = content["data"]
        if content["kind"] == ERASED:
            self._erased.add(str(data.get("person")))
            also = data.get("also")
            self._erased_rows.update(map(str, also if isinstance(also, list) else ()))
        if "commitment" in data and (text := self._flaw(seq, data)):
            yield Problem(seq, "private", text)

    def problems(self) -> Iterator[Problem]:
        """Name each entry whose private row is gone without a word."""
        for seq, person, row_id in self._gone:
            if person not in self._erased and row_id not in self._erased_rows:
                text = "the private row is gone, but no entry erased the person"
                yield Problem(seq, "private", text)

    def _flaw(self, seq: int, data: dict[str, Any]) -> str:
        person = str(data.get("person"))
        try:
            content = self._private(str(data.get("private")))
            if content is None:
                self._gone.append((seq, person, str(data.get("private"))))
                return ""
            key = self._private(key_row(person))
            if key is None:
                return "the key of the commitment is gone, but the private row is not"
            return self._misfit(data, person, content, key["key"])
        except (FillwrightError, AttributeError, KeyError, TypeError, ValueError):
            return "the private row, its key or the commitment is damaged"

    def _misfit(self, data: dict[str, Any], person: str, content: dict[str, Any], key: str) -> str:
        own = bytes.fromhex(key)
        if own.hex() != key:  # capital letters would read the same
            return "the key of the commitment is not as it was written"
        if not self._well_filed(str(data["private"]), person):
            return "the private row is not filed under its person"
        if not fits(own, content, data["commitment"]):
            return "the private row is not what the entry committed to"
        return ""

    def _well_filed(self, row_id: str, person: str) -> bool:
        filed = [self._filed(row_id), self._filed(key_row(person))]
        return all(owner == person and what in WHAT for owner, what in filed)
