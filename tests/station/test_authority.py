"""Role by act, every cell, through the use cases; written out here by hand on purpose."""

from __future__ import annotations

import contextlib
from collections.abc import Callable

import pytest

from blender.errors import FillwrightError, InputError, RefusedError
from blender.record import read
from blender.record.keys import Signer, new_signing_key
from blender.record.rebuild import rebuild
from blender.record.restore import Candidate
from blender.record.verify import verify
from blender.station import (
    compressors,
    correcting,
    day,
    deliveries,
    desk,
    equipment,
    importing,
    items,
    looking,
    manifold,
    measuring,
    mending,
    moving,
    people,
    pricing,
    privacy,
    restoring,
    rule_sets,
    ruling,
    sites,
    staff,
    supplies,
    tablet,
    upkeep,
)
from blender.station.actor import ACTS as ALL_ACTS
from blender.station.actor import Actor
from tests.station.shop import CHEAP, SECRET, Shop

ALL = {"blender", "manager"}
BOSS = {"manager"}
STAFF = {"blender", "manager", "auditor"}
Act = Callable[[Shop, Actor], object]


def _stamps(shop: Shop, by: Actor) -> object:
    return equipment.change_cylinder(shop.station, by, serial="C-1001", inspected="2026-11")


def _cylinder(shop: Shop, by: Actor) -> object:
    return equipment.add_cylinder(
        shop.station,
        by,
        serial="N-1",
        size="10L",
        wp="200bar",
        tp="300bar",
        tested="2025-01",
        inspected="2026-01",
        clean="yes",
    )


def _open_day(shop: Shop, by: Actor) -> object:
    return day.open_day(shop.station, by, gauges_zero="yes", room="yes", intake="yes")


def _restore(shop: Shop, by: Actor) -> object:
    copy = Candidate(shop.path, shop.station.record.head(), "0" * 64)
    return restoring.enter(shop.station, by, copy, reason="disk died", replaced=None)


def _site(shop: Shop, by: Actor) -> object:
    return sites.add_site(shop.station, by, site="REEF-3", name="Reef Gas", key="ab" * 32)


def _compressor(shop: Shop, by: Actor) -> object:
    return compressors.add_compressor(shop.station, by, name="K1", rated_intake="40%")


def _person(role: str) -> Act:
    def add(shop: Shop, by: Actor) -> object:
        return people.add_person(
            shop.station, by, name="New One", role=role, secret="abcd", cost=CHEAP
        )

    return add


