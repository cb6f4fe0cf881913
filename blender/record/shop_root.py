"""The root over the heads of a shop's stations: made and signed by its office, checked by all.

A station that enters it is a witness to every other: none can change what came before its head
without that root speaking against it, whoever holds the record it was changed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from blender.errors import FillwrightError
from blender.record import merkle
from blender.record.anchor import Anchor, head_text
from blender.record.canonical import canonical
from blender.record.chain import root_digest
from blender.record.keys import StationKeys

WORD = "FILLWRIGHT-ROOT1"
MOST_STATIONS = 200  # their heads fit in one entry
WITNESSED = "root.witnessed"


def leaf(head: Anchor) -> bytes:
    """Spell what the tree has of a station: its id, incarnation, entries and head.

    Examples
    --------
    >>> leaf(Anchor("QUAY-2", 1, 7, bytes(32)))[:42]
    b'{"entries":7,"head":"000000000000000000000'
    """
    return canonical({
        "station": head.station,
        "incarnation": head.incarnation,
        "entries": head.seq,
        "head": head.head.hex(),
    })  # fmt: skip


def in_order(heads: Sequence[Anchor]) -> list[Anchor]:
    """Return heads in the order of the list, by station."""
    return sorted(heads, key=lambda one: one.station)


def root_of(heads: Sequence[Anchor]) -> bytes:
    """Return the root over heads, in whatever order they are given."""
    return merkle.root([leaf(one) for one in in_order(heads)])


def proof_of(heads: Sequence[Anchor], station: str) -> tuple[int, list[bytes]]:
    """Return a station's place in the list, and the proof that its head is there.

    Raises
    ------
    LookupError
        If it is not.
    """
    ordered = in_order(heads)
    found = [index for index, one in enumerate(ordered) if one.station == station]
    if not found:
        raise LookupError(station)
    index = found[0]
    return index, merkle.inclusion_proof([leaf(one) for one in ordered], index)


@dataclass(frozen=True, slots=True)
class ShopRoot:
    """What an office signs.

    Parameters
    ----------
    office : str
        The office's station id.
    key : str
        Its public key, in hex.
    life, number : int
        The incarnation of the office's record, and which root of it, counted from 1: an office
        that was restored begins anew without contradicting itself.
    made_us : int
        When, by its clock [us UTC].
    size : int
        How many stations.
    root : bytes
        Over their heads.
    """

    office: str
    key: str
    life: int
    number: int
    made_us: int
    size: int
    root: bytes

    @property
    def body(self) -> bytes:
        """What is signed."""
        return canonical({
            "v": 1,
            "office": self.office,
            "key": self.key,
            "life": self.life,
            "number": self.number,
            "made_us": self.made_us,
            "size": self.size,
            "root": self.root.hex(),
        })  # fmt: skip

    @property
    def text(self) -> str:
        """The line papers have of it."""
        place = f"{self.office} {self.life} {self.number}"
        return f"{WORD} {place} {self.size} {head_text(self.root)}"

    @property
    def order(self) -> tuple[int, int]:
        """Where it stands among the office's roots."""
        return self.life, self.number

    def sign(self, keys: StationKeys) -> str:
        """Return the office's signature, in hex."""
        return keys.seal_key.sign(root_digest(self.body)).hex()

    def is_signed(self, value: str) -> bool:
        """Tell whether a signature is by the key it names."""
        return signed_by(self.key, value, root_digest(self.body))


def signed_by(key: str, value: str, message: bytes) -> bool:
    """Tell whether a signature in hex is a key's, whatever is given for either."""
    try:
        public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(key))
        public.verify(bytes.fromhex(value), message)
    except (InvalidSignature, TypeError, ValueError):
        return False
    return True


def as_data(root: ShopRoot, value: str, heads: Sequence[Anchor], own: Anchor) -> dict[str, Any]:
    """Return the data of the entry by which a station witnesses a root."""
    index, proof = proof_of(heads, own.station)
    return {
        "office": root.office,
        "key": root.key,
        "life": root.life,
        "number": root.number,
        "made_us": root.made_us,
        "size": root.size,
        "root": root.root.hex(),
        "signature": value,
        "index": index,
        "proof": [one.hex() for one in proof],
        "own_incarnation": own.incarnation,
        "own_seq": own.seq,
        "own_head": own.head.hex(),
        "heads": [[one.station, one.incarnation, one.seq, one.head.hex()] for one in heads],
    }


def witnessed(station: str, data: dict[str, Any]) -> tuple[ShopRoot, Anchor]:
    """Read an entry that witnesses a root; it must hold in itself.

    Raises
    ------
    ValueError
        Saying what of it does not hold.
    """
    try:
        root = ShopRoot(
            data["office"], data["key"], data["life"], data["number"], data["made_us"],
            data["size"], bytes.fromhex(data["root"]),
        )  # fmt: skip
        own = Anchor(
            station, data["own_incarnation"], data["own_seq"], bytes.fromhex(data["own_head"])
        )
        proof = [bytes.fromhex(one) for one in data["proof"]]
        is_signed = root.is_signed(data["signature"])
        is_in = merkle.verify_inclusion(leaf(own), data["index"], root.size, proof, root.root)
    except (FillwrightError, KeyError, TypeError, ValueError):
        raise ValueError("the root it witnesses is not readable") from None
    if not is_signed:
        raise ValueError("the root it witnesses is not signed by the office it names")
    if not is_in:
        raise ValueError("its own head is not in the root it witnesses")
    return root, own
