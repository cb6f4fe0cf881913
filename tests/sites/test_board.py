"""The office's view over all stations, from their verified copies."""

from __future__ import annotations

import sqlite3

import pytest

from blender.errors import InputError, RefusedError
from blender.station import equipment, sites
from blender.station.site_board import board, check, detail_lines, head_line, standing
from blender.station.site_taking import HEARD_US, sync
from tests.sites.shops import Site, exchange, introduce, take_at
from tests.station.shop import Shop


def of(office: Site, ident: str) -> dict:
    return next(
        one for one in board(office.record, office.clock())["sites"] if one["site"] == ident
    )


def test_every_station_is_on_it_the_office_first(three: list[Site]) -> None:
    office, quay, _ = three
    told = board(office.record, office.clock())
    assert [one["site"] for one in told["sites"]] == ["OFFICE-1", "QUAY-2", "REEF-3"]
    assert of(office, "QUAY-2")["error"] == "nothing came from it yet"
    equipment.add_supply(quay.station, quay.mara, name="o1", gas="oxygen99.5", size="50L",
                         at="180bar")  # fmt: skip
    exchange(*three)
    told = of(office, "QUAY-2")
    assert told["head"].startswith("FILLWRIGHT1 QUAY-2 1 ")
    assert (told["open_fills"], told["fills_today"], told["fills_week"]) == (0, 0, 0)
    assert [(one["name"], round(one["pressure_bar"])) for one in told["gas"]] == [("o1", 180)]
    assert told["heard_at"].startswith("2026-11-25T")
    assert board(office.record, office.clock())["number"] == 1


def test_what_is_refused_is_an_exception_of_the_office(three: list[Site]) -> None:
    office, quay, _ = three
    copy = quay.place.read_bytes()
    quay.work(2)
    take_at(office, quay)
    quay.close()
    quay.place.write_bytes(copy)
    with pytest.raises(RefusedError):
        take_at(office, quay)
    (noted,) = of(office, "OFFICE-1")["exceptions"]
    assert noted["kind"] == "site-refused"
    assert "QUAY-2: its record ends with entry 3" in noted["text"]


def test_a_refused_record_is_marked_on_its_own_line_until_it_comes_again(
    three: list[Site],
) -> None:
    office, quay, _ = three
    had, was = quay.place.read_bytes(), quay.record.head().seq
    quay.work(2)
    take_at(office, quay)
    assert of(office, "QUAY-2")["mark"] is None
    newest = quay.place.read_bytes()
    quay.close()
    for _ in range(2):
        quay.place.write_bytes(had)
        with pytest.raises(RefusedError):
            take_at(office, quay)
        mark = f"refused 2026-11-25: its record ends with entry {was}"
        told = of(office, "QUAY-2")
        assert told["mark"].startswith(mark)
        assert f"! {mark}" in head_line(told)
        assert ("Mind", told["mark"], True) in detail_lines(told)
        assert check(office.record)[0]["mark"] == told["mark"]
        quay.place.write_bytes(newest)
        assert take_at(office, quay)["entered"] is True  # though nothing of it is new
        assert of(office, "QUAY-2")["mark"] is None
        assert take_at(office, quay)["entered"] is False


def test_a_station_out_of_reach_is_marked_since_the_first_time(three: list[Site]) -> None:
    office, quay, reef = three
    for one in (quay, reef):
        sites.add_site(office.station, office.mara, site=one.ident, name="x", key=one.key,
                       place=str(one.place))  # fmt: skip
    sync(office.station)
    away = reef.place.rename(reef.place.with_name("away.db"))
    office.clock.us += 60_000_000
    sync(office.station)
    first = of(office, "REEF-3")["mark"]
    assert first.startswith("not reached since 2026-11-25 ")
    assert "not there" in first
    office.clock.us += HEARD_US
    before = office.record.head().seq
    sync(office.station)
    assert of(office, "REEF-3")["mark"] == first  # entered once
    assert len(office.exceptions("site-unreached")) == 1
    assert office.record.head().seq == before + 1  # of QUAY-2, heard again
    away.rename(reef.place)
    sync(office.station)
    assert of(office, "REEF-3")["mark"] is None


def test_a_fill_of_today_is_one_of_the_week(shop_: Shop) -> None:
    shop_.request()
    told = standing(shop_.station.record, shop_.clock())
    assert (told["fills_today"], told["fills_week"]) == (1, 1)
    shop_.clock.turn(6 * 24 * 60)
    assert standing(shop_.station.record, shop_.clock())["fills_week"] == 1
    shop_.clock.turn(24 * 60)
    told = standing(shop_.station.record, shop_.clock())
    assert (told["fills_today"], told["fills_week"]) == (0, 0)


