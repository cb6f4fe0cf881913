"""What is asked of electronic records and signatures, one test an item, as far as people go.

The items are those of 21 CFR 11 (11.10, 11.50, 11.100, 11.200, 11.300) and ISO/IEC 17025 7.5.1,
read in reprints or from memory; none of them binds a fill station, they are the yardstick.
"""

from __future__ import annotations

import pytest

from blender.errors import FillwrightError, InputError, RefusedError
from blender.record.keys import public_hex, unwrap_key
from blender.record.private import get
from blender.record.staff_keys import staff_key_row
from blender.record.verify import verify
from blender.station import book, people, staff, watch
from blender.station.actor import AUTHORITY
from blender.station.answer import Answer
from blender.station.states import ALLOWED, STATES
from tests.station.shop import CHEAP, NAMES, SECRET, Shop, gate
from tests.station.test_walk import Walk

ONCE, OWN = "neap tide", "rising tide"


def reset(shop: Shop) -> None:
    people.reset_secret(
        shop.station, shop.mara, NAMES["blender"], reason="forgot", secret=ONCE, cost=CHEAP
    )


def test_a4_ids_of_people_are_never_given_twice(shop: Shop) -> None:
    """Who left and comes back, three times over, has a new id each time; the old ones stay."""
    seen = {shop.jo.person}
    for turn in range(3):
        staff.retire(shop.station, shop.mara, NAMES["blender"], reason=f"season {turn}")
        again = people.add_person(
            shop.station, shop.mara, name=NAMES["blender"], role="blender", secret=OWN, cost=CHEAP
        )
        assert again["person"] not in seen
        seen.add(again["person"])
    added = [e.data["person"] for e in shop.entries() if e.kind == "person.added"]
    assert len(added) == len(set(added))
    assert seen < set(added)


def test_b1_name_time_and_meaning_stand_beside_every_signature(shop: Shop) -> None:
    fill, anchor = shop.accepted()
    shop.collect(fill, anchor)
    story = book.story(shop.station.record, fill)
    signed = [e for e in shop.entries() if e.sig is not None and e.data.get("fill") == fill]
    assert len(signed) >= 6
    shown = "\n".join(book.story_lines(story))
    of_entry = {(row["seq"], row["role"]): row for row in story["signatures"]}
    for entry in signed:
        sig = entry.sig or {}
        row = of_entry[entry.seq, sig["role"]]
        assert (row["by"], row["at"], row["meaning"]) == (
            sig["name"],
            entry.at.iso,
            sig["meaning"],
        )
        assert sig["meaning"] and sig["name"]
        assert f"{entry.at.iso} {sig['name']}, {sig['role']}: {sig['meaning']}" in shown
    diver = [row for row in story["signatures"] if row["role"] == "customer"]
    assert [(row["by"], row["meaning"]) for row in diver] == [("Kai Diver", "accepted")]


def test_b3_a_broken_session_needs_name_and_secret_again(shop: Shop) -> None:
    """A session holds until role, key or person changes; then only name and secret open it."""
    shop.request()
    breaks = [
        lambda: reset(shop),
        lambda: staff.change_role(
            shop.station, shop.mara, NAMES["blender"], role="auditor", reason="x"
        ),
        lambda: staff.retire(shop.station, shop.mara, NAMES["blender"], reason="x"),
    ]
    for broken in breaks:
        broken()
        with pytest.raises(RefusedError):
            shop.request(by=shop.jo)
    for name, secret in (("", SECRET), (NAMES["manager"], ""), ("", "")):
        with pytest.raises(RefusedError):
            shop.station.sign_in(name, secret)


def test_b4_a_reset_gives_no_manager_a_key_to_sign_with(shop: Shop) -> None:
    shop.request(by=shop.jo)
    reset(shop)
    once = shop.station.sign_in(NAMES["blender"], ONCE)
    with shop.station.record.read() as conn:  # the manager keeps a copy of everything
        kept = get(conn, staff_key_row(once.person))
    copied = unwrap_key(kept, ONCE, shop.station.keys.secret)
    for act in (lambda: shop.request(by=once), lambda: staff.undertake(shop.station, once)):
        with pytest.raises(RefusedError) as refused:
            act()
        assert refused.value.code == "one-time"
    with pytest.raises(InputError):
        people.change_secret(shop.station, once, ONCE, ONCE, CHEAP)
    people.change_secret(shop.station, once, ONCE, OWN, CHEAP)
    own = shop.station.sign_in(NAMES["blender"], OWN)
    keys = {shop.jo.signer.key, public_hex(copied), own.signer.key}
    assert len(keys) == 3
    for entry in shop.entries():
        assert (entry.sig or {}).get("key") != public_hex(copied)
    with pytest.raises(RefusedError):
        shop.request(by=once)
    assert shop.request(by=own)
    assert verify(shop.path).ok


def test_b4_a_signature_with_a_secret_for_once_does_not_verify(shop: Shop) -> None:
    reset(shop)
    once = shop.station.sign_in(NAMES["blender"], ONCE)
    with shop.station.record.write() as unit:  # past the use cases
        unit.append("note", {}, at=shop.clock(), by=once.signer, meaning="x")
    assert "signature" in {problem.kind for problem in verify(shop.path).problems}


def test_b6_what_signing_means_is_signed_in_words_in_the_chain(shop: Shop) -> None:
    assert staff.standing(shop.station.record, shop.clock())["not_undertaken"]
    for who in (shop.jo, shop.mara, shop.ada):
        staff.undertake(shop.station, who)
        entry = shop.last()
        assert entry.kind == "person.undertook"
        assert entry.data["words"] == staff.UNDERTAKING
        assert (entry.sig or {})["name"] == who.name
        assert "as my signature on paper" in entry.data["words"]
        with pytest.raises(InputError):
            staff.undertake(shop.station, who)
    assert not staff.standing(shop.station.record, shop.clock())["not_undertaken"]
    assert verify(shop.path).ok


