"""A parcel: a station's entries since its office has them, sealed, in a file of lines.

The first line says whose, from which entry to which, and where the chain stood; the station's key
signed that.  Each further line is an entry as an exported journal has it.  No private row is in
it.  What is read was handed over by a stranger: sizes are bounded, every line is looked at before
anything is believed, and one that does not fit is refused in words.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from blender.errors import FillwrightError, InputError
from blender.record.anchor import STATION
from blender.record.canonical import MAX_BYTES as BODY_BYTES
from blender.record.canonical import canonical, parse
from blender.record.chain import SIZE, parcel_digest
from blender.record.keys import StationKeys
from blender.record.links import follow
from blender.record.shop_root import signed_by
from blender.record.walk import Stored

HEADING = "fillwright parcel 1"
MOST_BYTES = 64 << 20
MOST_ENTRIES = 50_000  # what comes after is another parcel
_LINE = 3 * BODY_BYTES  # a body of quotation marks is spelled twice as long
_TYPES = {"v": int, "station": str, "key": str, "after": int, "entries": int, "incarnation": int,
          "head": str, "made_us": int}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Header:
    """What a parcel says of itself.

    Parameters
    ----------
    station, key : str
        Whose entries, and its public key in hex.
    after, entries : int
        The entry before the first in it, and the last in it.
    incarnation : int
        Of the last.
    head : str
        Its digest, in hex.
    made_us : int
        When it was made, by the station's clock [us UTC].
    """

    station: str
    key: str
    after: int
    entries: int
    incarnation: int
    head: str
    made_us: int


@dataclass(frozen=True, slots=True)
class Parcel:
    """A header whose seal holds, and the entries that came with it, not yet verified."""

    header: Header
    rows: list[Stored]


def spell(header: Header, rows: Sequence[Stored], keys: StationKeys) -> Iterator[bytes]:
    """Give the lines of a parcel."""
    content = {name: getattr(header, name) for name in header.__slots__}
    body = canonical({"v": 1, **content})
    value = keys.seal_key.sign(parcel_digest(body)).hex()
    yield _line([HEADING, body.decode(), value])
    for row in rows:
        yield _line([row.seq, row.prev.hex(), row.digest.hex(), row.body.decode()])


def _line(parts: list[Any]) -> bytes:
    return json.dumps(parts, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def is_parcel(content: bytes) -> bool:
    """Tell whether bytes begin as a parcel does."""
    return content.startswith(f'["{HEADING}"'.encode())


def unpack(content: bytes) -> Parcel:
    """Read a parcel.

    Raises
    ------
    InputError
        If it is none, was cut short, damaged or is too long, or its seal does not hold.
    """
    if len(content) > MOST_BYTES:
        raise _bad(f"it has {len(content)} bytes, at most {MOST_BYTES} are read")
    first, *lines = content.split(b"\n")
    header = _header(first)
    if lines and lines[-1] == b"":
        lines.pop()
    if len(lines) != header.entries - header.after:
        told = f"{header.entries - header.after} entries belong in it and {len(lines)} are there"
        raise _bad(f"{told}: it was cut short or damaged; have it sent again")
    rows = [_row(header, at, line) for at, line in enumerate(lines)]
    links = follow(((r.seq, r.prev, r.digest, r.body) for r in rows), header.after, rows[0].prev)
    if links.head.hex() != header.head:
        raise _bad("it was damaged on the way: its entries do not come to the head that was sealed")
    return Parcel(header, rows)


def _header(line: bytes) -> Header:
    try:
        word, body, value = _read(line)
        said = parse(body.encode())
    except (FillwrightError, AttributeError, TypeError, ValueError):
        raise _bad("it is no parcel of a station: its first line is not one") from None
    if word != HEADING or {name: type(one) for name, one in said.items()} != _TYPES:
        raise _bad("its first line is not a parcel's, or a later program's")
    if not signed_by(said["key"], value, parcel_digest(body.encode())):
        raise _bad("its seal does not hold: it was altered on the way, or was not the station's")
    header = Header(**{name: said[name] for name in Header.__slots__})
    numbers = (header.after, header.entries - header.after - 1, header.incarnation - 1)
    if min(numbers) < 0 or header.entries - header.after > MOST_ENTRIES:
        raise _bad(f"from one to {MOST_ENTRIES} entries are in a parcel")
    if not STATION.fullmatch(header.station) or _digest(header.head) is None:
        raise _bad("its station or its head is none")
    return header


def _row(header: Header, at: int, line: bytes) -> Stored:
    """Read one entry, as far as it can be told from its line alone."""
    told = f"line {at + 2} is damaged, or no entry"
    try:
        seq, prev, digest, text = _read(line)
        body = text.encode()
    except (AttributeError, TypeError, ValueError):
        raise _bad(told) from None
    before, own = _digest(prev), _digest(digest)
    if seq != header.after + at + 1 or type(seq) is not int or before is None or own is None:
        raise _bad(told)
    return Stored(header.station, seq, before, own, body, _step(body, told))


def _step(body: bytes, told: str) -> str | None:
    try:
        step = parse(body).get("step")
    except FillwrightError:
        raise _bad(told) from None
    if step is not None and not isinstance(step, str):
        raise _bad(told)
    return step


def _read(line: bytes) -> list[Any]:
    """Read a line's JSON list; anything else raises ValueError or TypeError."""
    if len(line) > _LINE:
        raise ValueError("too long")
    try:
        found = json.loads(line)
    except RecursionError:
        raise ValueError("too deep") from None
    if not isinstance(found, list):
        raise TypeError(type(found))
    return found


def _digest(text: Any) -> bytes | None:
    """Read 32 bytes as we spell them, None for anything else."""
    if not isinstance(text, str) or len(text) != 2 * SIZE:
        return None
    try:
        found = bytes.fromhex(text)
    except ValueError:
        return None
    return found if found.hex() == text else None


def _bad(why: str) -> InputError:
    return InputError("parcel", "what was given", why)
