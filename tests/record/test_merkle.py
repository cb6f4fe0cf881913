"""The tree hash against the vectors of the RFC's reference log, and against hostile proofs."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.record import merkle

# Inputs and roots of the reference log's tests (certificate-transparency, merkletree), from memory.
INPUTS = [
    bytes.fromhex(text)
    for text in (
        "", "00", "10", "2021", "3031", "40414243", "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]  # fmt: skip
ROOTS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
# Inclusion (leaf from 1, size, path), consistency (first, second, path): same source, from memory.
PATHS = [
    (1, 8, ["96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"]),
    (6, 8, ["bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"]),
    (3, 3, ["fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"]),
    (2, 5, ["6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"]),
]  # fmt: skip
SINCE = [
    (1, 1, []),
    (1, 8, ["96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"]),
    (6, 8, ["0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"]),
    (2, 5, ["5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"]),
]  # fmt: skip


def of(count: int) -> list[bytes]:
    return [f"item {number}".encode() for number in range(count)]


def test_the_published_roots() -> None:
    found = [merkle.root(INPUTS[:count]).hex() for count in range(1, 9)]
    assert found == ROOTS
    assert merkle.root([]) == hashlib.sha256(b"").digest()


@pytest.mark.parametrize(("leaf", "count", "path"), PATHS)
def test_the_published_inclusion_proofs(leaf: int, count: int, path: list[str]) -> None:
    proof = [bytes.fromhex(one) for one in path]
    assert merkle.inclusion_proof(INPUTS[:count], leaf - 1) == proof
    wanted = bytes.fromhex(ROOTS[count - 1])
    assert merkle.verify_inclusion(INPUTS[leaf - 1], leaf - 1, count, proof, wanted)


@pytest.mark.parametrize(("first", "second", "path"), SINCE)
def test_the_published_consistency_proofs(first: int, second: int, path: list[str]) -> None:
    proof = [bytes.fromhex(one) for one in path]
    assert merkle.consistency_proof(INPUTS[:second], first) == proof
    both = (bytes.fromhex(ROOTS[first - 1]), bytes.fromhex(ROOTS[second - 1]))
    assert merkle.verify_consistency(first, second, *both, proof)


@pytest.mark.parametrize("most", [33, pytest.param(257, marks=pytest.mark.soak)])
def test_every_item_and_every_beginning_of_every_list(most: int) -> None:
    for count in range(1, most + 1):
        items = of(count)
        wanted = merkle.root(items)
        for index in range(count):
            proof = merkle.inclusion_proof(items, index)
            assert merkle.verify_inclusion(items[index], index, count, proof, wanted)
            since = merkle.consistency_proof(items, index + 1)
            before = merkle.root(items[: index + 1])
            assert merkle.verify_consistency(index + 1, count, before, wanted, since)


def broken(proof: list[bytes], how: int, place: int) -> list[bytes]:
    """A proof with a bit turned, a hash doubled, dropped, put first, or of another size."""
    at = place % max(len(proof), 1)
    changed = list(proof)
    if how == 0 and proof:
        changed[at] = bytes([proof[at][0] ^ 1]) + proof[at][1:]
    elif how == 1 and proof:
        changed.insert(at, proof[at])
    elif how == 2 and proof:
        del changed[at]
    elif how == 3:
        changed.append(bytes(32))
    elif how == 4:
        changed.insert(0, bytes(32))
    elif how == 5 and proof:
        changed[at] = proof[at][:-1]
    else:
        changed = [*changed, *[bytes(32)] * 70]
    return changed


@given(st.integers(1, 70), st.data())
@settings(max_examples=200, deadline=None)
def test_no_other_proof_of_inclusion_is_believed(count: int, data: st.DataObject) -> None:
    items, index = of(count), data.draw(st.integers(0, count - 1))
    proof, wanted = merkle.inclusion_proof(items, index), merkle.root(items)
    other = broken(proof, data.draw(st.integers(0, 6)), data.draw(st.integers(0, 9)))
    assert not merkle.verify_inclusion(items[index], index, count, other, wanted)
    assert not merkle.verify_inclusion(b"another", index, count, proof, wanted)
    assert not merkle.verify_inclusion(items[index], index, count, proof, bytes(32))
    elsewhere = data.draw(st.integers(-2, count + 2).filter(lambda at: at != index))
    assert not merkle.verify_inclusion(items[index], elsewhere, count, proof, wanted)


@given(st.integers(2, 70), st.data())
@settings(max_examples=200, deadline=None)
def test_no_other_proof_of_consistency_is_believed(count: int, data: st.DataObject) -> None:
    items, first = of(count), data.draw(st.integers(1, count - 1))
    proof = merkle.consistency_proof(items, first)
    before, after = merkle.root(items[:first]), merkle.root(items)
    other = broken(proof, data.draw(st.integers(0, 6)), data.draw(st.integers(0, 9)))
    assert not merkle.verify_consistency(first, count, before, after, other)
    assert not merkle.verify_consistency(first, count, bytes(32), after, proof)
    assert not merkle.verify_consistency(first, count, before, bytes(32), proof)
    forged = merkle.root([b"rewritten", *items[1:first]])
    assert not merkle.verify_consistency(first, count, forged, after, proof)


def test_a_node_cannot_be_passed_off_as_an_item() -> None:
    left, right = (merkle.leaf_hash(item) for item in of(2))
    assert merkle.root(of(2)) != merkle.root([left + right])
    assert not merkle.verify_inclusion(left + right, 0, 1, [], merkle.root(of(2)))


@pytest.mark.parametrize("index", [-1, 3])
def test_what_is_not_there_has_no_proof(index: int) -> None:
    with pytest.raises(IndexError):
        merkle.inclusion_proof(of(3), index)
    with pytest.raises(IndexError):
        merkle.consistency_proof(of(3), index + 1 if index > 0 else 0)
