"""Small words at the door: typed text, moments, anchors."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blender.errors import FillwrightError, InputError
from blender.record.anchor import Anchor, parse_anchor
from blender.record.canonical import canonical
from blender.record.moment import Moment
from blender.record.text import clean_text


def test_text_is_composed_and_stripped() -> None:
    assert clean_text("\t A\u030ase Li\u00df ", "name") == "Åse Liß"
    assert clean_text("", "note", empty=True) == ""
    assert clean_text("one\r\ntwo\n", "note", lines=True) == "one\ntwo"
    assert clean_text("x" * 120, "name") == "x" * 120


@pytest.mark.parametrize(
    "text",
    ["", "  ", "x" * 121, "a\x1b[31m", "a\x9b", "a\u202eb", "a\u200bb", "a\nb", "a\x00", "a\ud800",
     "a\u2028b", "a\ue000", "a\u0378"],
    ids=ascii,
)  # fmt: skip
def test_text_that_could_deceive_is_refused(text: str) -> None:
    with pytest.raises(InputError) as caught:
        clean_text(text, "name")
    assert caught.value.field == "name"
    assert caught.value.text.isprintable()


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=40), st.booleans())
def test_whatever_passes_the_door_has_a_canonical_form(text: str, lines: bool) -> None:
    try:
        cleaned = clean_text(text, "note", empty=True, lines=lines)
    except InputError:
        return
    canonical({"text": cleaned})


def test_moment_knows_its_zone() -> None:
    assert Moment(0, -210).iso == "1969-12-31T20:30:00-03:30"
    assert Moment(-1, 0).local.year == 1969


@pytest.mark.parametrize(
    ("us", "offset"),
    [(2**60, 0), (-(2**60), 0), (0, 1081), (0, -1081), (1.5, 0), (True, 0), (0, 0.5)],
)
def test_moments_out_of_range_are_refused(us: int, offset: int) -> None:
    with pytest.raises(InputError):
        Moment(us, offset)


anchors = st.builds(
    Anchor,
    st.from_regex(r"[A-Z0-9-]{1,32}", fullmatch=True),
    st.integers(1, 2**53 - 1),
    st.integers(1, 2**53 - 1),
    st.binary(min_size=32, max_size=32),
)


@settings(max_examples=200, deadline=None)
@given(anchors)
def test_anchor_reads_back(anchor: Anchor) -> None:
    assert parse_anchor(anchor.text) == anchor
    assert parse_anchor(f"  {anchor.text.replace(' ', '   ')}\n") == anchor
    assert len(anchor.text.split()) == 5
    assert len(anchor.head_text) == 52


GOOD = Anchor("QUAY-2", 1, 7, bytes(range(32))).text


@pytest.mark.parametrize(
    "text",
    [
        "",
        GOOD[:-1],
        GOOD + "A",
        GOOD[:-1] + "B",  # a bit beyond the 256th
        GOOD.lower(),
        GOOD.replace("FILLWRIGHT1", "FILLWRIGHT2"),
        GOOD.replace(" 7 ", " 0 "),
        GOOD.replace(" 7 ", " -7 "),
        GOOD.replace(" 7 ", " 07 "),
        GOOD.replace(" 7 ", " ٧ "),
        GOOD.replace(" 7 ", " 9999999999999999 "),
        GOOD.replace("QUAY-2", "quay-2"),
        GOOD.replace("QUAY-2", "Q" * 33),
        GOOD + " more",
        "x" * 10_000,
    ],
    ids=lambda text: text[:50],
)
def test_other_lines_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_anchor(text)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=80) | anchors.map(lambda anchor: anchor.text), st.data())
def test_any_line_is_read_or_refused(text: str, data: st.DataObject) -> None:
    words = data.draw(st.permutations(text.split(" ")))
    try:
        anchor = parse_anchor(" ".join(words))
    except FillwrightError:
        return
    assert anchor.text == " ".join(words)
