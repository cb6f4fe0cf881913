"""A record's head held by somebody else: one line for a label, a report, a QR code.

Whoever owns the file could rewrite all of it; a line on a customer's cylinder they cannot.
"""

from __future__ import annotations

import base64
import re
from dataclasses import dataclass

from blender.errors import InputError
from blender.record.canonical import MAX_INT
from blender.record.chain import SIZE

WORD = "FILLWRIGHT1"
STATION = re.compile(r"[A-Z0-9-]{1,32}")
_NUMBER = re.compile(r"[1-9][0-9]{0,15}")
_FORM = f"the line is '{WORD} STATION INCARNATION SEQ HEAD', as in the QR code or footer"
_PRINTED = re.compile(r"[0-9a-f]{20}")


@dataclass(frozen=True, slots=True)
class Anchor:
    """An entry of the record, and the digest it had.

    Parameters
    ----------
    station : str
        The station's id: capitals, digits and hyphens.
    incarnation, seq : int
        Which life of the record, and which entry.
    head : bytes
        The entry's digest, 32 bytes: all 256 bits, for a shortened one can be forged.

    Examples
    --------
    >>> Anchor("QUAY-2", 1, 7, bytes(32)).text[:27]
    'FILLWRIGHT1 QUAY-2 1 7 AAAA'
    """

    station: str
    incarnation: int
    seq: int
    head: bytes

    def __post_init__(self) -> None:
        if not (
            STATION.fullmatch(self.station)
            and 1 <= self.incarnation <= MAX_INT
            and 1 <= self.seq <= MAX_INT
            and len(self.head) == SIZE
        ):
            raise InputError("anchor", f"{self.station!r}", _FORM)

    @property
    def text(self) -> str:
        """The line printed on every paper and held by its QR code."""
        return f"{WORD} {self.station} {self.incarnation} {self.seq} {self.head_text}"

    @property
    def head_text(self) -> str:
        """The digest in base32 without padding, 52 characters."""
        return head_text(self.head)


def head_text(head: bytes) -> str:
    """Spell a digest as papers have it: base32 without padding, 52 characters."""
    return base64.b32encode(head).decode().rstrip("=")


def parse_anchor(text: str) -> Anchor:
    """Read an anchor's line, as scanned or copied.

    Raises
    ------
    InputError
        If it is not exactly such a line; blanks around and between the words do not matter.
    """
    words = text.split() if text.isascii() and len(text) <= 400 else []
    if len(words) != 5 or words[0] != WORD or not STATION.fullmatch(words[1]):
        raise InputError("anchor", ascii(text[:120]), _FORM)
    if not (_NUMBER.fullmatch(words[2]) and _NUMBER.fullmatch(words[3])):
        raise InputError("anchor", ascii(text[:120]), _FORM)
    try:
        head = base64.b32decode(words[4] + "=" * (-len(words[4]) % 8))
    except ValueError:
        raise InputError("anchor", ascii(text[:120]), "its head is not base32") from None
    anchor = Anchor(words[1], int(words[2]), int(words[3]), head)
    if anchor.head_text != words[4]:
        raise InputError("anchor", ascii(text[:120]), "its head is not 256 bits of base32")
    return anchor


def printed_head(text: str) -> str:
    """Return the digits of a head typed as a label prints it for eyes, empty if it is none.

    All of it has to be typed: 80 bits tell one label from every other here.  That a record is
    the one a label was printed of is only ever proved by the whole head in its code.

    Examples
    --------
    >>> printed_head("head 46B7 5939 fe43 dce4 0234…"), printed_head("46b7 5939")
    ('46b75939fe43dce40234', '')
    """
    digits = "".join(text.lower().replace("head", "").split()).rstrip("….")
    return digits if _PRINTED.fullmatch(digits) else ""
