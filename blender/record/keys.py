"""Who can sign and seal: a signed-in person, and the station with its key file.

The key file lies beside the database, never in it: whoever takes the database alone can
neither seal as the station nor guess at anybody's secret.
"""

from __future__ import annotations

import json
import os
import secrets
import stat
from dataclasses import dataclass, field
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from blender.errors import KeyFileError
from blender.record.files import create_private, sync_folder
from blender.record.signature import public_hex
from blender.record.wrapping import DEFAULT_COST, Cost, unwrap_key, wrap_key

__all__ = [
    "DEFAULT_COST",
    "Cost",
    "Signer",
    "StationKeys",
    "key_path",
    "new_signing_key",
    "public_hex",
    "unwrap_key",
    "wrap_key",
]

_LONGEST = 4096


def key_path(database: str | Path) -> Path:
    """Name the key file that belongs to a SQLite file: ``x.db`` has ``x.keys``."""
    return Path(database).with_suffix(".keys")


def new_signing_key() -> Ed25519PrivateKey:
    """Draw a person's signing key."""
    return Ed25519PrivateKey.generate()


@dataclass(frozen=True, slots=True)
class Signer:
    """A person who has given their secret and may sign.

    Parameters
    ----------
    person : str
        Id in the record.
    name : str
        Printed name.
    role : str
        The role they act in.
    private_key : Ed25519PrivateKey
        Their unlocked key.
    """

    person: str
    name: str
    role: str
    private_key: Ed25519PrivateKey = field(repr=False)
    key: str = field(init=False)  # their public key, in hex

    def __post_init__(self) -> None:
        object.__setattr__(self, "key", public_hex(self.private_key))


@dataclass(frozen=True, slots=True)
class StationKeys:
    """The station's seal and the secret that goes into every person's lock.

    Parameters
    ----------
    seal_key : Ed25519PrivateKey
        Seals entries as the station.
    secret : bytes
        32 random bytes.
    """

    seal_key: Ed25519PrivateKey = field(repr=False)
    secret: bytes = field(repr=False)

    @property
    def public(self) -> bytes:
        """The seal's public key, 32 bytes."""
        return self.seal_key.public_key().public_bytes_raw()

    @classmethod
    def create(cls, path: str | Path) -> StationKeys:
        """Draw new keys and write them to a file only its owner can read.

        Raises
        ------
        KeyFileError
            If the file exists, for other records may depend on it, or cannot be written.
        """
        keys = cls(Ed25519PrivateKey.generate(), secrets.token_bytes(32))
        keys.write(path)
        return keys

    def write(self, path: str | Path) -> None:
        """Write these keys to a file only its owner can read.

        Raises
        ------
        KeyFileError
            If the file exists, for other records may depend on it, or cannot be written.
        """
        text = {
            "v": 1,
            "seal": self.seal_key.private_bytes_raw().hex(),
            "secret": self.secret.hex(),
        }
        place = Path(path)
        try:
            with os.fdopen(create_private(place), "w", encoding="ascii") as file:
                file.write(json.dumps(text) + "\n")
                file.flush()
                os.fsync(file.fileno())
            sync_folder(place.parent)
        except FileExistsError:
            raise KeyFileError(
                f"{place} exists already; it may be the only copy of a station's keys, so it is"
                " never overwritten: choose another place or move it away"
            ) from None
        except OSError as error:
            raise KeyFileError(f"{place} cannot be written: {error.strerror}") from None

    @classmethod
    def load(cls, path: str | Path) -> StationKeys:
        """Read the keys from their file.

        Raises
        ------
        KeyFileError
            If it is missing, unreadable, readable to others, or no key file.
        """
        place = Path(path)
        try:
            with place.open("rb") as file:
                _check_private(place, os.fstat(file.fileno()))
                return cls._read(file.read(_LONGEST))
        except FileNotFoundError:
            raise KeyFileError(
                f"the station's key file {place} is missing; without it nobody can sign."
                " Put back the copy that was kept apart from the database"
            ) from None
        except OSError as error:
            raise KeyFileError(f"key file {place} cannot be read: {error.strerror}") from None
        except (ValueError, KeyError, TypeError, RecursionError):
            raise KeyFileError(f"{place} is not a station's key file, or is damaged") from None

    @classmethod
    def _read(cls, text: bytes) -> StationKeys:
        """Read a key file's content; anything else raises ValueError, KeyError or TypeError."""
        content = json.loads(text)
        seal, secret = bytes.fromhex(content["seal"]), bytes.fromhex(content["secret"])
        if content["v"] != 1 or len(secret) != 32:
            raise ValueError(text[:20])
        return cls(Ed25519PrivateKey.from_private_bytes(seal), secret)


def _check_private(place: Path, status: os.stat_result) -> None:
    """Refuse keys that other users of this machine can read."""
    if os.name == "posix" and status.st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise KeyFileError(
            f"key file {place} can be read by other users; take that away first:"
            f" chmod 600 '{place}'"
        )