def test_c3_every_change_of_state_is_an_entry_and_nothing_else_is(shop: Shop) -> None:
    """The tables change exactly when the journal grows; one state, one entry."""
    walk = Walk(shop, 11)
    walk.request()
    for _ in range(120):
        shop.clock.turn(1)
        before, seq = shop.tables(), shop.seq()
        states = {row[0]: row[1] for row in before["fill"]}
        walk.act()
        after, new = shop.tables(), shop.entries()[seq:]
        assert (after != before) == bool(new)
        now = {row[0]: row[1] for row in after["fill"]}
        changed = {fill for fill in now if now[fill] != states.get(fill)}
        assert changed <= {entry.data.get("fill") for entry in new}
        assert len([e for e in new if e.kind.startswith("fill.")]) <= 2  # found rich: set apart


def test_c3_failed_sign_ins_are_in_the_trail_with_their_time(shop: Shop) -> None:
    times = []
    for _ in range(3):
        shop.clock.turn(1)
        with pytest.raises(RefusedError):
            shop.station.sign_in(NAMES["blender"], "wrong")
        times.append(shop.last().at.us)
    trail = [entry for entry in shop.entries() if entry.kind == "access.failed"]
    assert [entry.at.us for entry in trail] == times == sorted(times)
    assert all(entry.data["who"] == shop.jo.person for entry in trail)


def test_d3_no_step_comes_before_its_turn(shop: Shop) -> None:
    """Out of every state, each act that does not belong there is refused and entered."""
    acts = {
        "start": shop.start,
        "reading": lambda fill: shop.reading(fill, "100bar"),
        "resume": lambda fill: shop.resume(fill, "100bar"),
        "accept": lambda fill: shop.accept(fill, "32.0"),
        "collect": lambda fill: shop.collect(fill, "x"),
        "hold": shop.hold,
        "analyse": lambda fill: shop.analyse(fill, "32.0"),
        "release": shop.release,
    }
    stages = [
        shop.request(),
        shop.filling(),
        shop.rested(),
        shop.analysed(),
        shop.accepted()[0],
    ]
    met = set()
    for fill in stages:
        state = shop.row(fill).state
        met.add(state)
        for name, act in acts.items():
            if state in ALLOWED[name]:
                continue
            refused: Answer = act(fill)
            assert gate(refused, "order")[0] == "stop", (state, name)
            assert shop.row(fill).state == state
            assert shop.last().kind == "fill.refused"
    assert met == {"requested", "filling", "resting", "analysed", "accepted"} < set(STATES)


def test_d3_an_incomplete_record_is_not_signed(shop: Shop) -> None:
    """A set analysed at one post only has half a record."""
    fill = shop.rested(cylinder="T-1+T-2")
    shop.analyse(fill, "32.0", serial="T-1")
    refused = shop.accept(fill, "32.0")
    assert gate(refused, "set")[0] == "stop"
    assert shop.analyse(fill, "32.1", serial="T-2").done
    assert shop.accept(fill, "32.0").done


def test_d4_authority_is_asked_at_the_act(shop: Shop) -> None:
    """The matrix itself is walked in test_authority; here: no role beyond what it says."""
    assert AUTHORITY["customer"] == AUTHORITY["former"] == frozenset()
    assert AUTHORITY["auditor"] == {"secret", "undertake"}
    assert AUTHORITY["auditor"] < AUTHORITY["blender"] < AUTHORITY["manager"]
    count = shop.seq()
    with pytest.raises(RefusedError) as refused:
        shop.request(by=shop.ada)
    assert refused.value.code == "authority"
    assert shop.seq() == count


def test_d5_one_name_one_secret_one_person(shop: Shop) -> None:
    for name in NAMES.values():
        with pytest.raises(InputError, match="exists already"):
            people.add_person(
                shop.station, shop.mara, name=name, role="blender", secret=OWN, cost=CHEAP
            )
    for name in NAMES.values():
        person = shop.station.sign_in(name, SECRET).person
        assert shop.station.sign_in(person, SECRET).name == name


def test_d5_accounts_are_reviewed_and_the_review_is_in_the_record(shop: Shop) -> None:
    due = staff.standing(shop.station.record, shop.clock())
    assert (due["reviewed_at"], due["review_due"]) == (None, False)
    staff.review(shop.station, shop.mara, note="all three still work here")
    entry = shop.last()
    assert entry.kind == "people.reviewed"
    roles = dict(entry.data["accounts"])
    assert roles == {who.person: who.role for who in (shop.mara, shop.jo, shop.ada)}
    found = staff.standing(shop.station.record, shop.clock())
    assert found["reviewed_at"] == entry.at.iso


def test_d5_misuse_raises_an_alarm_and_a_lost_secret_is_out_at_once(shop: Shop) -> None:
    for _ in range(5):
        with pytest.raises(FillwrightError):
            shop.station.sign_in(NAMES["blender"], "wrong")
    (alarm,) = [r for r in watch.exceptions(shop.station.record) if r["kind"] == "locked-out"]
    assert shop.jo.person in alarm["text"]
    reset(shop)
    with pytest.raises(RefusedError):
        shop.request(by=shop.jo)
    with pytest.raises(RefusedError):
        shop.station.sign_in(NAMES["blender"], SECRET)
