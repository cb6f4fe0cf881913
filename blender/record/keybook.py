"""Which key may sign, as the entries before say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from blender.record.signature import SEAL, SIG, holds
from blender.record.unit import FOUNDED


@dataclass(frozen=True, slots=True)
class Flaw:
    """What is wrong with an entry's signature or seal."""

    kind: str
    text: str


class KeyBook:
    """The keys known so far while a record is walked from its first entry.

    Parameters
    ----------
    station_key : str
        The station's public key, in hex, from the founding entry.
    staff : dict
        What is known already of those who may sign: their keys and roles.
    """

    def __init__(self, station_key: str, staff: dict[str, dict[str, Any]] | None = None) -> None:
        self._station_key = station_key
        self._people: dict[str, dict[str, Any]] = dict(staff or {})

    @property
    def station_key(self) -> str:
        """The station's public key, in hex."""
        return self._station_key

    @property
    def staff(self) -> dict[str, dict[str, Any]]:
        """Everybody who has a key, or a role that may come to one."""
        return {
            person: known
            for person, known in self._people.items()
            if known.get("key") or known.get("role") != "customer"
        }

    def check(self, prev: bytes, content: dict[str, Any]) -> list[Flaw]:
        """Check an entry's signature and seal; take note of a key it registers."""
        flaws = []
        if SEAL in content and (text := self._seal_flaw(prev, content)):
            flaws.append(Flaw("seal", text))
        if content["kind"] == FOUNDED and SEAL not in content:
            flaws.append(Flaw("seal", "the founding entry bears no seal"))
        sealed = SEAL in content and not flaws
        if sealed:  # the station vouches for a person who signs with the key this registers
            self._register(content)
        if SIG in content and (text := self._sig_flaw(prev, content)):
            flaws.append(Flaw("signature", text))
        if not sealed and not flaws and _registers(content):
            if SIG in content:
                self._register(content)
            else:
                text = "it registers a key or role, but nobody signed or sealed it"
                flaws.append(Flaw("signature", text))
        return flaws

    def _register(self, content: dict[str, Any]) -> None:
        """Take note of the key or role an entry gives a person."""
        if _registers(content):
            data = content["data"]
            known = self._people.get(str(data["person"]), {})
            given = {name: data[name] for name in ("key", "role") if data.get(name)}
            if data.get("once"):  # a secret a manager gave signs nothing
                given["key"] = ""
            self._people[str(data["person"])] = {**known, **given}

    def _sig_flaw(self, prev: bytes, content: dict[str, Any]) -> str:
        sig = content[SIG]
        if not isinstance(sig, dict):
            return "the signature is not readable"
        known = self._people.get(str(sig.get("person")))
        if known is None:
            return "it is signed by a person no earlier entry gives a key"
        if sig.get("key") != known.get("key"):
            return "it is signed with a key that is not the person's"
        if sig.get("role") != known.get("role"):
            return "it is signed in a role the person does not have"
        return "" if holds(prev, content, SIG) else "the signature does not fit the entry"

    def _seal_flaw(self, prev: bytes, content: dict[str, Any]) -> str:
        seal = content[SEAL]
        if not isinstance(seal, dict) or seal.get("key") != self._station_key:
            return "it is sealed with a key that is not the station's"
        return "" if holds(prev, content, SEAL) else "the seal does not fit the entry"


def _registers(content: dict[str, Any]) -> bool:
    """Tell whether an entry gives a person a key, or a new role to use it in."""
    data = content["data"]
    person = content["kind"].startswith("person.") and "person" in data
    return person and bool(data.get("key") or data.get("role"))
