r"""The one spelling a body has: sorted, compact JSON of integers and composed text.

Only what every JSON writer spells alike is let in (no fractions, no integers a double
cannot hold, ASCII keys), so these bytes are also those of RFC 8785.  Characters are
judged by code point, not by a table of properties that grows with every Unicode
release: bodies are for ever, whichever Python reads them.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping
from itertools import repeat
from typing import Any

from blender.errors import InputError, RecordError

MAX_INT = 2**53 - 1
MAX_DEPTH = 10
MAX_BYTES = 64 * 1024

# C0 but tab and newline, DEL and C1, line and paragraph separators, marks and overrides of
# writing direction, surrogates, the byte order mark.
_BAD = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufeff]"
)
# Keys seen to be good: the same few come in every body.
_good_keys: set[str] = set()
_MOST_KEYS = 2000
_spell = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode
_read = json.JSONDecoder().decode
_ALLOWED = "a body holds true, false, null, text, lists, objects and whole numbers below 2^53"


def canonical(body: Mapping[str, Any]) -> bytes:
    """Spell a body as canonical bytes.

    Parameters
    ----------
    body : mapping
        Keys of printable ASCII; values None, bool, int below 2^53 in size, composed text,
        lists or dicts of these, nested at most 10 deep.

    Raises
    ------
    InputError
        For anything else, or more than 64 kB.

    Examples
    --------
    >>> canonical({"v": 1, "kind": "note", "data": {}})
    b'{"data":{},"kind":"note","v":1}'
    """
    plain = dict(body)
    _check(plain, "body", 1)
    return checked_size(_spell(plain).encode())


def checked_size(body: bytes) -> bytes:
    """Return a body that is not too long.

    Raises
    ------
    InputError
        If it has more than 64 kB.
    """
    if len(body) > MAX_BYTES:
        raise InputError("body", f"{len(body)} bytes", f"at most {MAX_BYTES} bytes")
    return body


def spelled(content: dict[str, Any]) -> bytes:
    """Spell what is known to be canonical content, without looking at it again."""
    return _spell(content).encode()


def parse(body: bytes) -> dict[str, Any]:
    """Read canonical bytes; any other spelling of the same content is refused.

    Raises
    ------
    RecordError
        If the bytes are not exactly what `canonical` writes.

    Examples
    --------
    >>> parse(b'{"v":1}')
    {'v': 1}
    """
    if len(body) > MAX_BYTES:
        raise RecordError(f"a body of {len(body)} bytes is longer than {MAX_BYTES}")
    try:
        content = _read(body.decode())
        again = canonical(content) if isinstance(content, dict) else b""
    except InputError as error:
        raise RecordError(f"a body is not in canonical form: {error.text}") from None
    except (ValueError, RecursionError):
        raise RecordError("a body is not readable as JSON text") from None
    if again != body:
        raise RecordError("a body is not in canonical form: it can be spelled otherwise")
    whole: dict[str, Any] = content  # an object: `again` would be empty else
    return whole


def _check(value: Any, where: str, depth: int) -> None:
    """Refuse what has no single spelling, naming the place."""
    if isinstance(value, str):
        _check_text(value, where)
    elif value is None or isinstance(value, bool):
        return
    elif isinstance(value, int):
        if not -MAX_INT <= value <= MAX_INT:
            raise InputError(where, "a number of this size", "whole numbers are below 2^53")
    elif not isinstance(value, (dict, list, tuple)):
        raise InputError(where, f"a value of type {type(value).__name__}", _ALLOWED)
    elif depth > MAX_DEPTH:
        raise InputError(where, "nesting", f"at most {MAX_DEPTH} deep")
    elif isinstance(value, dict):
        _check_keys(value, where)
        _check_items(value.items(), depth + 1)
    else:
        _check_items(zip(repeat(where), value, strict=False), depth + 1)


def _check_items(items: Iterable[tuple[str, Any]], depth: int) -> None:
    """Check what a list or object holds; nearly all of it is short numbers and plain words."""
    for where, item in items:
        kind = type(item)
        if kind is str:
            if not (item.isascii() and item.isprintable()):
                _check_text(item, where)
        elif kind is int:
            if not -MAX_INT <= item <= MAX_INT:
                _check(item, where, depth)
        elif kind is dict and depth <= MAX_DEPTH:
            if not item.keys() <= _good_keys:
                _check_keys(item, where)
            _check_items(item.items(), depth + 1)
        else:
            _check(item, where, depth)


def _check_keys(value: dict[Any, Any], where: str) -> None:
    """Refuse keys that are not short printable ASCII."""
    if value.keys() <= _good_keys:
        return
    for key in value:
        if not (type(key) is str and 0 < len(key) <= 64 and key.isascii() and key.isprintable()):
            raise InputError(where, f"key {ascii(key)[:80]}", "keys are 1 to 64 printable ASCII")
    if len(_good_keys) < _MOST_KEYS:
        _good_keys.update(value)


def _check_text(text: str, where: str) -> None:
    """Refuse text that is not composed or holds controls."""
    if text.isascii() and text.isprintable():
        return
    found = _BAD.search(text)
    if found:
        raise InputError(
            where, ascii(text[:80]), f"U+{ord(found[0]):04X} is a control and not allowed"
        )
    if not unicodedata.is_normalized("NFC", text):
        raise InputError(where, ascii(text[:80]), "text must be in composed form (NFC)")
