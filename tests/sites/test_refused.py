"""What does not continue what the office has is refused in words, and is an exception."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from blender.errors import InputError, RecordError, RefusedError
from blender.record import chain, parcel, shop, start
from blender.record.anchor import Anchor
from blender.record.journal import Record
from blender.record.restore import admitted
from blender.record.shop_root import ShopRoot, as_data, root_of
from blender.record.unit import entry_at
from blender.record.verify import verify
from blender.record.witness import path_of
from blender.station import restoring, safekeeping, sites
from blender.station.desk import Station
from blender.station.site_news import receive
from tests.sites.shops import MANAGER, Site, exchange, take, take_at
from tests.station.shop import SECRET


def rolled_back(site: Site, copy: bytes, more: int = 0) -> Site:
    """Put an older copy in the record's place, and go on from there."""
    site.close()
    site.place.write_bytes(copy)
    again = Site.open(site.place, site.clock)
    again.record.beside = Path(site.place)
    again.work(more)
    return again


@pytest.mark.parametrize("more", [0, 2, 9])
@pytest.mark.parametrize("by_parcel", [True, False])
def test_a_record_put_back_is_refused(three: list[Site], more: int, by_parcel: bool) -> None:
    office, quay, _ = three
    copy = quay.place.read_bytes()
    quay.work(5)
    take_at(office, quay)
    quay.clock.turn(10)
    again = rolled_back(quay, copy, more)
    with pytest.raises(RefusedError, match=r"cut short|rewritten"):
        take(office, again.send(after=0)) if by_parcel else take_at(office, again)
    assert len(office.exceptions("site-refused")) == 1
    with pytest.raises(RefusedError):
        take(office, again.send(after=0)) if by_parcel else take_at(office, again)
    assert len(office.exceptions("site-refused")) == 1  # said once
    again.close()


def test_a_record_rewritten_from_the_start_is_refused(three: list[Site], tmp_path: Path) -> None:
    office, quay, _ = three
    quay.work(3)
    take_at(office, quay)
    other = Site.found(tmp_path / "other", "QUAY-2")
    with pytest.raises(RefusedError, match="another key"):
        take_at(office, other)
    assert "another key" in office.exceptions("site-refused")[0]
    other.close()


def test_a_station_nobody_entered_is_not_taken(three: list[Site], tmp_path: Path) -> None:
    office = three[0]
    other = Site.found(tmp_path / "other", "STRANGER")
    with pytest.raises(InputError, match="no such station of the shop"):
        take(office, other.send())
    other.close()


def test_a_copy_lost_at_the_office_is_made_anew_and_still_held_to(three: list[Site]) -> None:
    office, quay, _ = three
    quay.work(4)
    take_at(office, quay)
    for path in office.place.with_name("station.db.sites").iterdir():
        path.unlink()
    with pytest.raises(InputError, match="--after 0"):
        take(office, quay.send(after=quay.record.head().seq - 1))
    assert take_at(office, quay)["taken"] == quay.record.head().seq


def test_a_copy_lost_at_the_office_opens_no_way_for_a_rewrite(three: list[Site]) -> None:
    office, quay, _ = three
    copy = quay.place.read_bytes()
    quay.work(4)
    take_at(office, quay)
    for path in office.place.with_name("station.db.sites").iterdir():
        path.unlink()
    again = rolled_back(quay, copy, 6)
    with pytest.raises(RefusedError, match="rewritten"):
        take_at(office, again)
    again.close()


def test_a_restore_is_let_on_whole_and_noted_and_its_former_life_is_kept(
    three: list[Site], tmp_path: Path
) -> None:
    office, quay, _ = three
    made = safekeeping.make_copy(quay.record, quay.station.keys, quay.clock, tmp_path / "copies")
    quay.work(5)
    take_at(office, quay)
    had = quay.record.head().seq
    quay.close()
    restore(quay, Path(made["copy"]))
    again = Site.open(quay.place, quay.clock)
    assert again.record.head().incarnation == 2
    with pytest.raises(InputError, match="whole record is needed"):
        take(office, again.send(after=again.record.head().seq - 1))
    note = take(office, again.send(after=0))["note"]
    assert f"{had} are kept here" in note
    assert "restored from a copy" in office.exceptions("site-restored")[0]
    kept = sorted(one.name for one in office.place.with_name("station.db.sites").glob("*.db"))
    assert kept == ["QUAY-2-1.db", "QUAY-2-2.db"]
    again.work(2)
    assert take_at(office, again)["taken"] == 2
    again.close()


def restore(site: Site, copy: Path) -> None:
    """Put a copy in the record's place as `fillwright restore --move-aside` does."""
    replaced = restoring.check_place(site.place, aside=True)
    with admitted(copy, site.place, None) as candidate:
        with Record.open(candidate.path) as record:
            station = Station(record, site.station.keys, site.clock)
            mara = station.sign_in(MANAGER, SECRET)
            restoring.enter(station, mara, candidate, reason="disk died", replaced=replaced)
        aside = site.place.with_name("aside")
        restoring.settle(candidate, site.place, aside, for_reading=False)


@pytest.mark.parametrize("back_before", [True, False])
def test_a_record_put_back_to_before_a_root_is_found_by_verify_and_at_the_start(
    three: list[Site], back_before: bool
) -> None:
    _office, quay, _reef = three
    quay.work(2)
    copy = quay.place.read_bytes()
    quay.work(3)
    exchange(*three)
    after_root = quay.place.read_bytes()
    quay.work(3)
    again = rolled_back(quay, copy if back_before else after_root)
    found = start.held_against_checkpoint(again.record)
    assert [one.kind for one in found] == (["root"] if back_before else [])
    if back_before:
        assert "older copy put back" in found[0].text
        with pytest.raises(RecordError, match="root"):
            start.check_start(again.record, again.station.keys)
    else:
        start.check_start(again.record, again.station.keys)
    assert verify(again.place).ok  # the chain alone does not show it
    again.close()


