from __future__ import annotations

import json
import unicodedata
from typing import Any

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.errors import InputError, RecordError
from blender.record.canonical import MAX_BYTES, MAX_INT, canonical, parse

BIDI = "\u061c\u200e\u200f\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff"
CONTROLS = [chr(n) for n in [*range(0x20), *range(0x7F, 0xA0)] if chr(n) not in "\t\n"]
keys = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), min_size=1, max_size=12)
texts = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters=[*CONTROLS, *BIDI]), max_size=20
).map(lambda text: unicodedata.normalize("NFC", text))
leaves = st.none() | st.booleans() | st.integers(-MAX_INT, MAX_INT) | texts
values = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=20,
)
bodies = st.dictionaries(keys, values, max_size=5)


def nested(depth: int) -> dict[str, object]:
    body: dict[str, Any] = {}
    for _ in range(depth - 1):
        body = {"a": body}
    return body


# Oracle: rfc8785 0.1.4, an independent writer of RFC 8785 (JSON canonicalization scheme).
@settings(max_examples=120, deadline=None)
@given(bodies)
def test_legal_bodies_are_spelled_as_rfc_8785_spells_them(body: dict[str, Any]) -> None:
    spelled = canonical(body)
    assert spelled == rfc8785.dumps(body)
    assert parse(spelled) == body


@pytest.mark.soak
@settings(max_examples=20_000, deadline=None)
@given(bodies)
def test_many_legal_bodies_are_spelled_as_rfc_8785_spells_them(body: dict[str, Any]) -> None:
    assert canonical(body) == rfc8785.dumps(body)


ILLEGAL = [
    {"a": 0.5},
    {"a": float("nan")},
    {"a": float("inf")},
    {"a": MAX_INT + 1},
    {"a": -MAX_INT - 1},
    {"a": 10**4000},
    {"a": b"bytes"},
    {"a": {1, 2}},
    {"a": object()},
    {1: "a"},
    {"": 1},
    {"ø": 1},
    {"a\n": 1},
    {"a" * 65: 1},
    {None: 1},
    {"a": "e\u0301"},
    {"a": "\ud800"},
    {"a": ["\udfff"]},
    {"a": "x" * MAX_BYTES},
    nested(11),
    *({"a": f"x{char}"} for char in [*CONTROLS, *BIDI]),
]


@pytest.mark.parametrize("body", ILLEGAL, ids=range(len(ILLEGAL)))
def test_illegal_bodies_are_refused_with_one_class(body: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        canonical(body)


@settings(max_examples=100, deadline=None)
@given(
    bodies,
    st.floats()
    | st.integers(min_value=MAX_INT + 1)
    | st.integers(max_value=-MAX_INT - 1)
    | st.binary()
    | st.sampled_from(CONTROLS + list(BIDI) + ["\ud83d", "a\u030a"]),
    st.booleans(),
)
def test_one_illegal_part_spoils_any_body(body: dict[str, Any], bad: object, deep: bool) -> None:
    body["bad"] = [{"in": [bad]}] if deep else bad
    with pytest.raises(InputError):
        canonical(body)


def test_depth_ten_and_sixty_four_kilobytes_are_the_most() -> None:
    assert parse(canonical(nested(10))) == nested(10)
    assert len(canonical({"a": "x" * (MAX_BYTES - 8)})) == MAX_BYTES


@pytest.mark.parametrize(
    "other",
    [
        b"",
        b"[]",
        b"1",
        b'{"a":1 }',
        b'{"b":1,"a":1}',
        b'{"a":1,"a":1}',
        b'{"a":1.0}',
        b'{"a":1e3}',
        b'{"a":-0}',
        b'{"a":NaN}',
        b'{"a":"\\u0041"}',
        b'{"a":"\\/"}',
        b'{"a":"\\u0001"}',
        b'{"a":"\\ud800"}',
        b'{"a":"\xff"}',
        b"\xef\xbb\xbf{}",
        b'{"a":9007199254740992}',
        b'{"a":' + b"9" * 6000 + b"}",
        b"[" * 60_000,
        b'{"a":' * 10_000,
        b"{}" + b" " * MAX_BYTES,
    ],
    ids=lambda other: ascii(other)[:40],
)
def test_other_spellings_are_refused(other: bytes) -> None:
    with pytest.raises(RecordError):
        parse(other)


@settings(max_examples=100, deadline=None)
@given(
    st.binary(max_size=80)
    | bodies.map(lambda body: json.dumps(body, indent=1).encode("utf-8", "surrogatepass"))
)
def test_whatever_is_read_was_canonical(raw: bytes) -> None:
    try:
        content = parse(raw)
    except RecordError:
        return
    assert canonical(content) == raw