ACTS: list[tuple[str, set[str], Act]] = [
    ("request", ALL, lambda s, by: s.request(by=by)),
    ("plan", ALL, lambda s, by: s.plan(s.request(), by=by)),
    ("start", ALL, lambda s, by: s.start(_planned(s), by=by)),
    ("reading", ALL, lambda s, by: s.reading(s.filling(), "84bar", by=by)),
    ("hold", ALL, lambda s, by: s.hold(s.filling(), by=by)),
    ("resume", ALL, lambda s, by: s.resume(_held(s), "60bar", by=by)),
    ("analyse", ALL, lambda s, by: s.analyse(s.rested(), "32.0", by=by)),
    ("accept", ALL, lambda s, by: s.accept(s.analysed(), "32.0", by=by)),
    ("collect", ALL, lambda s, by: s.collect(*s.accepted(), by=by)),
    ("reject", ALL, lambda s, by: s.reject(s.request(), by=by)),
    ("quarantine", ALL, lambda s, by: s.quarantine(s.request(cylinder="D-7"), by=by)),
    ("release", BOSS, lambda s, by: s.release(_quarantined(s), by=by)),
    ("amend", BOSS, lambda s, by: s.amend(s.request(by=s.mara), by=by)),
    ("import", BOSS, lambda s, by: importing.bring_in(s.station, by, "customers", b"name\nNina")),
    ("erase", BOSS, lambda s, by: privacy.erase(s.station, by, "Uma Neu", reason="asked")),
    ("phone", ALL, lambda s, by: privacy.set_phone(s.station, by, "Uma Neu", "555 0100")),
    ("void", BOSS, lambda s, by: s.void(s.request(by=s.mara), by=by)),
    ("add cylinder", ALL, _cylinder),
    ("change stamps", ALL, _stamps),
    (
        "calibrate",
        ALL,
        lambda s, by: equipment.calibrate(s.station, by, name="A1", gas="air", reading="20.9"),
    ),
    (
        "add supply",
        BOSS,
        lambda s, by: equipment.add_supply(s.station, by, name="o1", gas="oxygen"),
    ),
    ("read bank", ALL, lambda s, by: supplies.read_supply(s.station, by, _bank(s), at="90bar")),
    ("swap", ALL, lambda s, by: supplies.change_supply(s.station, by, _bank(s), at="90bar")),
    ("retire", BOSS, lambda s, by: supplies.retire_supply(s.station, by, _bank(s), reason="sold")),
    ("open day", ALL, _open_day),
    ("close day", ALL, lambda s, by: (_open_day(s, s.jo), day.close_day(s.station, by))),
    ("add analyser", BOSS, lambda s, by: equipment.add_analyser(s.station, by, name="A9")),
    ("add customer", ALL, _person("customer")),
    ("add blender", BOSS, _person("blender")),
    ("add manager", BOSS, _person("manager")),
    ("add auditor", BOSS, _person("auditor")),
    ("own secret", STAFF, lambda s, by: people.change_secret(s.station, by, SECRET, "efgh", CHEAP)),
    ("reset secret", BOSS, lambda s, by: _reset(s, by, "Ada Pruef")),
    ("change rule", BOSS, lambda s, by: ruling.set_rule(s.station, by, "rest", "9min", reason="x")),
    ("restore", BOSS, _restore),
    ("add compressor", BOSS, _compressor),
    ("set price", BOSS, lambda s, by: pricing.set_price(s.station, by, supply="top", price="1")),
    (
        "retire analyser",
        BOSS,
        lambda s, by: equipment.retire_analyser(s.station, by, name="A1", reason="dead cell"),
    ),
    ("look", ALL, lambda s, by: looking.look(s.station, by, s.request(), outside="yes")),
    ("allow", BOSS, lambda s, by: _allow(s, by, s.request(by=s.mara))),
    ("correct reading", ALL, lambda s, by: _correct(s, by)),  # noqa: PLW0108 - defined below
    ("start together", ALL, lambda s, by: _together(s, by)),  # noqa: PLW0108 - defined below
    ("see card", ALL, lambda s, by: people.see_card(s.station, by, _kai(s), "trimix")),
    ("analyse supply", ALL, lambda s, by: _analyse_supply(s, by)),  # noqa: PLW0108 - defined below
    (
        "check analyser",
        ALL,
        lambda s, by: measuring.check_analyser(s.station, by, "A1", gas="air", reading="20.9"),
    ),
    ("read air", ALL, lambda s, by: measuring.read_co(s.station, by, reading="1ppm")),
    ("test air", ALL, lambda s, by: _test_air(s, by)),  # noqa: PLW0108 - defined below
    (
        "use rule set",
        BOSS,
        lambda s, by: rule_sets.use_rule_set(s.station, by, "europe", reason="x"),
    ),
    ("change role", BOSS, lambda s, by: _staff(s, by, staff.change_role, role="manager")),
    ("retire staff", BOSS, lambda s, by: _staff(s, by, staff.retire)),
    ("qualify", BOSS, lambda s, by: staff.qualify(s.station, by, "Ada Pruef", [], reason="x")),
    ("review accounts", BOSS, lambda s, by: staff.review(s.station, by, note="all here")),
    ("undertake", STAFF, lambda s, by: staff.undertake(s.station, by)),
    ("add equipment", BOSS, lambda s, by: items.add(s.station, by, "monitor", "M1")),
    ("correct gauge", BOSS, lambda s, by: _gauge_correction(s, by)),  # noqa: PLW0108 - defined below
    (
        "deliver",
        ALL,
        lambda s, by: deliveries.deliver(s.station, by, gas="oxygen", size="50L", bottles=2),
    ),
    ("upkeep", ALL, lambda s, by: upkeep.did(s.station, by, "analyser", "A1", "serviced")),
    ("hand to the tablet", ALL, lambda s, by: _to_tablet(s, by, "register")),
    ("hand the terminal over", STAFF, lambda s, by: _to_tablet(s, by, "staff")),
    ("withdraw", ALL, lambda s, by: tablet.withdraw(s.station, by)),
    # The last: nothing is entered in a place that was left.
    ("site", BOSS, _site),
    ("move", BOSS, lambda s, by: moving.move(s.station, by, s.path.with_name("moved.db"))),
]


