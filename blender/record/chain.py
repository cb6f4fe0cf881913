"""The hashes of the record; each kind has its own tag, so none can pass for another."""

from __future__ import annotations

import hashlib

SIZE = 32
_GENESIS = b"fillwright genesis 1\x00"
ENTRY_TAG = b"fillwright entry 1\x00"
_SIGNED = b"fillwright signature 1\x00"
_SEALED = b"fillwright seal 1\x00"
_CHECKPOINT = b"fillwright checkpoint 1\x00"
_ERASED = b"fillwright erased 1\x00"
_ROOT = b"fillwright root 1\x00"
_PARCEL = b"fillwright parcel 1\x00"
_ANSWER = b"fillwright answer 1\x00"


def genesis(station: str, incarnation: int, public_key: bytes) -> bytes:
    """Hash what the first entry stands on: the station, its incarnation and its public key.

    Parameters
    ----------
    station : str
        The station's id.
    incarnation : int
        1 where the record is founded.
    public_key : bytes
        The station's raw Ed25519 public key, 32 bytes.
    """
    name = station.encode()
    parts = len(name).to_bytes(4, "big") + name + incarnation.to_bytes(8, "big") + public_key
    return hashlib.sha256(_GENESIS + parts).digest()


def digest(prev: bytes, body: bytes) -> bytes:
    """Hash an entry: SHA-256(tag || previous digest || body).

    Examples
    --------
    >>> digest(bytes(32), b"{}").hex()[:16]
    'd4f3360e7cac596f'
    """
    return hashlib.sha256(ENTRY_TAG + prev + body).digest()


def signed_digest(prev: bytes, body: bytes) -> bytes:
    """Hash what a person signs: the record so far, and the body without its values."""
    return hashlib.sha256(_SIGNED + prev + body).digest()


def sealed_digest(prev: bytes, body: bytes) -> bytes:
    """Hash what the station seals: likewise."""
    return hashlib.sha256(_SEALED + prev + body).digest()


def checkpoint_digest(body: bytes) -> bytes:
    """Hash what the station signs of how far its record was verified."""
    return hashlib.sha256(_CHECKPOINT + body).digest()


def erased_digest(body: bytes) -> bytes:
    """Hash what the station signs of whom it was told to forget."""
    return hashlib.sha256(_ERASED + body).digest()


def root_digest(body: bytes) -> bytes:
    """Hash what an office signs of the heads of all stations of a shop."""
    return hashlib.sha256(_ROOT + body).digest()


def parcel_digest(body: bytes) -> bytes:
    """Hash what a station signs of the entries it sends to its office."""
    return hashlib.sha256(_PARCEL + body).digest()


def answer_digest(body: bytes) -> bytes:
    """Hash what an office signs of what it sends back to the stations."""
    return hashlib.sha256(_ANSWER + body).digest()
