"""A record against every root of the shop it has witnessed: in its entries, and in a file beside.

The file is why a record put back to before a root is found: it holds what the office signed of
this very record, and the station signed that it was told so.  Deleting it hides no more than
losing the checkpoint does: any other station has the same heads in its own record.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from blender.errors import FillwrightError
from blender.record import read
from blender.record.anchor import Anchor
from blender.record.canonical import canonical, parse
from blender.record.chain import checkpoint_digest
from blender.record.files import create_private
from blender.record.keys import StationKeys
from blender.record.shop_root import WITNESSED, signed_by, witnessed
from blender.record.unit import RESTORED, entry_at
from blender.record.walk import Problem, Walk

TAIL = ".roots"
_KEPT = 400  # the newest; the file is read whole
_LONGEST = 1 << 20
DigestAt = Callable[[int], bytes | None]


class Witness:
    """Holds a record against the roots its own entries witness, while it is walked."""

    def __init__(self, digest_at: DigestAt) -> None:
        self._digest_at = digest_at

    def take(self, seq: int, content: dict[str, Any], walk: Walk) -> Iterator[Problem]:
        """Check an entry that witnesses a root, and that the entry it is about is as it was."""
        if content["kind"] != WITNESSED:
            return
        try:
            _, own = witnessed(walk.station, content["data"])
        except ValueError as error:
            yield Problem(seq, "root", str(error))
            return
        found = self._digest_at(own.seq) if own.seq < seq else None
        if text := flaw(own, found, walk.restores):
            yield Problem(own.seq, "root", text)


def flaw(own: Anchor, found: bytes | None, restores: list[tuple[int, int]]) -> str:
    """Say what is wrong with the entry a root speaks of, empty where it is as it was."""
    if any(life > own.incarnation and seq <= own.seq for life, seq in restores):
        return ""  # lost with a restore, which is an entry for ever
    if found is None:
        return "it was there when the shop's root was made: cut short, or an older copy put back"
    if found != own.head:
        return "it is not the entry the shop's root was made of: the record was rewritten"
    return ""


def path_of(record: Path) -> Path:
    """Name the file beside a record that keeps what roots said of it."""
    return record.with_name(record.name + TAIL)


def keep(record: Path, own: Anchor, keys: StationKeys) -> None:
    """Add what a root said of this record; where the disk does not take it, entries still do."""
    place = path_of(record)
    content = {"v": 1, "what": "root", "station": own.station, "incarnation": own.incarnation,
               "seq": own.seq, "head": own.head.hex()}  # fmt: skip
    part = place.with_name(f".{place.name}.{os.getpid()}.part")
    with contextlib.suppress(OSError, FillwrightError):
        body = canonical(content)
        value = keys.seal_key.sign(checkpoint_digest(body)).hex()
        lines = [*_lines(place), json.dumps({"body": body.decode(), "by": value})][-_KEPT:]
        part.unlink(missing_ok=True)
        with os.fdopen(create_private(part), "w", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
        part.replace(place)


def kept(record: Path, public_key: bytes) -> list[Anchor]:
    """Read what roots said of a record, leaving out what the station did not sign."""
    return [one for line in _lines(path_of(record)) if (one := _own(line, public_key.hex()))]


def _lines(place: Path) -> list[str]:
    try:
        with place.open("rb") as file:
            return file.read(_LONGEST).decode("utf-8", "replace").split("\n")[:-1]
    except OSError:
        return []


def _own(line: str, key: str) -> Anchor | None:
    try:
        signed = json.loads(line)
        body = signed["body"].encode()
        if not signed_by(key, signed["by"], checkpoint_digest(body)):
            return None
        said = parse(body)
        if said.get("what") != "root":
            return None
        return Anchor(
            said["station"], said["incarnation"], said["seq"], bytes.fromhex(said["head"])
        )
    except (FillwrightError, AttributeError, KeyError, RecursionError, TypeError, ValueError):
        return None


def held_against_roots(conn: Connection, station: str, known: list[Anchor]) -> list[Problem]:
    """Hold a record against what the file beside it keeps of roots."""
    flawed = [one for one in known if one.station == station and _is_flawed(conn, one, [])]
    if not flawed:
        return []
    restores = restores_of(conn, station)
    return [
        Problem(one.seq, "root", flaw(one, _digest(conn, one), restores))
        for one in flawed
        if _is_flawed(conn, one, restores)
    ]


def _is_flawed(conn: Connection, own: Anchor, restores: list[tuple[int, int]]) -> bool:
    return bool(flaw(own, _digest(conn, own), restores))


def _digest(conn: Connection, own: Anchor) -> bytes | None:
    found = entry_at(conn, own.station, own.seq)
    return found.digest if found else None


def restores_of(conn: Connection, station: str) -> list[tuple[int, int]]:
    """Return each incarnation that a restore began, and its entry."""
    found = read.entries_of_kind(conn, station, RESTORED)
    return [(entry.incarnation, entry.seq) for entry in found]
