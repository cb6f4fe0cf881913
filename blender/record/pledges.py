"""Commitments in the journal against the private rows they were made to."""

from __future__ import annotations

from typing import Any

from blender.errors import FillwrightError
from blender.record.commitment import fits, key_row
from blender.record.projector import Private
from blender.record.walk import Problem

ERASED = "person.erased"


class Pledges:
    """What entries commit to, and who was erased since; checked once all are known.

    Parameters
    ----------
    private : callable
        Gives the content of a private row of the file.
    """

    def __init__(self, private: Private) -> None:
        self._private = private
        self._made: list[tuple[int, str, str, str]] = []
        self._erased: set[str] = set()

    def take(self, seq: int, content: dict[str, Any]) -> None:
        """Note what an entry commits to, or whom it erases."""
        data = content["data"]
        if content["kind"] == ERASED:
            self._erased.add(str(data.get("person")))
        if "commitment" in data:
            found = (data.get("person"), data.get("private"), data["commitment"])
            person, row_id, commitment = (str(part) for part in found)
            self._made.append((seq, person, row_id, commitment))

    def problems(self) -> list[Problem]:
        """Name each entry whose private row is gone without a word, or altered."""
        said = ((seq, self._flaw(*made)) for seq, *made in self._made)
        return [Problem(seq, "private", text) for seq, text in said if text]

    def _flaw(self, person: str, row_id: str, commitment: str) -> str:
        try:
            content, key = self._private(row_id), self._private(key_row(person))
            if content is None:
                gone = "the private row is gone, but no entry erased the person"
                return "" if person in self._erased else gone
            if key is None:
                return "the key of the commitment is gone, but the private row is not"
            if fits(bytes.fromhex(key["key"]), content, commitment):
                return ""
        except (FillwrightError, KeyError, TypeError, ValueError):
            return "the private row or its key is damaged"
        return "the private row is not what the entry committed to"
