"""What an office sends back to the stations: a signed root, and what each is to know of the rest.

Two lines: the first says which office, how often, the root and the digest of the second, signed;
the second holds the heads under the root, a proof for each, cylinders, fills and analyses.  It is
read as what a stranger handed over: bounded, and every fact of every row looked at.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from blender.errors import FillwrightError, InputError
from blender.record.anchor import STATION, Anchor
from blender.record.canonical import MAX_INT, canonical, parse
from blender.record.chain import SIZE, answer_digest
from blender.record.keys import StationKeys
from blender.record.shop_root import MOST_STATIONS, ShopRoot, signed_by
from blender.record.states import STATES
from blender.record.text import clean_text

HEADING = "fillwright answer 1"
MOST_BYTES = 64 << 20
MOST_ROWS = 100_000
_HEX = re.compile(r"[0-9a-f]{64}")
_MONTH = re.compile(r"\d{4}-\d{2}")
_TYPES = {"v": int, "office": str, "key": str, "life": int, "number": int, "made_us": int,
          "size": int, "root": str, "signature": str, "content": str}  # fmt: skip
Fact = Callable[[Any], bool]
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class News:
    """An answer whose signatures hold: its root, and the rows of its lists."""

    root: ShopRoot
    signature: str
    heads: list[Anchor]
    proofs: dict[str, list[bytes]]
    cylinders: list[Row]
    fills: list[Row]
    analysed: list[Row]


def spell(root: ShopRoot, signature: str, content: Mapping[str, Any], keys: StationKeys) -> bytes:
    """Return an answer's two lines."""
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()
    header = canonical({
        "v": 1,
        "office": root.office,
        "key": root.key,
        "life": root.life,
        "number": root.number,
        "made_us": root.made_us,
        "size": root.size,
        "root": root.root.hex(),
        "signature": signature,
        "content": hashlib.sha256(text).hexdigest(),
    })  # fmt: skip
    value = keys.seal_key.sign(answer_digest(header)).hex()
    first = json.dumps([HEADING, header.decode(), value], separators=(",", ":")).encode()
    return first + b"\n" + text + b"\n"


def is_answer(content: bytes) -> bool:
    """Tell whether bytes begin as an answer does."""
    return content.startswith(f'["{HEADING}"'.encode())


def unpack(content: bytes) -> News:
    """Read an answer.

    Raises
    ------
    InputError
        If it is none, was cut short or is too long, a signature does not hold, or a fact in it
        is none.
    """
    if len(content) > MOST_BYTES:
        raise _bad(f"it has {len(content)} bytes, at most {MOST_BYTES} are read")
    first, _, text = content.partition(b"\n")
    said = _header(first)
    text = text.removesuffix(b"\n")
    if hashlib.sha256(text).hexdigest() != said["content"]:
        raise _bad("its second line was altered or cut short; have it sent again")
    root = ShopRoot(
        said["office"], said["key"], said["life"], said["number"], said["made_us"], said["size"],
        bytes.fromhex(said["root"]),
    )  # fmt: skip
    if not root.is_signed(said["signature"]):
        raise _bad("the root in it is not signed by the office")
    try:
        found = json.loads(text)
        return _news(root, said["signature"], found)
    except (RecursionError, LookupError, TypeError, ValueError):  # an InputError is a ValueError
        raise _bad("what it says of the stations is not readable") from None


def _header(line: bytes) -> dict[str, Any]:
    try:
        word, body, value = json.loads(line[:4096])
        said = parse(body.encode())
    except (FillwrightError, AttributeError, RecursionError, TypeError, ValueError):
        raise _bad("it is no answer of an office: its first line is not one") from None
    if word != HEADING or {name: type(one) for name, one in said.items()} != _TYPES:
        raise _bad("its first line is not an answer's, or a later program's")
    if not signed_by(said["key"], value, answer_digest(body.encode())):
        raise _bad("its signature does not hold: it was altered on the way")
    is_sound = STATION.fullmatch(said["office"]) and _HEX.fullmatch(said["root"])
    if (
        not is_sound
        or min(said["number"], said["life"]) < 1
        or not 1 <= said["size"] <= MOST_STATIONS
    ):
        raise _bad("its first line says what cannot be")
    return said


def _news(root: ShopRoot, signature: str, found: Any) -> News:
    heads = [_head(one) for one in _list(found["heads"], MOST_STATIONS)]
    names = [one.station for one in heads]
    if len(heads) != root.size or names != sorted(set(names)):
        raise ValueError("heads")
    if not isinstance(found["proofs"], dict):
        raise TypeError("proofs")
    proofs = {
        str(name): [_hash(one) for one in _list(path, 64)] for name, path in found["proofs"].items()
    }
    lists = [
        [_row(one, facts, set(names)) for one in _list(found[name], MOST_ROWS)]
        for name, facts in (("cylinders", CYLINDER), ("fills", FILL), ("analysed", ANALYSED))
    ]
    return News(root, signature, heads, proofs, *lists)


