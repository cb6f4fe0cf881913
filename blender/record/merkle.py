"""A Merkle tree over a list, as RFC 9162 section 2.1 hashes it; proofs, and how they are checked.

One root stands for the whole list.  A proof of inclusion shows that an item is in it, a proof of
consistency that a longer list begins with a shorter one, each with about log2(n) hashes.  Leaves
and nodes are hashed with different prefixes, so that no node can be passed off as an item.
Checking is done for proofs that a stranger made: any flaw in one is just an answer of no.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

SIZE = 32
MOST = 64  # hashes in a proof: no list is longer than 2^64
_LEAF, _NODE = b"\x00", b"\x01"


def leaf_hash(item: bytes) -> bytes:
    """Hash an item of the list.

    Examples
    --------
    >>> leaf_hash(b"").hex()[:16]
    '6e340b9cffb37a98'
    """
    return hashlib.sha256(_LEAF + item).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash two subtrees into one."""
    return hashlib.sha256(_NODE + left + right).digest()


def split(count: int) -> int:
    """Return the largest power of two below `count`, which is 2 or more.

    Examples
    --------
    >>> [split(n) for n in (2, 3, 4, 5, 8, 9)]
    [1, 2, 2, 4, 4, 8]
    """
    return 1 << (count - 1).bit_length() - 1


def root(items: Sequence[bytes]) -> bytes:
    """Hash a list of any length; the empty one hashes to SHA-256 of nothing.

    Examples
    --------
    >>> root([]).hex()[:16], root([b""]) == leaf_hash(b"")
    ('e3b0c44298fc1c14', True)
    """
    return _root([leaf_hash(item) for item in items]) if items else hashlib.sha256().digest()


def _root(leaves: Sequence[bytes]) -> bytes:
    if len(leaves) == 1:
        return leaves[0]
    at = split(len(leaves))
    return node_hash(_root(leaves[:at]), _root(leaves[at:]))


def inclusion_proof(items: Sequence[bytes], index: int) -> list[bytes]:
    """Return the hashes that lead from one item to the root, the lowest first.

    Raises
    ------
    IndexError
        If there is no item of that index.
    """
    if not 0 <= index < len(items):
        raise IndexError(index)
    return _path([leaf_hash(item) for item in items], index)


def _path(leaves: Sequence[bytes], index: int) -> list[bytes]:
    if len(leaves) == 1:
        return []
    at = split(len(leaves))
    if index < at:
        return [*_path(leaves[:at], index), _root(leaves[at:])]
    return [*_path(leaves[at:], index - at), _root(leaves[:at])]


def verify_inclusion(
    item: bytes, index: int, count: int, proof: Sequence[bytes], wanted: bytes
) -> bool:
    """Tell whether a proof shows that an item is in a list with a root (RFC 9162, 2.1.3.2).

    Parameters
    ----------
    item : bytes
        The item.
    index, count : int
        Its place in the list, from 0, and how many the list has.
    proof : sequence of bytes
        As `inclusion_proof` makes it.
    wanted : bytes
        The root of the list.
    """
    if not (0 <= index < count and _is_proof(proof)):
        return False
    at, last, found = index, count - 1, leaf_hash(item)
    for one in proof:
        if last == 0:
            return False
        if at & 1 or at == last:
            found = node_hash(one, found)
            at, last = _up_to_a_right_one(at, last)
        else:
            found = node_hash(found, one)
        at, last = at >> 1, last >> 1
    return last == 0 and found == wanted


def consistency_proof(items: Sequence[bytes], earlier: int) -> list[bytes]:
    """Return the hashes that show that a list begins with its first `earlier` items.

    Raises
    ------
    IndexError
        If the list has not so many, or none of it is meant.
    """
    if not 0 < earlier <= len(items):
        raise IndexError(earlier)
    return _since([leaf_hash(item) for item in items], earlier, whole=True)


def _since(leaves: Sequence[bytes], earlier: int, *, whole: bool) -> list[bytes]:
    """Return the proof within a subtree; `whole` if the earlier root is its own so far."""
    if earlier == len(leaves):
        return [] if whole else [_root(leaves)]
    at = split(len(leaves))
    if earlier <= at:
        return [*_since(leaves[:at], earlier, whole=whole), _root(leaves[at:])]
    return [*_since(leaves[at:], earlier - at, whole=False), _root(leaves[:at])]


def verify_consistency(
    earlier: int, count: int, earlier_root: bytes, wanted: bytes, proof: Sequence[bytes]
) -> bool:
    """Tell whether a proof shows that a list begins with an earlier one (RFC 9162, 2.1.4.2).

    Parameters
    ----------
    earlier, count : int
        How many items the earlier list had, and the later one has.
    earlier_root, wanted : bytes
        Their roots.
    proof : sequence of bytes
        As `consistency_proof` makes it.
    """
    if not (0 < earlier <= count and _is_proof(proof)):
        return False
    if earlier == count:
        return not proof and earlier_root == wanted
    path = list(proof)
    if earlier & (earlier - 1) == 0:  # the earlier list is a subtree of its own
        path.insert(0, earlier_root)
    return bool(path) and _both(earlier - 1, count - 1, path) == (earlier_root, wanted)


def _both(at: int, last: int, path: Sequence[bytes]) -> tuple[bytes, bytes] | None:
    """Work out both roots along a path, None where it has not the length it must have."""
    while at & 1:
        at, last = at >> 1, last >> 1
    before = after = path[0]
    for one in path[1:]:
        if last == 0:
            return None
        if at & 1 or at == last:
            before, after = node_hash(one, before), node_hash(one, after)
            at, last = _up_to_a_right_one(at, last)
        else:
            after = node_hash(after, one)
        at, last = at >> 1, last >> 1
    return (before, after) if last == 0 else None


def _up_to_a_right_one(at: int, last: int) -> tuple[int, int]:
    """Skip the levels on which a node has nothing beside it: it is its own parent there."""
    while at and not at & 1:
        at, last = at >> 1, last >> 1
    return at, last


def _is_proof(proof: Sequence[bytes]) -> bool:
    return len(proof) <= MOST and all(isinstance(one, bytes) and len(one) == SIZE for one in proof)
