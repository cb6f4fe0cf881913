"""A recall: every cylinder that had the gas or was read with the analyser, and nobody else."""

from __future__ import annotations

from typing import Any

import pytest

from blender.errors import InputError
from blender.record.verify import verify
from blender.station import equipment, privacy, recalling, supplies
from blender.station.recalling import RecallView, recall
from tests.station.shop import Shop

BOTTLE = {"gas": "oxygen", "size": "50L", "at": "180bar"}


def asked(shop: Shop, **what: str) -> RecallView:
    return recall(shop.station.record, shop.clock(), **what)


def fills(shop: Shop, **what: str) -> list[int]:
    return [line.fill for line in asked(shop, **what).lines]


def with_oxygen(shop: Shop, bank: str, **facts: str) -> int:
    """A fill that took oxygen from a bank, then was given up: what was in the cylinder counts."""
    fill = shop.request(**facts)
    assert shop.plan(fill, supply=(bank,)).done
    assert shop.start(fill, facts.get("cylinder", "C-1001")).done
    assert shop.reading(fill, "84.4bar").done
    shop.reject(fill)
    return fill


def test_a_lot_finds_what_was_drawn_while_its_bottle_was_connected(shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="o1", lot="L-77", **BOTTLE)
    before = with_oxygen(shop, "o1")
    supplies.change_supply(shop.station, shop.jo, "o1", at="180bar", lot="L-78")
    after = with_oxygen(shop, "o1", cylinder="C-1003")
    other = shop.request(cylinder="D-7")
    assert fills(shop, lot="L-77") == [before]
    assert fills(shop, lot="L-78") == [after]
    assert fills(shop, supply="o1") == [before, after]
    assert other not in fills(shop, supply="top")
    view = asked(shop, lot="L-77")
    assert [(c.name, c.cylinders) for c in view.calls] == [("Kai Diver", ("C-1001",))]
    assert "mol of it" in view.lines[0].how
    with pytest.raises(InputError, match="L-77, L-78"):
        asked(shop, lot="L-79")
    assert verify(shop.path).ok


def test_gas_left_in_a_cylinder_goes_on_into_its_next_fill(shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="o1", **BOTTLE)
    first = with_oxygen(shop, "o1")
    second = shop.request(have="30bar@20C:EAN32")
    third = shop.request(have="0bar:air")
    fourth = shop.request(have="30bar@20C:EAN32")
    view = asked(shop, supply="o1")
    assert [(line.fill, line.how) for line in view.lines][1:] == [
        (second, f"left in it by fill {first}")
    ]
    assert {third, fourth}.isdisjoint({line.fill for line in view.lines})


def test_an_analyser_finds_what_it_read_residuals_too(shop: Shop) -> None:
    fill, _ = shop.accepted()
    residual = shop.request(cylinder="C-1003")
    shop.analyse(residual, "28.1", serial="C-1003", analyser="A2")
    assert fills(shop, analyser="A1") == [fill]
    assert fills(shop, analyser="A2") == [residual]
    assert "what was left read O2 28.1 %" in asked(shop, analyser="A2").lines[0].how
    with pytest.raises(InputError, match="analyser"):
        asked(shop, analyser="A9")


def test_days_bound_it_and_both_are_included(shop: Shop) -> None:
    fill, _ = shop.accepted()  # on 2026-11-25, in a zone an hour ahead
    assert fills(shop, analyser="A1", since="2026-11-25", until="2026-11-25") == [fill]
    assert fills(shop, analyser="A1", until="2026-11-24") == []
    assert fills(shop, analyser="A1", since="2026-11-26") == []
    for wrong in ({"since": "yesterday"}, {"since": "2026-11-25", "until": "2026-11-24"},
                  {"since": "0001-01-01"}, {"until": "9999-12-31"}):  # fmt: skip
        with pytest.raises(InputError):
            asked(shop, analyser="A1", **wrong)


@pytest.mark.parametrize("what", [{}, {"supply": "o1", "lot": "L"}, {"supply": "o9"}])
def test_exactly_one_thing_that_is_known(shop: Shop, what: dict[str, str]) -> None:
    with pytest.raises(InputError):
        asked(shop, **what)


def test_whom_to_call_and_whom_nobody_can(shop: Shop) -> None:
    fill, label = shop.accepted()
    privacy.set_phone(shop.station, shop.jo, "Kai Diver", "555 0100")
    privacy.set_phone(shop.station, shop.jo, "Kai Diver", "555 0199")
    (call,) = asked(shop, analyser="A1").calls
    assert (call.name, call.phone, call.fills) == ("Kai Diver", "555 0199", (fill,))
    shop.collect(fill, label)
    (line,) = asked(shop, analyser="A1").lines
    assert line.is_out
    privacy.erase(shop.station, shop.mara, "Kai Diver", reason="asked")
    (call,) = asked(shop, analyser="A1").calls
    assert (call.name, call.phone) == ("", None)
    assert "nobody knows whom to call" in recalling.call_text(call)


def test_it_is_what_a_walk_through_every_entry_finds(shop: Shop) -> None:
    """The same question, answered from the bodies alone."""
    equipment.add_supply(shop.station, shop.mara, name="o1", **BOTTLE)
    with_oxygen(shop, "o1")
    with_oxygen(shop, "o1", cylinder="C-1003")
    shop.accepted(cylinder="C-1001")
    drew: set[Any] = {
        entry.data["fill"]
        for entry in shop.entries()
        if entry.kind == "fill.reading"
        and entry.data["supply"] == "o1"
        and entry.data["drawn_umol"]
    }
    direct = {line.fill for line in asked(shop, supply="o1").lines if "mol" in line.how}
    assert direct == drew != set()


def test_a_handed_over_cylinder_is_called_back_though_its_fill_was_voided(shop: Shop) -> None:
    fill, label = shop.accepted()
    shop.collect(fill, label)
    assert shop.void(fill, "entered under another number").done
    found = asked(shop, analyser="A1")
    (line,) = found.lines
    assert line.is_out
    assert recalling.line_text(line).endswith("WITH THE CUSTOMER, voided")
    assert [call.name for call in found.calls] == ["Kai Diver"]


def test_of_a_cylinder_filled_again_the_newest_fill_alone_is_with_the_customer(shop: Shop) -> None:
    rest = []
    for _ in range(2):
        fill, label = shop.accepted()
        shop.collect(fill, label)
        rest.append(fill)
    other, label = shop.accepted(cylinder="C-1003")
    shop.collect(other, label, serial="C-1003")
    lines = asked(shop, analyser="A1").lines
    assert [line.fill for line in lines] == [rest[1], other, rest[0]]  # who breathes it is first
    texts = [recalling.line_text(line) for line in lines]
    assert [text.endswith("WITH THE CUSTOMER") for text in texts] == [True, True, False]
    assert "refilled since, analysed 32." in texts[2]
    assert f"on 2026-11-25 (fill {rest[1]})" in texts[2]
    back = shop.request(cylinder="C-1003")
    lines = asked(shop, analyser="A1").lines
    assert [line.fill for line in lines if line.is_urgent] == [rest[1]]
    (text,) = [recalling.line_text(line) for line in lines if line.fill == other]
    assert f"brought back on 2026-11-25 (fill {back}, " in text
