"""State by act, every cell: what comes out of order changes nothing but the list of refusals."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest

from blender.record import read
from blender.station import filling
from blender.station.answer import Answer
from blender.station.states import ALLOWED, STATES
from tests.station.shop import Shop, gate

# Which acts are possible where; written out by hand, apart from the product's own table.
MAY = {
    "requested": "analyse plan reject quarantine amend void",
    "planned": "analyse plan start reject quarantine amend void",
    "filling": "plan reading hold reject quarantine amend",
    "held": "analyse plan resume reject quarantine amend",
    "resting": "analyse reading hold reject quarantine amend",
    "analysed": "analyse plan accept reject quarantine amend",
    "recheck": "analyse reject quarantine amend",
    "correcting": "plan start reject quarantine amend",
    "accepted": "collect reject quarantine amend void",
    "collected": "amend void",
    "rejected": "amend void",
    "quarantined": "release reject amend",
    "imported": "amend void",
    "elsewhere": "amend",
    "voided": "",
}
ACTS: dict[str, Callable[[Shop, int], Answer]] = {
    "plan": lambda s, n: s.plan(n),
    "start": lambda s, n: s.start(n),
    "reading": lambda s, n: s.reading(n, "84.4bar"),
    "hold": lambda s, n: s.hold(n),
    "resume": lambda s, n: s.resume(n, "60bar"),
    "analyse": lambda s, n: s.analyse(n, "28.0", analyser="A2"),
    "accept": lambda s, n: s.accept(n, "32.0"),
    "collect": lambda s, n: s.collect(n, s.label),
    "reject": lambda s, n: s.reject(n),
    "quarantine": lambda s, n: s.quarantine(n),
    "release": lambda s, n: s.release(n),
    "amend": lambda s, n: s.amend(n),
    "void": lambda s, n: s.void(n),
}


def into(shop: Shop, state: str) -> int:
    """Take a fill to a state by the usual way."""
    shop.label = NO_LABEL
    fill = WAYS[state](shop)
    assert shop.row(fill).state == state
    return fill


def _after(act: str, way: Callable[[Shop], int]) -> Callable[[Shop], int]:
    def go(shop: Shop) -> int:
        fill = way(shop)
        ACTS[act](shop, fill)
        return fill

    return go


def _disputed(shop: Shop) -> int:
    fill = shop.analysed()
    shop.accept(fill, "31.0")
    return fill


def _accepted(shop: Shop) -> int:
    fill, shop.label = shop.accepted()
    return fill


def _imported(shop: Shop) -> int:
    with shop.station.record.read() as conn:
        number = read.next_fill_number(conn)
    line = {
        "fill": number,
        "serial": "C-1001",
        "customer": _kai(shop),
        "want_typed": "200bar:EAN32",
    }
    line |= {"want_mbar": 200_000, "want_o2_ppm": 320_000, "want_he_ppm": 0, "note": "line 2"}
    line |= {"temp_mk": 293_150, "contents_umol": [32, 0, 67, 1]}
    return _entered(shop, "fill.imported", line | {"filled_us": 1, "filled_offset_min": 60})


def _elsewhere(shop: Shop) -> int:
    fill = shop.rested()
    facts = {"fill": fill, "site": "REEF-3", "site_fill": 1, "site_seq": 9, "state": "accepted"}
    facts |= {"site_digest": "00" * 32, "o2_ppm": 320_000, "he_ppm": -1, "at_us": 1, "text": "-"}
    return _entered(shop, "fill.elsewhere", facts)


def _voided(shop: Shop) -> int:
    fill = shop.request()
    return _entered(shop, "fill.voided", {"fill": fill, "was": "requested", "reason": "twice"})


def _kai(shop: Shop) -> str:
    with shop.station.record.read() as conn:
        return read.customer(conn, "Kai Diver").person


def _entered(shop: Shop, kind: str, data: dict[str, Any]) -> int:
    with shop.station.act(shop.mara, "staff") as act:
        act.enter(kind, data, "entered")
    return int(data["fill"])


NO_LABEL = "FILLWRIGHT1 QUAY-1 1 1 " + "A" * 52
WAYS: dict[str, Callable[[Shop], int]] = {
    "requested": Shop.request,
    "planned": _after("plan", Shop.request),
    "filling": Shop.filling,
    "held": _after("hold", Shop.filling),
    "resting": Shop.rested,
    "analysed": Shop.analysed,
    "recheck": _disputed,
    "correcting": _after("plan", lambda s: s.analysed("33.6")),
    "accepted": _accepted,
    "collected": _after("collect", _accepted),
    "rejected": _after("reject", Shop.filling),
    "quarantined": _after("quarantine", Shop.filling),
    "imported": _imported,
    "elsewhere": _elsewhere,
    "voided": _voided,
}


@pytest.mark.parametrize("state", STATES)
def test_out_of_order_acts_change_nothing(shop: Shop, state: str) -> None:
    fill = into(shop, state)
    before = shop.tables()
    shop_count = count = shop.seq()
    for name in ACTS.keys() - set(MAY[state].split()):
        answer = ACTS[name](shop, fill)
        assert (answer.done, answer.state) == (False, state), name
        assert gate(answer, "order")[0] == "stop"
        assert "next:" in gate(answer, "order")[1]
        count += 1
        assert shop.seq() == count
        assert shop.last().data["action"] == name
    after = shop.tables()
    assert len(after.pop("exception")) - len(before.pop("exception")) == len(ACTS) - len(
        MAY[state].split()
    )
    assert len(after.pop("fill_entry")) - len(before.pop("fill_entry")) == count - shop_count
    assert after == before


@pytest.mark.parametrize("state", STATES)
def test_acts_in_order_are_done(shop: Shop, state: str) -> None:
    for name in MAY[state].split():
        fill = into(shop, state)
        answer = ACTS[name](shop, fill)
        assert gate(answer, "order")[0] == "pass", name
        assert shop.row(fill).state == answer.state
        if name == "analyse":
            continue  # what it decides is another matter
        assert answer.done, (name, answer.text)
        if name == "quarantine":
            shop.release(fill)  # the next one is of the same cylinder


def test_the_table_is_the_one_written_here() -> None:
    assert {
        state: {act for act, states in ALLOWED.items() if state in states} for state in STATES
    } == {state: set(acts.split()) for state, acts in MAY.items()}


@pytest.mark.parametrize("state", ["filling", "resting", "held"])
def test_released_from_quarantine_a_part_filled_cylinder_is_held(shop: Shop, state: str) -> None:
    fill = into(shop, state)
    shop.quarantine(fill)
    assert shop.release(fill).state == "held"
    row = shop.row(fill)
    assert row.has_gas
    shop.resume(fill, "230bar" if state == "resting" else "60bar")
    assert shop.row(fill).state in ("filling", "resting")


@pytest.mark.parametrize("state", ["requested", "planned", "analysed", "recheck", "accepted"])
def test_released_others_stand_where_they_stood(shop: Shop, state: str) -> None:
    fill = into(shop, state)
    shop.quarantine(fill)
    assert shop.release(fill).state == state == shop.row(fill).state


def test_a_cylinder_in_another_fill_is_not_started_at_the_panel(shop: Shop) -> None:
    first = shop.filling()
    second = shop.request()
    assert shop.plan(second).done
    start = partial(filling.start, shop.station, shop.jo, second, serial="C-1001")
    refused = start(at_hand=True)
    assert not refused.done
    assert f"fill {first} is filling" in refused.text
    told = start()  # a script enters what was done elsewhere, and is told
    assert told.done
    assert "one-fill" in {one.gate for one in told.cautions}
