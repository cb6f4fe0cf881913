"""How far a record was verified, kept beside it under the station's signature.

A start has to verify only what came after.  Whoever alters the record gains nothing by it:
without the station's key, which is not in the database, no other checkpoint can be made, and
with the file deleted the record is verified from its first entry.  One that is ahead of its
record shows that the record was cut short or put back.
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from blender.errors import FillwrightError
from blender.record.canonical import canonical, parse
from blender.record.chain import checkpoint_digest
from blender.record.files import create_private
from blender.record.keybook import KeyBook
from blender.record.keys import StationKeys
from blender.record.walk import Walk

CHECKPOINT_TAIL = ".checkpoint"
_LONGEST = 60_000
_TYPES = {"v": int, "station": str, "incarnation": int, "seq": int, "head": str, "staff": dict}


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """An entry up to which everything was verified.

    Parameters
    ----------
    station : str
        Whose record.
    incarnation, seq : int
        Which life of it, and the last entry verified.
    head : bytes
        That entry's digest, 32 bytes.
    staff : dict
        The keys and roles known by then, for the signatures that follow.
    """

    station: str
    incarnation: int
    seq: int
    head: bytes
    staff: dict[str, dict[str, Any]]

    @classmethod
    def of(cls, walk: Walk) -> Checkpoint | None:
        """Return where a walk has come to, None where it found a problem or nothing."""
        if walk.problems or walk.keys is None or not walk.seq:
            return None
        return cls(walk.station, walk.incarnation, walk.seq, walk.head, walk.keys.staff)

    def walk(self, station_key: str) -> Walk:
        """Return a walk that goes on after it."""
        walk = Walk()
        walk.station, walk.incarnation = self.station, self.incarnation
        walk.seq, walk.head = self.seq, self.head
        walk.keys = KeyBook(station_key, self.staff)
        return walk


def path_of(record: Path) -> Path:
    """Name the file a record's checkpoint is kept in."""
    return record.with_name(record.name + CHECKPOINT_TAIL)


def keep(record: Path, checkpoint: Checkpoint, keys: StationKeys) -> None:
    """Keep a checkpoint; where the disk does not take it, the next start verifies more."""
    content = {
        "v": 1,
        "station": checkpoint.station,
        "incarnation": checkpoint.incarnation,
        "seq": checkpoint.seq,
        "head": checkpoint.head.hex(),
        "staff": checkpoint.staff,
    }
    place = path_of(record)
    part = place.with_name(f".{place.name}.{os.getpid()}.part")
    with contextlib.suppress(OSError, FillwrightError):
        body = canonical(content)
        signed = {"body": body.decode(), "by": keys.seal_key.sign(checkpoint_digest(body)).hex()}
        part.unlink(missing_ok=True)
        with os.fdopen(create_private(part), "w", encoding="utf-8") as file:
            file.write(json.dumps(signed) + "\n")
        part.replace(place)


def load(record: Path, public_key: bytes) -> Checkpoint | None:
    """Read a record's checkpoint, None unless it is the station's own."""
    try:
        with path_of(record).open("rb") as file:
            signed = json.loads(file.read(2 * _LONGEST))
        body = signed["body"].encode()
        key = Ed25519PublicKey.from_public_bytes(public_key)
        key.verify(bytes.fromhex(signed["by"]), checkpoint_digest(body))
        content = parse(body)
        if {name: type(value) for name, value in content.items()} != _TYPES:
            return None
        head = bytes.fromhex(content["head"])
    except (OSError, ValueError, KeyError, TypeError, InvalidSignature, FillwrightError):
        return None
    return Checkpoint(
        content["station"], content["incarnation"], content["seq"], head, content["staff"]
    )
