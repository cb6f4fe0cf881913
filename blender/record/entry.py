"""One entry of the journal, as stored."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from blender.record.anchor import Anchor
from blender.record.canonical import parse
from blender.record.moment import Moment

# A fill's entries are asked for by several gates, act after act; what bytes say never changes.
_known: dict[bytes, dict[str, Any]] = {}
_MOST_KNOWN = 500


def known_as(body: bytes, content: dict[str, Any]) -> None:
    """Keep what a canonical body says, for every entry of these bytes."""
    if len(_known) >= _MOST_KNOWN:
        _known.clear()
    _known[body] = content


@dataclass(frozen=True)
class Entry:
    """An entry: its place in the chain and the very bytes that were hashed and signed.

    Parameters
    ----------
    station : str
        Whose chain.
    seq : int
        Place in it, from 1.
    prev, digest : bytes
        The digest before, and its own.
    body : bytes
        Canonical JSON.
    repeated : bool
        True where an append found its step already stored and entered nothing.
    """

    station: str
    seq: int
    prev: bytes
    digest: bytes
    body: bytes
    repeated: bool = False

    @cached_property
    def content(self) -> dict[str, Any]:
        """The whole body, read; shared with every entry of these bytes, so nobody changes it.

        Raises
        ------
        RecordError
            If the bytes are not a canonical body.
        """
        found = _known.get(self.body)
        if found is None:
            known_as(self.body, found := parse(self.body))
        return found

    @property
    def kind(self) -> str:
        """What happened, for example ``fill.requested``."""
        return str(self.content["kind"])

    @property
    def data(self) -> dict[str, Any]:
        """The facts of it."""
        data: dict[str, Any] = self.content["data"]
        return data

    @property
    def incarnation(self) -> int:
        """Which life of the record it was entered in."""
        return int(self.content["incarnation"])

    @property
    def at(self) -> Moment:
        """When it was entered, by the station's clock."""
        return Moment(self.content["at"]["us"], self.content["at"]["offset_min"])

    @property
    def step(self) -> str | None:
        """The idempotency key it was entered under."""
        return self.content.get("step")

    @property
    def build(self) -> str:
        """Which program wrote it, empty where the entry is older than that was said."""
        return str(self.content.get("build", ""))

    @property
    def sig(self) -> dict[str, Any] | None:
        """The person's signature."""
        return self.content.get("sig")

    @property
    def person(self) -> str:
        """Id of the person who signed it, empty where nobody did."""
        return str(self.sig["person"]) if self.sig else ""

    @property
    def seal(self) -> dict[str, Any] | None:
        """The station's seal."""
        return self.content.get("seal")

    @property
    def anchor(self) -> Anchor:
        """What a paper about this entry carries."""
        return Anchor(self.station, self.incarnation, self.seq, self.digest)