def test_without_the_file_beside_it_the_next_root_finds_it(three: list[Site]) -> None:
    _office, quay, _reef = three
    copy = quay.place.read_bytes()
    quay.work(3)
    first = exchange(*three)
    again = rolled_back(quay, copy)
    path_of(Path(again.place)).unlink()
    before = again.record.head()
    with pytest.raises(RecordError, match="older copy put back"):
        receive(again.station, first)
    assert again.record.head() == before  # nothing half entered
    again.close()


def test_a_root_of_another_history_is_found_in_the_record_itself(three: list[Site]) -> None:
    """A head that is not in the chain, under a root that the office did sign."""
    office, quay, _ = three
    exchange(*three)
    with quay.record.read() as conn:
        row = shop.last_root(conn)
        assert row is not None
        entry = entry_at(conn, "QUAY-2", row.seq)
    assert entry is not None
    heads = [Anchor(s, i, n, bytes.fromhex(h)) for s, i, n, h in entry.data["heads"]]
    forged = [replace(one, head=bytes(32)) if one.station == "QUAY-2" else one for one in heads]
    keys = office.station.keys
    root = ShopRoot("OFFICE-1", office.key, 1, 9, 1, 3, root_of(forged))
    own = next(one for one in forged if one.station == "QUAY-2")
    data = as_data(root, root.sign(keys), forged, own)
    with quay.record.write() as unit:
        unit.append("root.witnessed", data, at=quay.clock(), seal=quay.station.keys)
    problems = verify(quay.place).problems
    assert [(one.kind, one.seq) for one in problems] == [("root", own.seq)]
    assert "rewritten" in problems[0].text


@pytest.mark.parametrize("broken", ["signature", "proof", "root", "key", "heads"])
def test_an_entry_that_witnesses_nothing_is_found(three: list[Site], broken: str) -> None:
    _office, quay, _ = three
    exchange(*three)
    with quay.record.read() as conn:
        row = shop.last_root(conn)
        assert row is not None
        entry = entry_at(conn, "QUAY-2", row.seq)
    assert entry is not None
    data = dict(entry.data) | {"number": 7}
    other = {
        "signature": "00" * 64,
        "proof": ["00" * 32],
        "root": "ab" * 32,
        "key": "x",
        "heads": [],
    }
    data |= {broken: other[broken]}
    with quay.record.write() as unit:
        unit.append("root.witnessed", data, at=quay.clock(), seal=quay.station.keys)
    assert "root" in {one.kind for one in verify(quay.place).problems}


def test_after_a_restore_a_root_of_the_former_life_is_no_damage(
    three: list[Site], tmp_path: Path
) -> None:
    office, quay, reef = three
    made = safekeeping.make_copy(quay.record, quay.station.keys, quay.clock, tmp_path / "copies")
    quay.work(2)
    answer = exchange(*three)
    quay.close()
    restore(quay, Path(made["copy"]))
    again = Site.open(quay.place, quay.clock)
    again.record.beside = Path(quay.place)
    assert start.held_against_checkpoint(again.record) == []
    assert receive(again.station, answer)["new"]
    assert verify(again.place).ok
    exchange(office, again, reef)
    assert verify(again.place).ok
    again.close()


def test_a_restored_office_goes_on_without_contradicting_itself(
    three: list[Site], tmp_path: Path
) -> None:
    office, quay, reef = three
    copies = tmp_path / "copies"
    made = safekeeping.make_copy(office.record, office.station.keys, office.clock, copies)
    exchange(*three)
    quay.work(1)
    exchange(*three)
    office.close()
    restore(office, Path(made["copy"]))
    again = Site.open(office.place, office.clock)
    again.record.beside = Path(office.place)
    exchange(again, quay, reef)  # its copies are ahead of it, and its roots count anew
    for one in (again, quay, reef):
        assert verify(one.place).ok
        assert one.exceptions("site-refused") == []
    with quay.record.read() as conn:
        last = shop.last_root(conn)
    assert last is not None
    assert (last.life, last.number) == (2, 1)
    again.close()


def test_entries_that_do_not_verify_are_refused(three: list[Site]) -> None:
    """Sealed as a parcel by the station itself, with a body whose signature is not its signer's."""
    office, quay, _ = three
    with quay.record.write() as unit:
        unit.append("note", {}, at=quay.clock(), by=quay.mara.signer, meaning="noted")
    header, rows = sites.pack(quay.record, quay.station.keys, quay.clock())
    last = rows[-1]
    body = last.body.replace(b'"meaning":"noted"', b'"meaning":"moved"')
    own = chain.digest(last.prev, body)
    rows[-1] = last._replace(body=body, digest=own)
    content = b"".join(parcel.spell(replace(header, head=own.hex()), rows, quay.station.keys))
    with pytest.raises(RefusedError, match="signature"):
        take(office, content)
    assert office.knows("QUAY-2").entries == 0
    assert take_at(office, quay)["taken"] == quay.record.head().seq


def test_an_entry_no_program_of_ours_would_enter_is_refused_whole(three: list[Site]) -> None:
    office, quay, _ = three
    quay.work(1)
    with quay.record.write() as unit:  # no projection of this is made at the site itself
        unit._projector = _Nothing()
        unit.append("cylinder.added", {"serial": ["?"]}, at=quay.clock())
    with pytest.raises(RecordError, match="not what its kind has"):
        take_at(office, quay)
    assert office.knows("QUAY-2").entries == 0


class _Nothing:
    TABLES = ()

    def apply(self, *_: object) -> None:
        """Make nothing of it."""
