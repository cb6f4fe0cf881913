"""What goes up, what comes down, and what each station enters of it."""

from __future__ import annotations

import pytest

from blender.errors import InputError, RefusedError
from blender.record import merkle, shop
from blender.record.anchor import Anchor
from blender.record.shop_root import leaf, root_of, witnessed
from blender.record.unit import entry_at
from blender.record.verify import verify
from blender.station.site_answer import make_answer
from blender.station.site_news import receive
from tests.sites.shops import Site, exchange, take, take_at


def entries(site: Site, kind: str) -> list[dict]:
    with site.record.read() as conn:
        every = (entry_at(conn, site.ident, n) for n in range(1, site.record.head().seq + 1))
        return [one.data for one in every if one is not None and one.kind == kind]


def test_a_parcel_is_kept_whole_and_entered(three: list[Site]) -> None:
    office, quay, _ = three
    quay.work(7)
    made = take(office, quay.send())
    head = quay.record.head()
    assert (made["entries"], made["taken"], made["head"]) == (head.seq, head.seq, head.head.hex())
    row = office.knows("QUAY-2")
    assert (row.entries, row.head, row.incarnation) == (head.seq, head.head.hex(), 1)


def test_the_same_parcel_again_changes_nothing(three: list[Site]) -> None:
    office, quay, _ = three
    content = quay.send()
    take(office, content)
    before = office.record.head()
    assert take(office, content)["taken"] == 0
    assert take_at(office, quay)["entered"] is False
    assert office.record.head() == before


def test_a_parcel_that_overlaps_adds_only_what_is_new(three: list[Site]) -> None:
    office, quay, _ = three
    take(office, quay.send())
    had = quay.record.head().seq
    quay.work(3)
    assert take(office, quay.send(after=1))["taken"] == 3
    quay.work(2)
    assert take(office, quay.send(after=had + 3))["taken"] == 2


def test_a_gap_is_told_in_words_and_is_no_exception(three: list[Site]) -> None:
    office, quay, _ = three
    quay.work(5)
    with pytest.raises(InputError, match="send --after 0"):
        take(office, quay.send(after=3))
    assert office.exceptions("site-refused") == []


def test_an_older_parcel_that_comes_late_is_no_roll_back(three: list[Site]) -> None:
    office, quay, _ = three
    early = quay.send()
    quay.work(4)
    take(office, quay.send())
    assert take(office, early)["taken"] == 0
    assert office.exceptions("site-refused") == []


def test_every_station_enters_the_root_with_the_proof_of_its_own_head(three: list[Site]) -> None:
    office, quay, reef = three
    quay.work(2)
    heads = {one.ident: one.record.head() for one in (quay, reef)}
    exchange(office, quay, reef)
    for site in three:
        (data,) = entries(site, "root.witnessed")
        root, own = witnessed(site.ident, data)
        assert root.office == "OFFICE-1"
        assert own == heads.get(site.ident, own)
        over = [Anchor(s, i, n, bytes.fromhex(h)) for s, i, n, h in data["heads"]]
        assert [one.station for one in over] == ["OFFICE-1", "QUAY-2", "REEF-3"]
        assert root.root == root_of(over) == merkle.root([leaf(one) for one in over])
        assert verify(site.place).ok


def test_all_stations_have_one_root_and_so_witness_each_other(three: list[Site]) -> None:
    exchange(*three)
    roots = {entries(site, "root.witnessed")[0]["root"] for site in three}
    assert len(roots) == 1


def test_the_same_answer_again_enters_nothing(three: list[Site]) -> None:
    office, quay, _reef = three
    answer = exchange(*three)
    before = quay.record.head()
    assert receive(quay.station, answer)["new"] is False
    assert quay.record.head() == before
    again, told = make_answer(office.station)
    assert told["new"] is False
    assert again == answer


def test_an_older_answer_that_comes_late_is_left_alone(three: list[Site]) -> None:
    _office, quay, _reef = three
    first = exchange(*three)
    quay.work(1)
    exchange(*three)
    before = quay.record.head()
    assert receive(quay.station, first)["new"] is False
    assert quay.record.head() == before


def test_an_office_that_signs_two_roots_of_one_number_is_found_out(three: list[Site]) -> None:
    office, quay, reef = three
    take_at(office, quay)
    copy = office.place.read_bytes()
    first, _ = make_answer(office.station)
    office.close()
    office.place.write_bytes(copy)
    forked = Site.open(office.place, office.clock)
    take_at(forked, reef)
    second, _ = make_answer(forked.station)
    forked.close()
    receive(quay.station, first)
    with pytest.raises(RefusedError, match="two different roots of number 1"):
        receive(quay.station, second)
    assert "two different roots" in quay.exceptions("site-refused")[0]


def test_a_station_takes_only_what_its_own_office_signed(three: list[Site]) -> None:
    office, quay, reef = three
    take_at(office, quay)
    answer, _ = make_answer(office.station)
    with pytest.raises(InputError, match="REEF-3 is not among"):
        receive(reef.station, answer)
    with pytest.raises(RefusedError, match="no office of the shop is named here"):
        receive(office.station, answer)


def test_what_the_office_is_known_to_have_is_not_sent_again(three: list[Site]) -> None:
    _office, quay, _reef = three
    had = quay.record.head().seq
    exchange(*three)
    assert quay.send().count(b"\n") == 1 + quay.record.head().seq - had


def test_without_any_other_station_there_is_no_root(three: list[Site]) -> None:
    with pytest.raises(InputError, match="no other station's record came yet"):
        make_answer(three[0].station)


def test_the_root_names_heads_a_paper_can_be_held_against(three: list[Site]) -> None:
    _office, quay, reef = three
    exchange(*three)
    with reef.record.read() as conn:
        row = shop.last_root(conn)
        assert row is not None
        data = entry_at(conn, "REEF-3", row.seq)
    assert data is not None
    named = {
        one[0]: Anchor(one[0], one[1], one[2], bytes.fromhex(one[3])) for one in data.data["heads"]
    }
    quay.work(2)
    assert verify(quay.place, named["QUAY-2"]).ok  # what REEF-3 holds of QUAY-2