def _to_tablet(shop: Shop, by: Actor, purpose: str) -> object:
    tablet.serve_at(shop.station, "http://127.0.0.1:8023")
    return tablet.hand(shop.station, by, purpose)


def _gauge_correction(shop: Shop, by: Actor) -> object:
    items.add(shop.station, shop.mara, "gauge", "G1", range="1.0@250bar")
    facts = {"by": "1bar", "since": "2026-11-20", "reason": "x"}
    return correcting.correct(shop.station, by, "G1", **facts)


def _staff(shop: Shop, by: Actor, change: Callable[..., object], **facts: str) -> object:
    return change(shop.station, by, "Ada Pruef", reason="x", **facts)


def _allow(shop: Shop, by: Actor, fill: int) -> object:
    return looking.allow(shop.station, by, fill, gate="certification", reason="course")


def _correct(shop: Shop, by: Actor) -> object:
    fill = shop.filling()
    shop.reading(fill, "70bar")
    return mending.correct_reading(shop.station, by, fill, at="71bar", temperature="20C")


def _together(shop: Shop, by: Actor) -> object:
    serials = ("C-1001", "C-1003")
    fills = [shop.request(cylinder=serial) for serial in serials]
    for fill in fills:
        shop.plan(fill)
    return manifold.start_together(shop.station, by, fills, serials)


def _kai(shop: Shop) -> str:
    with shop.station.record.read() as conn:
        return next(row.person for row in read.people(conn) if row.name == "Kai Diver")


def _analyse_supply(shop: Shop, by: Actor) -> object:
    facts = {"analyser": "A1", "reading": "99.6"}
    return measuring.analyse_supply(shop.station, by, _bank(shop), **facts)


def _test_air(shop: Shop, by: Actor) -> object:
    found = {"co": "1ppm", "co2": "400ppm", "oil": "0.05mg/m3", "water": "20mg/m3"}
    return measuring.enter_air_test(shop.station, by, sampled="2026-11-01", by="lab 7", **found)


def _reset(shop: Shop, by: Actor, name: str) -> object:
    return people.reset_secret(
        shop.station, by, name, reason="forgotten", secret="neap tide", cost=CHEAP
    )


def _bank(shop: Shop) -> str:
    with shop.station.record.read() as conn:
        if any(row.name == "o1" for row in read.supplies(conn)):
            return "o1"
    bottle = {"gas": "oxygen", "size": "50L", "at": "180bar"}
    return str(equipment.add_supply(shop.station, shop.mara, name="o1", **bottle)["name"])


def _planned(shop: Shop) -> int:
    fill = shop.request()
    shop.plan(fill)
    return fill


def _held(shop: Shop) -> int:
    fill = shop.filling()
    shop.hold(fill)
    return fill


def _quarantined(shop: Shop) -> int:
    fill = shop.request()
    shop.quarantine(fill, by=shop.mara)
    return fill


def _actor(shop: Shop, role: str) -> Actor:
    staff = {"manager": shop.mara, "blender": shop.jo, "auditor": shop.ada}
    if role in staff:
        return staff[role]
    key = new_signing_key()  # a customer has no key; somebody made one up
    return Actor("P-KAI", "Kai Diver", role, Signer("P-KAI", "Kai Diver", role, key))


@pytest.mark.parametrize("role", ["blender", "manager", "auditor", "customer"])
@pytest.mark.parametrize(("name", "may", "act"), ACTS, ids=[name for name, _, _ in ACTS])
def test_role_by_act(shop: Shop, name: str, may: set[str], act: Act, role: str) -> None:
    actor = _actor(shop, role)
    if role in may:
        act(shop, actor)
        return
    with pytest.raises(RefusedError) as refused:
        act(shop, actor)
    assert refused.value.code == "authority"
    assert refused.value.gates[0]["gate"] == "authority"
    assert role in refused.value.text
    last = shop.last()  # nothing of theirs is in the record, but what the act was to be done to
    assert last.kind == "fill.accepted" or (last.sig or {}).get("person") != actor.person