def test_a_supply_without_size_has_no_amount_on_record(shop_: Shop) -> None:
    equipment.add_supply(shop_.station, shop_.mara, name="o1", gas="oxygen99.5")
    told = board(shop_.station.record, shop_.clock())["sites"][0]
    texts = [text for _, text, _ in detail_lines(told)]
    assert "o1 oxygen99.5: amount not on record" in texts


def test_a_copy_altered_at_the_office_is_found(three: list[Site]) -> None:
    office, quay, _reef = three
    quay.work(3)
    exchange(*three)
    assert [one["ok"] for one in check(office.record)] == [True, True]
    (path,) = office.place.with_name("station.db.sites").glob("QUAY-2-1.db")
    raw = sqlite3.connect(path)
    raw.execute("DROP TRIGGER entry_no_update")
    raw.execute(
        "UPDATE entry SET body = CAST(replace(body, 'after', 'AFTER') AS BLOB) WHERE seq = 4"
    )
    raw.commit()
    raw.close()
    quay_copy, reef_copy = check(office.record)
    assert (quay_copy["ok"], reef_copy["ok"]) == (False, True)
    assert any("entry 4" in one for one in quay_copy["problems"])
    assert "changed" in of(office, "QUAY-2")["error"]


def test_a_copy_put_back_at_the_office_is_found(three: list[Site]) -> None:
    office, quay, _ = three
    take_at(office, quay)
    (path,) = office.place.with_name("station.db.sites").glob("QUAY-2-1.db")
    before = path.read_bytes()
    quay.work(2)
    take_at(office, quay)
    path.write_bytes(before)
    assert "altered" in of(office, "QUAY-2")["error"]
    assert not check(office.record)[0]["ok"]
    assert take_at(office, quay)["taken"] == 2  # it is made good by the next exchange
    assert of(office, "QUAY-2")["error"] is None


def test_lines_for_people_have_every_station(three: list[Site]) -> None:
    office = three[0]
    take_at(office, three[1])
    told = board(office.record, office.clock())["sites"]
    assert "nothing came from it yet" in head_line(told[2])
    assert [caption for caption, _, _ in detail_lines(told[1])][:3] == [
        "Last heard from", "Head", "Fills",
    ]  # fmt: skip


def test_a_timetable_takes_all_that_can_be_reached(three: list[Site]) -> None:
    office, quay, reef = three
    for one in (quay, reef):
        sites.add_site(office.station, office.mara, site=one.ident, name="x", key=one.key,
                       place=str(one.place))  # fmt: skip
    reef.close()
    reef.place.unlink()
    done, left = sync(office.station)
    assert (done["site"], done["taken"]) == ("QUAY-2", 3)
    assert left["site"] == "REEF-3"
    assert "not there" in left["error"]


def test_without_news_it_is_entered_now_and_then_that_a_station_was_heard(
    three: list[Site],
) -> None:
    office, quay, _ = three
    take_at(office, quay)
    assert take_at(office, quay)["entered"] is False
    office.clock.us += HEARD_US + 60_000_000
    assert take_at(office, quay)["entered"] is True


def test_a_stations_key_never_changes_and_a_password_is_never_kept(three: list[Site]) -> None:
    office, quay, _ = three
    add = sites.add_site
    with pytest.raises(InputError, match="never changes"):
        add(office.station, office.mara, site="QUAY-2", name="x", key="ab" * 32)
    with pytest.raises(InputError, match="password is never kept"):
        add(office.station, office.mara, site="QUAY-2", name="x", key=quay.key,
            place="postgresql://u:pw@h/d")  # fmt: skip
    with pytest.raises(InputError, match="this station itself"):
        add(office.station, office.mara, site="OFFICE-1", name="x", key=quay.key)
    with pytest.raises(InputError, match="64 hex digits"):
        add(office.station, office.mara, site="QUAY-9", name="x", key="ab")
    renamed = add(office.station, office.mara, site="QUAY-2", name="New name", key=quay.key.upper())
    assert office.knows("QUAY-2").name == renamed["name"] == "New name"


def test_a_site_needs_no_office_for_its_own_work(three: list[Site]) -> None:
    """Nothing waits: the office is gone, and everything is entered as before."""
    office, quay, reef = three
    introduce(office, quay, at=True)
    office.close()
    office.place.unlink()
    before = quay.record.head().seq
    quay.work(3)
    assert quay.record.head().seq == before + 3
    assert quay.send()
    assert reef.send()
