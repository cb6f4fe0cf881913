"""Parcels and answers as a stranger would make them: refused in words, never half entered."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blender.errors import FillwrightError, InputError
from blender.record import chain, news, parcel
from blender.record.canonical import canonical
from blender.station.site_answer import make_answer
from blender.station.site_news import receive
from tests.sites.shops import Site, take, take_at

_SAME = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@pytest.fixture(name="sent")
def _sent(three: list[Site]) -> bytes:
    three[1].work(3)
    return three[1].send()


@pytest.fixture(name="answer")
def _answer(three: list[Site]) -> bytes:
    take_at(three[0], three[1])
    return make_answer(three[0].station)[0]


def cut_or_turned(content: bytes, data: st.DataObject) -> bytes:
    """A file with a byte changed, cut off, doubled, or with a line out of place."""
    how, at = data.draw(st.integers(0, 4)), data.draw(st.integers(0, len(content) - 1))
    if how == 0:
        return (
            content[:at] + bytes([content[at] ^ data.draw(st.integers(1, 255))]) + content[at + 1 :]
        )
    if how == 1:
        return content[:at]
    if how == 2:
        return content[:at] + content[at:] + content[at:]
    lines = content.split(b"\n")
    where = at % (len(lines) - 1)
    if how == 3:
        del lines[where]
    else:
        lines.insert(where, lines[where])
    return b"\n".join(lines)


@_SAME
@given(st.data())
def test_a_parcel_changed_on_the_way_is_refused_or_is_the_same(
    three: list[Site], sent: bytes, data: st.DataObject
) -> None:
    office = three[0]
    changed = cut_or_turned(sent, data)
    before = office.record.head()
    try:
        said = parcel.unpack(changed)
    except InputError as error:
        assert error.field == "parcel"
        with pytest.raises(InputError):
            take(office, changed)
    else:  # only a line end that carries nothing may go
        assert said == parcel.unpack(sent)
    assert office.record.head() == before


@_SAME
@given(st.data())
def test_an_answer_changed_on_the_way_is_refused_or_is_the_same(
    three: list[Site], answer: bytes, data: st.DataObject
) -> None:
    changed = cut_or_turned(answer, data)
    before = three[1].record.head()
    try:
        said = news.unpack(changed)
    except InputError as error:
        assert error.field == "answer"
        with pytest.raises(InputError):
            receive(three[1].station, changed)
    else:
        assert said == news.unpack(answer)
    assert three[1].record.head() == before


@given(st.binary(max_size=300))
def test_bytes_are_no_parcel_and_no_answer(content: bytes) -> None:
    for word in (b"", b'["fillwright parcel 1",', b'["fillwright answer 1",'):
        for read in (parcel.unpack, news.unpack):
            with pytest.raises(InputError):
                read(word + content)


@pytest.mark.parametrize("read", [parcel.unpack, news.unpack])
@pytest.mark.parametrize("text", ["[" * 100_000, '["fillwright parcel 1", ' + "[" * 90_000])
def test_what_is_nested_deep_is_refused(read: Any, text: str) -> None:
    with pytest.raises(InputError):
        read(text.encode())


@pytest.mark.parametrize(("module", "read"), [(parcel, parcel.unpack), (news, news.unpack)])
def test_what_is_too_long_is_refused_unread(module: Any, read: Any, monkeypatch: Any) -> None:
    monkeypatch.setattr(module, "MOST_BYTES", 1000)
    with pytest.raises(InputError, match="at most 1000"):
        read(b"[" * 1001)


# -- signed by a station that has gone wrong ----------------------------------------------------


def test_a_parcel_cannot_say_that_it_is_another_stations(three: list[Site], sent: bytes) -> None:
    office, quay, reef = three
    said = parcel.unpack(sent)
    header = replace(said.header, station="REEF-3", key=reef.key)
    with pytest.raises(InputError, match="seal does not hold"):
        take(office, b"".join(parcel.spell(header, said.rows, quay.station.keys)))
    header = replace(said.header, station="REEF-3")
    with pytest.raises(FillwrightError, match="another key"):
        take(office, b"".join(parcel.spell(header, said.rows, quay.station.keys)))


@pytest.mark.parametrize(
    "change",
    [
        {"after": -1},
        {"after": 10**15, "entries": 10**15 + 5},
        {"entries": 10**6},
        {"incarnation": 0},
        {"head": "zz"},
        {"station": "quay/../x"},
        {"made_us": -1},
    ],
)
def test_a_header_of_what_cannot_be_is_refused(
    three: list[Site], sent: bytes, change: dict[str, Any]
) -> None:
    office, quay, _ = three
    said = parcel.unpack(sent)
    header = replace(said.header, **change)
    made = b"".join(parcel.spell(header, said.rows, quay.station.keys))
    if "made_us" in change:
        assert take(office, made)["taken"] == said.header.entries
        return
    with pytest.raises(FillwrightError):
        take(office, made)
    assert office.knows("QUAY-2").entries == 0


HOSTILE = [
    "\x1b[2J", "[bold]x[/]", "=1+1", "../../etc/passwd", "'; DROP TABLE entry;--", "\u202etxt",
    "x" * 5000, "\ud800", 2**70, -1, 1.5, None, [], {}, True, "NaN",
]  # fmt: skip


def resigned(office: Site, content: dict[str, Any], answer: bytes) -> bytes:
    """An answer of other content, signed by the office all the same."""
    said = news.unpack(answer)
    try:
        return news.spell(said.root, said.signature, content, office.station.keys)
    except UnicodeEncodeError:
        text = json.dumps(content).encode()
        header = json.loads(answer.split(b"\n")[0])
        body = json.loads(header[1]) | {"content": __import__("hashlib").sha256(text).hexdigest()}
        spelled = canonical(body)
        value = office.station.keys.seal_key.sign(chain.answer_digest(spelled)).hex()
        first = json.dumps([news.HEADING, spelled.decode(), value]).encode()
        return first + b"\n" + text + b"\n"


@pytest.mark.parametrize("name", ["cylinders", "fills", "analysed", "heads", "proofs"])
@pytest.mark.parametrize("value", HOSTILE, ids=[ascii(one)[:12] for one in HOSTILE])
def test_an_answer_of_hostile_facts_is_refused_whole(
    three: list[Site], answer: bytes, name: str, value: Any
) -> None:
    office, quay, _ = three
    before = quay.record.head()
    content = json.loads(answer.split(b"\n")[1])
    rows = {"cylinders": CYLINDER, "fills": FILL, "analysed": ANALYSED}
    changes = [value]
    if name in rows:
        changes = [[{**rows[name], fact: value}] for fact in rows[name]]
    elif name == "heads":
        changes += [[value], [["QUAY-2", value, 3, "00" * 32]], content["heads"][::-1]]
    else:
        changes += [{"QUAY-2": value}, {"QUAY-2": [value]}, {}]
    for change in changes:
        made = resigned(office, {**content, name: change}, answer)
        try:
            receive(quay.station, made)
        except InputError:
            assert quay.record.head() == before
        else:  # a fact that may be so: 'True' is no number, but '-1' is a mix not analysed
            assert name in rows
            assert value in (-1, None, True, "=1+1", "[bold]x[/]", "../../etc/passwd", "NaN",
                             "'; DROP TABLE entry;--")  # fmt: skip
            return


CYLINDER = {
    "site": "OFFICE-1", "serial": "C-77", "size_ml": 12000, "posts": 1, "size_typed": "12L",
    "wp_mbar": 232000, "tp_mbar": 348000, "tested": "2025-03", "inspected": "2026-02",
    "clean": True, "o2_ppm": 320000, "he_ppm": -1, "analysed_us": 5, "hold": "",
}  # fmt: skip
FILL = {
    "site": "OFFICE-1", "fill": 3, "serial": "C-77", "state": "resting",
    "have_typed": "60bar@20C:EAN28", "residual": "analysed", "want_typed": "230bar:EAN32",
    "want_mbar": 230000, "want_o2_ppm": 320000, "want_he_ppm": 0, "settle_mk": 293150,
    "method": "partial-pressure", "ambient_typed": "", "gauge_mbar": 230000, "temp_mk": 293150,
    "gauge": "", "has_helium": False, "offset_min": 60, "contents_umol": [1, 0, 2, 0],
    "filled_by": "Jo Blend", "filled_us": 5, "at_seq": 9, "digest": "00" * 32,
}  # fmt: skip
ANALYSED = {
    "site": "QUAY-2", "by_site": "OFFICE-1", "fill": 3, "of_seq": 9, "of_digest": "00" * 32,
    "by_fill": 1, "by_seq": 4, "by_digest": "00" * 32, "state": "analysed", "o2_ppm": 1,
    "he_ppm": -1, "at_us": 5,
}  # fmt: skip


def test_the_rows_that_hostile_ones_are_made_of_are_taken(three: list[Site], answer: bytes) -> None:
    office, quay, _ = three
    content = json.loads(answer.split(b"\n")[1])
    rows = {"cylinders": [CYLINDER], "fills": [FILL], "analysed": [ANALYSED]}
    made = receive(quay.station, resigned(office, {**content, **rows}, answer))
    # An analysis of an entry that this record has not is no news of any fill of it.
    assert (made["cylinders"], made["fills"], made["analysed"]) == (1, 1, 0)


def test_as_many_rows_as_may_be_fit_into_entries(three: list[Site], answer: bytes) -> None:
    office, quay, _ = three
    content = json.loads(answer.split(b"\n")[1])
    long = {"hold": "\u6f22" * 200, "size_typed": "\u6f22" * 40}
    many = [{**CYLINDER, **long, "serial": f"C-{number}"} for number in range(90)]
    fills = [{**FILL, "fill": n + 1, "method": "\u6f22" * 120, "filled_by": "\u6f22" * 200}
             for n in range(90)]  # fmt: skip
    made = resigned(office, {**content, "cylinders": many, "fills": fills}, answer)
    assert receive(quay.station, made)["cylinders"] == 90


def test_a_place_with_a_damaged_database_is_told_of(three: list[Site]) -> None:
    office, quay, _ = three
    quay.work(1)
    for bad in (b"", b"SQLite format 3\x00" + bytes(2000), bytes(5000)):
        quay.place.write_bytes(bad)
        with pytest.raises(FillwrightError):
            take_at(office, quay)
    quay.place.unlink()
    with pytest.raises(InputError):
        take_at(office, quay)
