"""The door: wrong secrets wait longer and longer, and who may act is what the journal says."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from blender.errors import RecordError, RefusedError
from blender.record import private, roll
from blender.record.journal import Record
from blender.record.keys import StationKeys, key_path
from blender.record.rebuild import rebuild
from blender.record.verify import verify
from blender.station import entrance, people, staff, watch
from blender.station.actor import Actor
from blender.station.desk import Station
from tests.station.shop import CHEAP, NAMES, SECRET, Clock, Shop

WRONG = "high tide"


def refused_code(station: Station, name: str, secret: str) -> str:
    with pytest.raises(RefusedError) as refused:
        station.sign_in(name, secret)
    return refused.value.code


def lock(shop: Shop, name: str = NAMES["blender"]) -> None:
    for _ in range(entrance.FREE_TRIES):
        assert refused_code(shop.station, name, WRONG) == "sign-in"


@pytest.mark.parametrize("name", [NAMES["blender"], "Nobody Here"])
def test_at_most_five_tries_then_a_wait_that_doubles(shop: Shop, name: str) -> None:
    lock(shop, name)
    for wait_s in (30, 60, 120):
        assert refused_code(shop.station, name, SECRET) == "locked"  # not even the right one
        assert shop.last().data["wait_s"] == wait_s
        shop.clock.turn((wait_s - 2) / 60.0)
        assert refused_code(shop.station, name, SECRET) == "locked"
        shop.clock.turn(3 / 60.0)
        assert refused_code(shop.station, name, WRONG) == "sign-in"
    assert verify(shop.path).ok


def test_a_stranger_and_a_member_of_staff_are_told_the_same(shop: Shop) -> None:
    told: dict[str, list[str]] = {}
    for name in (NAMES["blender"], "Nobody Here"):
        for _ in range(entrance.FREE_TRIES + 1):
            with pytest.raises(RefusedError) as refused:
                shop.station.sign_in(name, WRONG)
            told.setdefault(name, []).append(refused.value.text)
    assert told[NAMES["blender"]] == told["Nobody Here"]


def test_the_right_secret_after_the_wait_counts_from_nothing_again(shop: Shop) -> None:
    lock(shop)
    shop.clock.turn(1)
    assert shop.station.sign_in(NAMES["blender"], SECRET).role == "blender"
    assert shop.last().kind == "access.cleared"
    count = shop.seq()
    assert shop.station.sign_in(NAMES["blender"], SECRET)
    assert shop.seq() == count  # nothing to clear, nothing entered


def test_the_wait_outlasts_a_restart_and_a_clock_set_back(shop: Shop) -> None:
    lock(shop)
    shop.station.record.close()
    clock = Clock()
    clock.us = shop.clock.us - 24 * 3_600_000_000  # a day back
    keys = StationKeys.load(key_path(shop.path))
    with Record.open(shop.path) as record:
        again = Station(record, keys, clock)
        assert refused_code(again, NAMES["blender"], SECRET) == "locked"
        clock.turn(29 / 60.0)
        assert refused_code(again, NAMES["blender"], SECRET) == "locked"
        clock.turn(2 / 60.0)  # the wait began again with the clock as it is now
        assert again.sign_in(NAMES["blender"], SECRET)
    assert verify(shop.path).ok


def test_failed_tries_are_in_the_journal_without_what_was_typed(shop: Shop) -> None:
    lock(shop, "my secret typed as a name")
    entries = [entry for entry in shop.entries() if entry.kind == "access.failed"]
    assert [entry.data["tries"] for entry in entries] == [1, 2, 3, 4, 5]
    assert all(entry.seal is not None and entry.sig is None for entry in entries)
    for entry in entries:
        assert b"typed as a name" not in entry.body
        assert WRONG.encode() not in entry.body
    kinds = [row["kind"] for row in watch.exceptions(shop.station.record)]
    assert kinds.count("locked-out") == 1


def test_a_right_guess_among_many_at_once_is_refused(shop: Shop) -> None:
    """Ten terminals ask before any has failed; the one that was right comes too late."""
    with shop.station.record.write() as unit:
        data = {"who": shop.jo.person, "tries": 5, "wait_s": 30}
        unit.append("access.failed", data, at=shop.clock(), seal=shop.station.keys)
    with pytest.raises(RefusedError) as refused:
        entrance._cleared(shop.station, shop.jo.person)
    assert refused.value.code == "locked"


def test_a_reset_opens_the_door_again(shop: Shop) -> None:
    lock(shop)
    people.reset_secret(
        shop.station, shop.mara, NAMES["blender"], reason="forgot", secret="once", cost=CHEAP
    )
    assert shop.station.sign_in(NAMES["blender"], "once").one_time


def test_waits_are_rebuilt_from_the_journal(shop: Shop) -> None:
    lock(shop)
    tables = shop.tables()
    assert tables["access"]
    rebuild(shop.station.record)
    assert shop.tables() == tables


# -- who may act ---------------------------------------------------------------------------------


def forge(path: Path, person: str, **values: str) -> None:
    raw = sqlite3.connect(path)
    for column, value in values.items():
        raw.execute(f"UPDATE person SET {column} = ? WHERE person = ?", (value, person))
    raw.commit()
    raw.close()


def test_a_role_forged_in_the_table_gives_nothing(shop: Shop) -> None:
    forge(shop.path, shop.jo.person, role="manager")
    with pytest.raises(RecordError, match="the table was changed"):
        shop.station.sign_in(NAMES["blender"], SECRET)
    count = shop.seq()
    for by in (shop.jo, Actor(shop.jo.person, "Jo Blend", "manager", shop.jo.signer)):
        with pytest.raises(RecordError):
            shop.release(1, by=by)
    assert shop.seq() == count


def test_a_customer_made_staff_in_the_table_cannot_come_in(shop: Shop) -> None:
    with shop.station.record.read() as conn:
        kai = next(row for row in people.read.people(conn) if row.name == "Kai Diver")
    forge(shop.path, kai.person, role="manager", key=shop.jo.signer.key)
    with pytest.raises((RecordError, RefusedError)):
        shop.station.sign_in("Kai Diver", SECRET)


def test_a_role_entry_without_the_stations_seal_is_no_role(shop: Shop) -> None:
    """Somebody with the file, the program's code and a blender's key, but not the key file."""
    data = {"person": shop.jo.person, "old": "blender", "role": "manager", "reason": "me"}
    with shop.station.record.write() as unit:
        unit.append("person.role", data, at=shop.clock(), by=shop.jo.signer, meaning="x")
    with pytest.raises(RecordError, match="without the station's seal"):
        shop.request(by=shop.jo)


def test_a_name_forged_in_the_private_row_is_not_signed_with(shop: Shop) -> None:
    raw = sqlite3.connect(shop.path)
    row = (b'{"name":"Mara Linde"}', f"person/{shop.jo.person}")
    raw.execute("UPDATE private SET content = ? WHERE id = ?", row)
    raw.commit()
    raw.close()
    with pytest.raises(RecordError, match="not the one that was entered"):
        shop.station.sign_in(shop.jo.person, SECRET)


def test_a_changed_role_holds_from_the_next_act_on(shop: Shop) -> None:
    staff.change_role(shop.station, shop.mara, NAMES["blender"], role="auditor", reason="moved")
    with pytest.raises(RefusedError) as refused:
        shop.request(by=shop.jo)
    assert refused.value.code == "authority"
    assert shop.station.sign_in(NAMES["blender"], SECRET).role == "auditor"
    assert verify(shop.path).ok
    tables = shop.tables()
    rebuild(shop.station.record)
    assert shop.tables() == tables


def test_who_left_is_out_at_once_and_comes_back_as_somebody_new(shop: Shop) -> None:
    staff.retire(shop.station, shop.mara, NAMES["blender"], reason="left the shop")
    with pytest.raises(RefusedError):
        shop.request(by=shop.jo)
    assert refused_code(shop.station, NAMES["blender"], SECRET) == "sign-in"
    back = people.add_person(
        shop.station, shop.mara, name=NAMES["blender"], role="blender", secret=SECRET, cost=CHEAP
    )
    assert back["person"] != shop.jo.person
    assert verify(shop.path).ok


@pytest.mark.parametrize("leave", ["role", "retire"])
def test_the_last_manager_stays(shop: Shop, leave: str) -> None:
    def go() -> object:
        if leave == "retire":
            return staff.retire(shop.station, shop.mara, NAMES["manager"], reason="x")
        return staff.change_role(
            shop.station, shop.mara, NAMES["manager"], role="auditor", reason="x"
        )

    with pytest.raises(RefusedError) as refused:
        go()
    assert refused.value.code == "last-manager"
    staff.change_role(shop.station, shop.mara, NAMES["blender"], role="manager", reason="second")
    assert go()


def test_how_far_the_roll_was_read_is_kept_and_cannot_be_made_up(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(roll, "_OFTEN", 1)
    shop.request()
    with shop.station.record.read() as conn:
        kept = private.get(conn, roll.ROW)
    assert kept is not None
    again = Station(shop.station.record, shop.station.keys, shop.clock)
    assert again.sign_in(NAMES["blender"], SECRET).role == "blender"
    staff.change_role(shop.station, shop.mara, NAMES["blender"], role="auditor", reason="moved")
    kept["staff"][1]["role"] = "manager"
    for forged in (kept, {"seq": 9, "digest": "", "staff": [], "mac": ""}):
        with shop.station.record.write() as unit:
            unit.put_private(roll.ROW, "", "roll", forged, replace=True)
        fresh = Station(shop.station.record, shop.station.keys, shop.clock)
        assert fresh.sign_in(NAMES["blender"], SECRET).role == "auditor"
    assert verify(shop.path).ok


def test_an_older_roll_put_back_leaves_nothing_out(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(roll, "_OFTEN", 1)
    shop.request()
    with shop.station.record.read() as conn:
        older = private.get(conn, roll.ROW)
    staff.retire(shop.station, shop.mara, NAMES["blender"], reason="left")
    with shop.station.record.write() as unit:
        unit.put_private(roll.ROW, "", "roll", older or {}, replace=True)
    forge(shop.path, shop.jo.person, role="blender")
    fresh = Station(shop.station.record, shop.station.keys, shop.clock)
    with pytest.raises(RecordError):
        fresh.sign_in(NAMES["blender"], SECRET)
