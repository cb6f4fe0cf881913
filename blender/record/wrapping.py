"""A person's signing key, locked by their passphrase or PIN and the station's secret.

argon2id makes each guess slow; the station's secret, kept outside the database, makes
guessing useless to whoever took only the database.
"""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from argon2.low_level import Type, hash_secret_raw
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from blender.errors import RecordError, RefusedError
from blender.record.canonical import canonical
from blender.record.signature import public_hex

_INFO = b"fillwright key wrap 1"
_REFUSAL = "name and secret do not belong together; try again, or ask a manager for a reset"


@dataclass(frozen=True, slots=True)
class Cost:
    """What one guess costs.

    Parameters
    ----------
    passes : int
        Passes over the memory.
    memory_kib : int
        Memory [KiB].
    lanes : int
        Parallel lanes.
    """

    passes: int
    memory_kib: int
    lanes: int


# RFC 9106, section 4, second recommended option.
DEFAULT_COST = Cost(passes=3, memory_kib=64 * 1024, lanes=4)
# Beyond this a stored cost is damage or malice, not prudence.
_MOST = Cost(passes=32, memory_kib=1024 * 1024, lanes=16)


def wrap_key(
    private_key: Ed25519PrivateKey, secret: str, station_secret: bytes, cost: Cost = DEFAULT_COST
) -> dict[str, Any]:
    """Lock a signing key.

    Parameters
    ----------
    private_key : Ed25519PrivateKey
        The person's key.
    secret : str
        Their passphrase or PIN.
    station_secret : bytes
        The station's own secret, kept outside the database.
    cost : Cost
        What one guess shall cost.

    Returns
    -------
    dict
        Whole numbers and hex text, fit for a private row.
    """
    salt, nonce = os.urandom(16), os.urandom(12)
    head = {
        "v": 1,
        "alg": "argon2id/hkdf-sha256/aes-256-gcm",
        "passes": cost.passes,
        "memory_kib": cost.memory_kib,
        "lanes": cost.lanes,
        "salt": salt.hex(),
        "nonce": nonce.hex(),
        "public": public_hex(private_key),
    }
    lock = AESGCM(_lock_key(secret, salt, station_secret, cost))
    box = lock.encrypt(nonce, private_key.private_bytes_raw(), canonical(head))
    return {**head, "box": box.hex()}


def unwrap_key(
    wrapped: Mapping[str, Any] | None, secret: str, station_secret: bytes
) -> Ed25519PrivateKey:
    """Unlock a signing key.

    Parameters
    ----------
    wrapped : mapping or None
        What `wrap_key` gave; None for a person who is not known, which takes as long and
        is answered in the same words as a wrong secret.
    secret : str
        The passphrase or PIN as typed.
    station_secret : bytes
        The station's own secret.

    Raises
    ------
    RefusedError
        If the secret, or the station's, is not the one it was locked with.
    RecordError
        If the stored key is damaged.
    """
    if wrapped is None:
        _lock_key(secret, bytes(16), station_secret, DEFAULT_COST)
        raise RefusedError(_REFUSAL, code="sign-in")
    head = {key: value for key, value in wrapped.items() if key != "box"}
    try:
        cost = Cost(int(head["passes"]), int(head["memory_kib"]), int(head["lanes"]))
        salt, nonce = bytes.fromhex(head["salt"]), bytes.fromhex(head["nonce"])
        box = bytes.fromhex(wrapped["box"])
    except (KeyError, TypeError, ValueError):
        raise RecordError("a person's stored key is damaged; a manager must reset it") from None
    lock = AESGCM(_lock_key(secret, salt, station_secret, sane(cost)))
    try:
        raw = lock.decrypt(nonce, box, canonical(head))
    except (InvalidTag, ValueError):
        raise RefusedError(_REFUSAL, code="sign-in") from None
    return Ed25519PrivateKey.from_private_bytes(raw)


def sane(cost: Cost) -> Cost:
    """Refuse a stored cost that would hang the terminal.

    Raises
    ------
    RecordError
        If it is beyond prudence.
    """
    if not (
        1 <= cost.passes <= _MOST.passes
        and 1 <= cost.lanes <= _MOST.lanes
        and 8 * cost.lanes <= cost.memory_kib <= _MOST.memory_kib
    ):
        raise RecordError("a person's stored key is damaged; a manager must reset it")
    return cost


def _lock_key(secret: str, salt: bytes, station_secret: bytes, cost: Cost) -> bytes:
    """Derive the 256-bit key that locks a signing key."""
    typed = unicodedata.normalize("NFC", secret).encode(errors="surrogatepass")
    slow = hash_secret_raw(
        typed, salt, cost.passes, cost.memory_kib, cost.lanes, hash_len=32, type=Type.ID
    )
    return HKDF(algorithm=SHA256(), length=32, salt=station_secret, info=_INFO).derive(slow)
