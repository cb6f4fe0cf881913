"""The locked keys of the staff against the keys that entries gave them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from blender.errors import FillwrightError
from blender.record.pledges import ERASED
from blender.record.projector import Private
from blender.record.walk import Problem

WHAT = "staff-key"
Filed = Callable[[str], tuple[str, str]]


def staff_key_row(person: str) -> str:
    """Name the private row that holds a member of staff's locked key."""
    return f"{WHAT}/{person}"


class StaffKeys:
    """Whose key is locked in whose row: a row put in another's place locks somebody out.

    Parameters
    ----------
    private : callable
        Gives the content of a private row of the file.
    filed : callable
        Gives whose that row is filed as, and as what.
    """

    def __init__(self, private: Private, filed: Filed) -> None:
        self._private = private
        self._filed = filed
        self._given: dict[str, tuple[int, str]] = {}  # by person: the entry, and the key it gave
        self._kept: set[str] = set()  # whose private rows the station keeps

    def take(self, seq: int, content: dict[str, Any]) -> None:
        """Note a key that an entry gives a person, and whom one erases."""
        data, kind = content["data"], content["kind"]
        person = str(data.get("person"))
        if kind == ERASED:
            self._given.pop(person, None)
        elif kind.startswith("person.") and data.get("key"):
            self._given[person] = (seq, str(data["key"]))
            if "private" in data:
                self._kept.add(person)

    def problems(self) -> Iterator[Problem]:
        """Name each member of staff whose locked key is not theirs."""
        for person, (seq, key) in self._given.items():
            if text := self._flaw(person, key):
                yield Problem(seq, "private", text)

    def _flaw(self, person: str, key: str) -> str:
        row_id, whose = staff_key_row(person), f"the locked key of {self._called(person)}"
        try:
            found = self._private(row_id)
        except FillwrightError:
            return f"{whose} is damaged"
        if found is None:
            return f"{whose} is gone: nobody can sign in so" if person in self._kept else ""
        if self._filed(row_id) != (person, WHAT):
            return f"{whose} is filed as {' '.join(self._filed(row_id))!a}"
        if found.get("public") == key:
            return ""
        return f"{whose} was swapped: it holds {self._owner(found.get('public'))}"

    def _owner(self, public: Any) -> str:
        for person, (_, key) in self._given.items():
            if key == public:
                return f"the key of {self._called(person)}"
        return "a key that no entry gave to anybody"

    def _called(self, person: str) -> str:
        """Return a person's name and id; the id alone where the name was erased."""
        try:
            name = (self._private(f"person/{person}") or {}).get("name")
        except FillwrightError:
            name = None
        return f"{name} ({person})" if isinstance(name, str) else person