def _head(one: Any) -> Anchor:
    station, incarnation, seq, head = one
    return Anchor(station, incarnation, seq, _hash(head))


def _hash(text: Any) -> bytes:
    if not isinstance(text, str) or not _HEX.fullmatch(text):
        raise ValueError("hash")
    found = bytes.fromhex(text)
    assert len(found) == SIZE
    return found


def _list(found: Any, most: int) -> list[Any]:
    if not isinstance(found, list) or len(found) > most:
        raise TypeError("list")
    return found


def _row(one: Any, facts: Mapping[str, Fact], stations: set[str]) -> Row:
    """Return a row that has exactly the facts it should, each one that can be."""
    if not isinstance(one, dict) or one.keys() != facts.keys():
        raise TypeError("row")
    if one["site"] not in stations or not all(is_one(one[name]) for name, is_one in facts.items()):
        raise ValueError("fact")
    return one


def _text(most: int, *, empty: bool = True) -> Fact:
    def is_one(given: Any) -> bool:
        return isinstance(given, str) and given == clean_text(given, "", most, empty=empty)

    return is_one


def _whole(low: int, high: int = MAX_INT) -> Fact:
    return lambda given: type(given) is int and low <= given <= high


def _flag(given: Any) -> bool:
    return isinstance(given, bool)


def _match(pattern: re.Pattern[str]) -> Fact:
    return lambda given: isinstance(given, str) and bool(pattern.fullmatch(given))


def _amounts(given: Any) -> bool:
    return isinstance(given, list) and len(given) == 4 and all(map(_whole(0, 10**12), given))


_PPM, _MAYBE_PPM = _whole(0, 1_000_000), _whole(-1, 1_000_000)
_MBAR, _MK, _NUMBER = _whole(0, 2_000_000), _whole(0, 1_000_000), _whole(1)
_SERIAL = _match(
    re.compile(r"[A-Za-z0-9][A-Za-z0-9./_-]{0,31}(\+[A-Za-z0-9][A-Za-z0-9./_-]{0,31})?")
)
_SITE, _DIGEST, _STATE = _match(STATION), _match(_HEX), STATES.__contains__
_US = _whole(0)

CYLINDER: Mapping[str, Fact] = {
    "site": _SITE,
    "serial": _SERIAL,
    "size_ml": _whole(1, 1_000_000),
    "posts": _whole(1, 2),
    "size_typed": _text(40, empty=False),
    "wp_mbar": _whole(1000, 2_000_000),
    "tp_mbar": _whole(1000, 3_000_000),
    "tested": _match(_MONTH),
    "inspected": _match(_MONTH),
    "clean": _flag,
    "o2_ppm": _MAYBE_PPM,
    "he_ppm": _MAYBE_PPM,
    "analysed_us": _US,
    "hold": _text(200),
}
FILL: Mapping[str, Fact] = {
    "site": _SITE,
    "fill": _NUMBER,
    "serial": _SERIAL,
    "state": _STATE,
    "have_typed": _text(80),
    "residual": _text(20),
    "want_typed": _text(80, empty=False),
    "want_mbar": _MBAR,
    "want_o2_ppm": _PPM,
    "want_he_ppm": _PPM,
    "settle_mk": _MK,
    "method": _text(120),
    "ambient_typed": _text(40),
    "gauge_mbar": _MBAR,
    "temp_mk": _whole(1, 1_000_000),
    "gauge": _text(80),
    "has_helium": _flag,
    "offset_min": _whole(-1440, 1440),
    "contents_umol": _amounts,
    "filled_by": _text(200),
    "filled_us": _US,
    "at_seq": _NUMBER,
    "digest": _DIGEST,
}
ANALYSED: Mapping[str, Fact] = {
    "site": _SITE,
    "by_site": _SITE,
    "fill": _NUMBER,
    "of_seq": _NUMBER,
    "of_digest": _DIGEST,
    "by_fill": _NUMBER,
    "by_seq": _NUMBER,
    "by_digest": _DIGEST,
    "state": _STATE,
    "o2_ppm": _PPM,
    "he_ppm": _MAYBE_PPM,
    "at_us": _US,
}


def can_be_told(row: Row, facts: Mapping[str, Fact]) -> bool:
    """Tell whether a row has only what a station would take; what its own record says may not."""
    try:
        return row.keys() == facts.keys() and all(
            is_one(row[name]) for name, is_one in facts.items()
        )
    except ValueError:
        return False


def _bad(why: str) -> InputError:
    return InputError("answer", "what was given", why)
