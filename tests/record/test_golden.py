"""Bodies are for ever: format 1 as it was first written, checked by other means too."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from blender.record.snapshot import look
from blender.record.verify import stored
from blender.record.walk import Stored, Walk

GOLDEN = Path(__file__).with_name("golden_1.json")


def written(book: Any) -> list[Any]:
    book.note("Å 31,5 °C\n<b>'\"\\", by=book.mira, meaning="authored", seal=book.keys, step="k/1")
    with look(book.path) as engine, engine.connect() as conn:
        return list(stored(conn))


def golden() -> list[Stored]:
    """Read the rows kept from when format 1 was new; never write this file again."""
    rows = json.loads(GOLDEN.read_text(encoding="utf-8"))
    return [
        Stored(
            row["station"],
            row["seq"],
            bytes.fromhex(row["prev"]),
            bytes.fromhex(row["digest"]),
            row["body"].encode(),
            row["step"],
        )
        for row in rows
    ]


def test_format_1_verifies_for_ever() -> None:
    walk = Walk()
    for row in golden():
        assert walk.take(row) is not None
    assert (walk.problems, walk.count, walk.incarnation) == ([], 4, 1)


def test_format_1_is_still_written_bit_for_bit(book: Any) -> None:
    assert written(book) == golden()


def test_a_reader_of_its_own_needs_only_the_published_rules(book: Any) -> None:
    """Hashes, signatures and seals by hand: SHA-256 and Ed25519, none of our code."""
    rows = written(book)
    first = json.loads(rows[0].body)
    key = bytes.fromhex(first["data"]["key"])
    name = b"QUAY-2"
    start = b"fillwright genesis 1\0" + len(name).to_bytes(4, "big") + name + (1).to_bytes(8, "big")
    prev = hashlib.sha256(start + key).digest()
    signed = 0
    for row in rows:
        assert row.prev == prev
        prev = hashlib.sha256(b"fillwright entry 1\0" + prev + row.body).digest()
        assert row.digest == prev
        content = json.loads(row.body)
        values = {part: content[part].pop("value") for part in ("sig", "seal") if part in content}
        bare = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        for part, tag in (("sig", b"signature"), ("seal", b"seal")):
            if part in values:
                start = b"fillwright " + tag + b" 1\0"
                message = hashlib.sha256(start + row.prev + bare.encode()).digest()
                public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(content[part]["key"]))
                public.verify(bytes.fromhex(values[part]), message)
                signed += 1
    assert signed == 7
