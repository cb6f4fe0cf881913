"""A customer is forgotten: nothing of them is left in the file, and the record still verifies."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from blender.errors import InputError, RefusedError
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import book, export, handover, papers, people, privacy, takeaway
from blender.station.person_page import person_view
from blender.station.register import people as everybody
from blender.station.safekeeping import make_copy
from tests.station.shop import Shop

KANJI = "\u6c34\u91ce \u9752"


def signed_for(shop: Shop, name: str, strokes: Sequence[Sequence[tuple[int, int]]]) -> int:
    fill = shop.analysed(customer=name)
    answer = handover.accept(
        shop.station, shop.jo, fill, name=name, reading="31.8", strokes=strokes
    )
    shop.collect(fill, str(answer.facts["anchor"]))
    return fill


def add(shop: Shop, name: str, phone: str = "") -> str:
    added = people.add_person(shop.station, shop.jo, name=name, role="customer", certified="nitrox")
    if phone:
        privacy.set_phone(shop.station, shop.jo, added["person"], phone)
    return str(added["person"])


def strokes_of(seed: int) -> list[list[tuple[int, int]]]:
    dice = random.Random(seed)
    return [[(dice.randrange(1000), dice.randrange(1000)) for _ in range(12)] for _ in range(3)]


def traces(shop: Shop, *texts: str) -> list[str]:
    """Which texts stand in any file of the station."""
    found = b"".join(path.read_bytes() for path in shop.path.parent.iterdir() if path.is_file())
    return [text for text in texts if text.encode() in found]


def spelled(strokes: Sequence[Sequence[tuple[int, int]]]) -> str:
    return json.dumps(strokes, separators=(",", ":"))


@pytest.mark.parametrize("name", ["Yara Quist", KANJI, 'O\'Neill "Bo" [/]'])
def test_nothing_of_them_is_left_and_the_record_verifies(shop: Shop, name: str) -> None:
    ident, drawn = add(shop, name, "+49 170 5550123"), strokes_of(3)
    fill = signed_for(shop, name, drawn)
    stored = json.dumps(name, ensure_ascii=False)[1:-1]
    texts = (stored, "5550123", spelled(drawn))
    assert traces(shop, *texts) == list(texts)
    head = shop.seq()
    said = privacy.erase(shop.station, shop.mara, name, reason="asked in writing")
    assert said["cleared"]
    assert said["fills"] == [fill]
    assert said["named_in"] == []
    shop.station.record.close()
    assert traces(shop, *texts) == []
    again = Shop.open(shop.path)
    assert verify(shop.path).problems == []
    tables = again.tables()
    rebuild(again.station.record)
    assert again.tables() == tables
    assert again.seq() == head + 1
    assert name not in again.last().body.decode()
    assert ident in again.last().body.decode()
    assert traces(again, *texts) == []
    again.station.record.close()


def test_views_and_reprints_say_erased(shop: Shop) -> None:
    ident = add(shop, "Yara Quist")
    fill = signed_for(shop, "Yara Quist", strokes_of(4))
    privacy.erase(shop.station, shop.mara, "Yara Quist", reason="asked")
    record = shop.station.record
    (line,) = book.fills(record)["fills"]
    assert line["customer"] == f"erased ({ident})"
    label = papers.label_view(record, fill)
    assert label.accepted_by == "(erased)"
    assert label.strokes == ()
    log = export.log_view(record, "2026-11-01", "2026-11-30", shop.clock())
    assert (log.lines[0].customer, log.lines[0].accepted_by) == (f"erased ({ident})", "")
    told = "\n".join(book.story_lines(book.story(record, fill)))
    assert "(erased)" in told
    assert "Yara" not in told
    assert "Yara" not in json.dumps(everybody(record))
    rows = [list(row) for table in takeaway.TABLES for row in table.rows(record, shop.clock())]
    assert "Yara" not in str(rows)
    with pytest.raises(InputError, match="erased"):
        shop.request(customer=ident)


def test_an_open_fill_keeps_a_customer(shop: Shop) -> None:
    add(shop, "Yara Quist")
    fill = shop.request(customer="Yara Quist")
    count = shop.seq()
    with pytest.raises(RefusedError, match=f"{fill} \\(requested\\)"):
        privacy.erase(shop.station, shop.mara, "Yara Quist", reason="asked")
    assert shop.seq() == count
    shop.reject(fill)
    assert privacy.erase(shop.station, shop.mara, "Yara Quist", reason="asked")["rows"] == 2


def test_staff_and_strangers_are_not_erased(shop: Shop) -> None:
    with pytest.raises(RefusedError, match="signatures"):
        privacy.erase(shop.station, shop.mara, "Jo Blend", reason="left")
    for wrong in ("Nobody", "", "' or 1=1 --"):
        with pytest.raises(InputError):
            privacy.erase(shop.station, shop.mara, wrong, reason="asked")


def test_a_reason_that_names_them_is_refused_and_typed_text_is_told(shop: Shop) -> None:
    add(shop, "Yara Quist")
    fill = shop.request(customer="Yara Quist")
    shop.reject(fill, "YARA QUIST went home")
    seq = shop.seq()
    with pytest.raises(InputError, match="names them"):
        privacy.erase(shop.station, shop.mara, "Yara Quist", reason="yara quist asked")
    said = privacy.erase(shop.station, shop.mara, "Yara Quist", reason="asked")
    assert said["named_in"] == [seq]
    assert verify(shop.path).ok


def test_what_was_signed_under_anothers_name_goes_with_its_signer(shop: Shop) -> None:
    """The fill was entered for the wrong customer, then amended: the signature is still theirs."""
    add(shop, "Yara Quist")
    drawn = strokes_of(5)
    fill = shop.analysed(customer="Kai Diver")
    handover.accept(shop.station, shop.jo, fill, name="Yara Quist", reading="31.8", strokes=drawn)
    shop.amend(fill, "customer", "Yara Quist", "wrong card")
    shop.collect(fill, _anchor(shop, fill))
    said = privacy.erase(shop.station, shop.mara, "Yara Quist", reason="asked")
    assert said["fills"] == [fill]
    assert verify(shop.path).problems == []
    assert traces(shop, "Yara Quist", spelled(drawn)) == []
    tables = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == tables


def _anchor(shop: Shop, fill: int) -> str:
    return papers.label_view(shop.station.record, fill).proof.anchor


def test_a_row_that_vanishes_without_an_erasure_is_still_found(shop: Shop) -> None:
    add(shop, "Yara Quist")
    with shop.station.record.write() as unit:
        unit.erase_person(everybody(shop.station.record)["people"][-1]["person"])
    assert "private" in {problem.kind for problem in verify(shop.path).problems}


def test_the_page_says_what_is_held_and_then_what_was_erased(shop: Shop) -> None:
    ident = add(shop, "Yara Quist", "555 0100")
    fill = signed_for(shop, "Yara Quist", strokes_of(6))
    held = person_view(shop.station.record, "Yara Quist", shop.clock())
    assert (held.name, held.phones, held.certified) == ("Yara Quist", ("555 0100",), "nitrox")
    assert [(one.fill, one.signed) for one in held.fills] == [(fill, "signed by hand")]
    privacy.erase(shop.station, shop.mara, ident, reason="asked", copies_until="2027-06-30")
    left = person_view(shop.station.record, ident, shop.clock())
    assert (left.name, left.phones) == (None, ())
    assert left.erased_at is not None
    assert (left.erased_by, left.copies_until) == ("Mara Linde", "2027-06-30")
    assert left.copies is not None
    assert (left.copies.count, left.copies.oldest) == (0, None)
    assert [one.signed for one in left.fills] == ["signature erased"]
    staff = person_view(shop.station.record, "Jo Blend", shop.clock())
    assert staff.signs > 5


def test_the_copies_that_hold_them_are_known_from_the_entries(shop: Shop, tmp_path: Path) -> None:
    """Made between their first entry and their erasure, and not deleted by the station since."""
    folder, keys = tmp_path / "copies", shop.station.keys

    def copy(keep: int = 0) -> str:
        shop.clock.turn(60)
        make_copy(shop.station.record, keys, shop.clock, folder, away=False, keep=keep)
        return shop.last().at.iso

    copy()  # before they were known
    ident = add(shop, "Yara Quist")
    held = [copy() for _ in range(4)]
    copies = privacy.erase(shop.station, shop.mara, ident, reason="asked")["copies"]
    assert copies == {"known": 4, "away": 0, "oldest": held[0], "newest": held[3]}
    copy()
    copy(keep=4)  # its own, the one before, and two that hold them
    left = person_view(shop.station.record, ident, shop.clock()).copies
    assert left is not None
    assert left.as_dict() == {"known": 2, "away": 0, "oldest": held[2], "newest": held[3]}


@pytest.mark.parametrize("phone", ["", "12", "call me", "=1+1", "1" * 60, "+49\n1"])
def test_what_is_no_telephone_number_is_refused(shop: Shop, phone: str) -> None:
    with pytest.raises(InputError, match="--phone"):
        privacy.set_phone(shop.station, shop.jo, "Kai Diver", phone)


@pytest.mark.soak
def test_a_thousand_persons_forgotten_at_random(shop: Shop) -> None:
    dice, people_of, phones = random.Random(11), dict[str, str](), dict[str, str]()
    for number in range(1400):
        name = f"Xq{number:04d} {dice.randrange(10**9):09d}"
        phone = f"+99 {dice.randrange(10**9):09d}"
        who = add(shop, name, phone)
        people_of[who], phones[who] = name, phone
    gone = dice.sample(sorted(people_of), 1000)
    for who in gone:
        privacy.erase(shop.station, shop.mara, who, reason="asked")
    assert traces(shop, *(people_of[who] for who in gone), *(phones[who] for who in gone)) == []
    kept = sorted(people_of.keys() - set(gone))
    assert len(traces(shop, *(people_of[who] for who in kept))) == 400
    assert verify(shop.path).problems == []
