"""Who was erased, by random id alone, kept beside copies of the record that may still hold them.

A copy that is restored knows nothing of an erasure that came after it.  The record it replaces
does, and so does this list, should that record be lost.  It is signed by the station: nobody else
can have a person erased by it.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterable
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from sqlalchemy import Connection

from blender.record import read
from blender.record.chain import erased_digest
from blender.record.files import create_private, sync_folder
from blender.record.keys import StationKeys
from blender.record.pledges import ERASED

TAIL = "-erased.json"
_LONGEST = 16 << 20


def erased_in(conn: Connection, station: str) -> list[str]:
    """Return the ids of everybody a record says was erased, in that order."""
    found = read.entries_of_kind(conn, station, ERASED)
    return list(dict.fromkeys(str(entry.data["person"]) for entry in found))


def path_in(folder: Path, station: str) -> Path:
    """Name the list of a station in a folder of copies."""
    return folder / f"{station}{TAIL}"


def keep_beside(folder: Path, station: str, ids: Iterable[str], keys: StationKeys) -> bool:
    """Add ids to the list in a folder of copies; False where the folder does not take it."""
    wanted = sorted({*ids, *known_beside(folder, station, keys.public)})
    place = path_in(folder, station)
    part = place.with_name(f".{place.name}.{os.getpid()}.part")
    body = json.dumps({"v": 1, "station": station, "erased": wanted}, separators=(",", ":"))
    signed = {"body": body, "by": keys.seal_key.sign(erased_digest(body.encode())).hex()}
    try:
        part.unlink(missing_ok=True)
        with os.fdopen(create_private(part), "w", encoding="utf-8") as file:
            file.write(json.dumps(signed) + "\n")
            file.flush()
            os.fsync(file.fileno())
        part.replace(place)
        sync_folder(folder)
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        return False
    return True


def known_beside(folder: Path, station: str, public_key: bytes) -> list[str]:
    """Read the list in a folder of copies; empty unless it is the station's own."""
    try:
        with path_in(folder, station).open("rb") as file:
            signed = json.loads(file.read(_LONGEST))
        body = signed["body"].encode()
        key = Ed25519PublicKey.from_public_bytes(public_key)
        key.verify(bytes.fromhex(signed["by"]), erased_digest(body))
        content = json.loads(body)
        ids = content["erased"] if content["station"] == station else []
        return [one for one in ids if isinstance(one, str)]
    except (
        OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError, InvalidSignature
    ):  # fmt: skip
        return []
