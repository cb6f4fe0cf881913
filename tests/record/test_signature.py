from __future__ import annotations

import copy
import itertools
import random
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from blender.record.keybook import KeyBook
from blender.record.moment import Moment
from blender.record.signature import SEAL, SIG, holds, signed_body
from blender.record.snapshot import look
from blender.record.verify import stored
from blender.record.walk import Stored, Walk


def content_of(row: Stored) -> dict[str, Any]:
    walk = Walk()
    content = walk.take(row)
    assert content is not None
    return content


@pytest.fixture(name="signed")
def _signed(book: Any) -> list[tuple[bytes, dict[str, Any]]]:
    """All signed entries of a record in which the same things were signed more than once."""
    with book.record.write() as unit:
        for number, meaning in itertools.product(range(9), ("authored", "analysed", "witnessed")):
            by = (book.mira, book.ola)[number % 2]
            data = {"text": "the same words"}
            at = unit_time(number // 3)
            unit.append("note", data, at=at, by=by, meaning=meaning, seal=book.keys)
    with look(book.path) as engine, engine.connect() as conn:
        rows = list(stored(conn))
    found = [(row.prev, content_of(row)) for row in rows]
    return [(prev, content) for prev, content in found if SIG in content]


def unit_time(number: int) -> Any:
    return Moment(1_764_000_000_000_000 + number, 0)


def test_every_signature_holds_where_it_was_made(signed: list[tuple[bytes, Any]]) -> None:
    """Control: the check does not refuse everything."""
    assert len(signed) == 29
    assert all(holds(prev, content, SIG) and holds(prev, content, SEAL) for prev, content in signed)


@pytest.mark.parametrize("part", [SIG, SEAL])
def test_no_signature_holds_anywhere_else(signed: list[tuple[bytes, Any]], part: str) -> None:
    """Transplants of values alone and of whole signatures, between all pairs of entries."""
    tried = 0
    for (_, donor), (prev, target) in itertools.permutations(signed, 2):
        value = {**target, part: {**target[part], "value": donor[part]["value"]}}
        whole = {**target, part: donor[part]}
        assert not holds(prev, value, part)
        assert not holds(prev, whole, part)
        tried += 2
    assert tried == 2 * 29 * 28


def test_a_signature_and_a_seal_are_not_each_other(book: Any) -> None:
    """Even where one key made both."""
    key = book.keys.seal_key
    content: dict[str, Any] = {SIG: {"alg": "ed25519", "key": book.keys.public.hex()}}
    content[SEAL] = dict(content[SIG])
    signed_body(bytes(32), content, {SIG: key})
    content[SEAL]["value"] = content[SIG]["value"]
    assert holds(bytes(32), content, SIG)
    assert not holds(bytes(32), content, SEAL)


def test_whatever_the_signer_saw_is_covered(signed: list[tuple[bytes, Any]]) -> None:
    prev, content = signed[-1]
    places = (
        [((), name) for name in content if name not in (SIG, SEAL)]
        + [((SIG,), name) for name in content[SIG]]
        + [(("at",), name) for name in content["at"]]
    )
    for path, name in places:
        changed = copy.deepcopy(content)
        inner = changed
        for step in path:
            inner = inner[step]
        inner[name] = {"x": 1} if isinstance(inner[name], dict) else "00" * 32
        assert not holds(prev, changed, SIG), name
    assert not holds(bytes(32), content, SIG)
    added = {**content, "more": 1}
    assert not holds(prev, added, SIG)


@pytest.mark.parametrize(
    "broken",
    [None, 7, [], {}, {"alg": "none"}, {"alg": "ed25519", "key": "00", "value": ""},
     {"alg": "ed25519", "key": "zz" * 32, "value": "zz" * 64},
     {"alg": "ed25519", "key": 7, "value": 7},
     {"alg": "ed25519", "key": "00" * 32, "value": "00" * 64}],
    ids=range(9),
)  # fmt: skip
def test_a_broken_signature_is_no_signature(signed: list[tuple[bytes, Any]], broken: Any) -> None:
    prev, content = signed[0]
    assert not holds(prev, {**content, SIG: broken}, SIG)


def test_only_the_persons_own_key_in_their_own_role_counts(
    book: Any, signed: list[tuple[bytes, Any]]
) -> None:
    keys = KeyBook(book.keys.public.hex())
    with look(book.path) as engine, engine.connect() as conn:
        for row in stored(conn):
            assert keys.check(row.prev, content_of(row)) == []
    prev, content = signed[-1]
    forger = Ed25519PrivateKey.generate()
    own = forger.public_key().public_bytes_raw().hex()
    for change, key in (
        ({"person": "P-9"}, book.mira.private_key),
        ({"person": "P-2"}, book.mira.private_key),
        ({"role": "auditor"}, book.mira.private_key),
        ({"key": own}, forger),
    ):
        forged = copy.deepcopy(content)
        del forged[SEAL]
        forged[SIG] |= {"person": "P-1", "role": "manager", "key": book.mira.key, **change}
        signed_body(prev, forged, {SIG: key})
        assert holds(prev, forged, SIG) == (
            forged[SIG]["key"] != book.mira.key or key is book.mira.private_key
        )
        assert [flaw.kind for flaw in keys.check(prev, forged)] == ["signature"]


@pytest.mark.soak
def test_a_hundred_thousand_damaged_signatures(signed: list[tuple[bytes, Any]]) -> None:
    draw = random.Random(1)
    for _ in range(100_000):
        prev, content = draw.choice(signed)
        value = bytearray.fromhex(content[SIG]["value"])
        value[draw.randrange(64)] ^= 1 << draw.randrange(8)
        assert not holds(prev, {**content, SIG: {**content[SIG], "value": value.hex()}}, SIG)
