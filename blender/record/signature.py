"""Signatures and seals: what they cover, making them, checking them.

Both cover the digest before the entry and the whole body but their own values: station,
seq, time, facts, meaning, printed name, role and key.  A signature cut out of one entry
fits no other, and each one stands for the whole record before it: whoever rewrites an
entry would need the keys of everybody who signed since.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from blender.record.canonical import canonical, checked_size, spelled
from blender.record.chain import sealed_digest, signed_digest

ALGORITHM = "ed25519"
SIG, SEAL = "sig", "seal"
_DIGESTS = {SIG: signed_digest, SEAL: sealed_digest}


def message(prev: bytes, content: dict[str, Any], part: str) -> bytes:
    """Return what `part` (``sig`` or ``seal``) of a body's content signs.

    Parameters
    ----------
    prev : bytes
        The digest of the entry before.
    content : dict
        A body, with or without values in its signature and seal.
    part : str
        Which of the two.

    It is only a message if the content is a canonical one; whoever makes or reads a body asks.
    """
    return _DIGESTS[part](prev, spelled(_bare(content)))


def _bare(content: dict[str, Any]) -> dict[str, Any]:
    """Return a body's content without the values of its signature and seal."""
    bare = dict(content)
    for name in (SIG, SEAL):
        if isinstance(bare.get(name), dict):
            bare[name] = {key: value for key, value in bare[name].items() if key != "value"}
    return bare


@lru_cache(maxsize=1000)
def _key(text: str) -> Ed25519PublicKey:
    """Read a public key; the same few sign everything."""
    return Ed25519PublicKey.from_public_bytes(bytes.fromhex(text))


def public_hex(key: Ed25519PrivateKey) -> str:
    """Return the public half of a key, in hex."""
    return key.public_key().public_bytes_raw().hex()


def signed_body(
    prev: bytes, content: dict[str, Any], keys: Mapping[str, Ed25519PrivateKey]
) -> bytes:
    """Fill in the values of a body's signature and seal, and return it.

    Parameters
    ----------
    prev : bytes
        The digest of the entry before.
    content : dict
        The body.
    keys : mapping
        Who signs and seals it, by part.

    Raises
    ------
    InputError
        If it has no canonical form: nothing is signed that has no single spelling.
    """
    bare = canonical(_bare(content))  # what both parts are over
    for part, key in keys.items():
        content[part]["value"] = key.sign(_DIGESTS[part](prev, bare)).hex()
    return checked_size(spelled(content)) if keys else bare


def holds(prev: bytes, content: dict[str, Any], part: str) -> bool:
    """Tell whether a body's signature or seal is by the key it names."""
    try:
        named = content[part]
        if named["alg"] != ALGORITHM:
            return False
        _key(named["key"]).verify(bytes.fromhex(named["value"]), message(prev, content, part))
    except (InvalidSignature, KeyError, TypeError, ValueError):
        return False
    return True