def test_every_act_there_is_stands_in_the_matrix(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A use case added without a line above would be one whose authority nobody tried."""
    asked = set[str]()
    real = desk.require

    def listen(actor: Actor, name: str, role: str) -> None:
        asked.add(name)
        real(actor, name, role)

    monkeypatch.setattr(desk, "require", listen)
    for _, _, act in ACTS:
        with contextlib.suppress(FillwrightError):
            act(shop, shop.mara)
    assert asked >= set(ALL_ACTS) - {"station"}


def test_a_customer_cannot_sign_in(shop: Shop) -> None:
    for name in ("Kai Diver", "Nobody", "", "' or 1=1 --"):
        with pytest.raises(RefusedError) as refused:
            shop.station.sign_in(name, "low tide at noon")
        assert refused.value.code == "sign-in"


def test_a_wrong_secret_says_the_same_as_a_wrong_name(shop: Shop) -> None:
    said = set()
    for name, secret in (("Jo Blend", "wrong"), ("Jo Blemd", "low tide at noon"), ("Jo Blend", "")):
        with pytest.raises(RefusedError) as refused:
            shop.station.sign_in(name, secret)
        said.add(refused.value.text)
    assert len(said) == 1


def test_a_changed_secret_replaces_the_old(shop: Shop) -> None:
    people.change_secret(shop.station, shop.jo, SECRET, "rising tide", CHEAP)
    assert shop.station.sign_in("Jo Blend", "rising tide").role == "blender"
    with pytest.raises(RefusedError):
        shop.station.sign_in("Jo Blend", SECRET)
    for short in ("", "abc"):
        with pytest.raises(FillwrightError):
            people.change_secret(shop.station, shop.jo, "rising tide", short, CHEAP)
    assert verify(shop.path).ok


def test_a_secret_is_changed_only_with_the_old_one(shop: Shop) -> None:
    """Somebody signed in and walked away: whoever comes to the keyboard cannot take over."""
    for tries, wrong in enumerate(("rising tide", ""), 1):
        with pytest.raises(RefusedError) as refused:
            people.change_secret(shop.station, shop.jo, wrong, "rising tide", CHEAP)
        assert refused.value.code == "sign-in"
        told = shop.last()  # a try at somebody's secret is in the record
        assert (told.kind, told.data["who"], told.data["tries"]) == (
            "access.failed",
            shop.jo.person,
            tries,
        )
    assert shop.station.sign_in("Jo Blend", SECRET)


def test_a_manager_resets_a_secret_and_the_entry_says_so(shop: Shop) -> None:
    shop.request(by=shop.jo)
    before = shop.jo.signer.key
    _reset(shop, shop.mara, "Jo Blend")
    entry = shop.last()
    assert (entry.kind, entry.data["reason"]) == ("person.secret-reset", "forgotten")
    assert (entry.sig or {})["meaning"] == "secret reset by a manager"
    assert (entry.sig or {})["name"] == "Mara Linde"
    (row,) = shop.exceptions(0)
    assert (row.kind, row.text) == ("secret-reset", f"{shop.jo.person}: forgotten")
    with pytest.raises(RefusedError):
        shop.station.sign_in("Jo Blend", SECRET)
    once = shop.station.sign_in("Jo Blend", "neap tide")
    people.change_secret(shop.station, once, "neap tide", "rising tide", CHEAP)
    fresh = shop.station.sign_in("Jo Blend", "rising tide")
    assert len({fresh.signer.key, once.signer.key, before}) == 3
    shop.request(by=fresh)
    tables = shop.tables()
    assert verify(shop.path).ok  # what was signed with either key stands
    rebuild(shop.station.record)
    assert shop.tables() == tables


def test_who_was_signed_in_meanwhile_signs_nothing_more(shop: Shop) -> None:
    _reset(shop, shop.mara, "Jo Blend")
    count = shop.seq()
    with pytest.raises(RefusedError, match="sign in again"):
        shop.request(by=shop.jo)
    assert shop.seq() == count


def test_nobody_resets_their_own_or_a_strangers(shop: Shop) -> None:
    for name in ("Mara Linde", "Nobody", "Kai Diver"):
        with pytest.raises(InputError):
            _reset(shop, shop.mara, name)


def test_a_signature_made_with_a_strangers_key_is_found(shop: Shop) -> None:
    forged = Signer(shop.jo.person, "Jo Blend", "blender", new_signing_key())
    with pytest.raises(RefusedError):
        shop.request(by=Actor(shop.jo.person, "Jo Blend", "blender", forged))
    with shop.station.record.write() as unit:  # somebody goes past the use cases
        unit.append("note", {}, at=shop.clock(), by=forged, meaning="x")
    report = verify(shop.path)
    assert "signature" in {problem.kind for problem in report.problems}
