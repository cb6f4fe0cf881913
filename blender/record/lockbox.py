"""A station's key file under a passphrase, so that a copy of it may travel with the record's.

Open, it would undo what keeping it apart is for: whoever takes the record with it could guess at
every secret.  Locked, each guess costs what a person's own does, and a passphrase for this is long.
"""

from __future__ import annotations

import json
import os
import unicodedata
from pathlib import Path

from argon2.low_level import Type, hash_secret_raw
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from blender.errors import InputError, KeyFileError, RefusedError
from blender.record.files import create_private, mark
from blender.record.keys import StationKeys
from blender.record.wrapping import DEFAULT_COST, Cost, sane

LOCKED_TAIL = ".keys.locked"
LEAST_PASSPHRASE = 15  # characters; NIST SP 800-63B-4 for a single factor, from memory
_HEAD = b"fillwright locked keys 1"
_LONGEST = 8192


def lock_keys(key_file: Path, locked: Path, passphrase: str, cost: Cost = DEFAULT_COST) -> None:
    """Write a locked copy of a key file, of mode 0600.

    Raises
    ------
    InputError
        If the passphrase is short, or the place cannot be written.
    KeyFileError
        If there is no usable key file.
    """
    if len(passphrase.strip()) < LEAST_PASSPHRASE:
        told = f"at least {LEAST_PASSPHRASE} characters: who finds the copy can try for years"
        raise InputError("passphrase", "what was given", told)
    StationKeys.load(key_file)
    salt, nonce = os.urandom(16), os.urandom(12)
    box = AESGCM(_key(passphrase, salt, cost)).encrypt(nonce, key_file.read_bytes(), _HEAD)
    text = {
        "v": 1,
        "passes": cost.passes,
        "memory_kib": cost.memory_kib,
        "lanes": cost.lanes,
        "salt": salt.hex(),
        "nonce": nonce.hex(),
        "box": box.hex(),
    }
    try:
        mark(locked, json.dumps(text) + "\n")
    except OSError as error:
        raise InputError("passphrase", str(locked), f"not written: {error.strerror}") from None


def unlock_keys(locked: Path, key_file: Path, passphrase: str) -> None:
    """Put a key file back from its locked copy; one that is there is never overwritten.

    Raises
    ------
    RefusedError
        If the passphrase does not open it.
    KeyFileError
        If it is no locked key file, or there is a key file already.
    """
    try:
        with locked.open("rb") as file:
            text = json.loads(file.read(_LONGEST))
        cost = Cost(int(text["passes"]), int(text["memory_kib"]), int(text["lanes"]))
        salt, nonce, box = (bytes.fromhex(text[name]) for name in ("salt", "nonce", "box"))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        raise KeyFileError(f"{locked} is not a locked key file, or is damaged") from None
    try:
        content = AESGCM(_key(passphrase, salt, sane(cost))).decrypt(nonce, box, _HEAD)
    except (InvalidTag, ValueError):
        told = "the passphrase does not open the locked key file"
        raise RefusedError(told, code="passphrase") from None
    try:
        with os.fdopen(create_private(key_file), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except FileExistsError:
        raise KeyFileError(f"{key_file} is there already; it is never overwritten") from None
    except OSError as error:
        raise KeyFileError(f"{key_file} cannot be written: {error.strerror}") from None
    StationKeys.load(key_file)


def _key(passphrase: str, salt: bytes, cost: Cost) -> bytes:
    typed = unicodedata.normalize("NFC", passphrase.strip()).encode(errors="surrogatepass")
    return hash_secret_raw(
        typed, salt, cost.passes, cost.memory_kib, cost.lanes, hash_len=32, type=Type.ID
    )
