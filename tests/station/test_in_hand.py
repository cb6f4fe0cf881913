"""Gas in hand: deliveries, banks read against what they should show, forecasts, today's fills."""

from __future__ import annotations

from typing import Any

import pytest

from blender.errors import InputError
from blender.gas import parse_gas
from blender.record.verify import verify
from blender.station import deliveries, equipment, in_hand, recalling, register, supplies
from blender.vessel import amount_for_pressure
from tests.station.shop import Shop

DAY_MIN = 24.0 * 60.0


@pytest.fixture(name="banked")
def _banked(shop: Shop) -> Shop:
    facts = {"gas": "oxygen99.5", "size": "50L", "at": "180bar"}
    equipment.add_supply(shop.station, shop.mara, name="o1", **facts)
    return shop


def deliver(shop: Shop, **facts: Any) -> dict[str, Any]:
    usual = {"gas": "oxygen99.5", "size": "50L", "bottles": 2, "at": "200bar", "lot": "L-77",
             "certificate": "Z-9", "supplier": "harbour gas"}  # fmt: skip
    return deliveries.deliver(shop.station, shop.jo, **(usual | facts))


def stored(shop: Shop) -> list[dict[str, Any]]:
    with shop.station.record.read() as conn:
        return list(deliveries.listing(conn)["deliveries"])


def hand(shop: Shop, weeks: int = 4) -> dict[str, Any]:
    return in_hand.in_hand(shop.station.record, shop.clock(), weeks=weeks)


def gas(answer: dict[str, Any], kind: str) -> dict[str, Any]:
    return next(one for one in answer["gases"] if one["gas"] == kind)


# -- deliveries --------------------------------------------------------------------------------


def test_a_delivered_bottle_brings_its_lot_and_certificate_when_connected(banked: Shop) -> None:
    number = deliver(banked)["delivery"]
    supplies.change_supply(banked.station, banked.jo, "o1", delivery=number, at="198bar")
    (one,) = register.supplies(banked.station.record)["supplies"]
    assert (one["lot"], one["certificate"], one["delivery"]) == ("L-77", "Z-9", number)
    assert one["pressure_bar"] == pytest.approx(198.0, abs=0.01)
    assert stored(banked)[0]["remaining"] == 1
    fill = banked.rested()
    found = recalling.recall(banked.station.record, banked.clock(), lot="L-77")
    assert [line.fill for line in found.lines] == [fill]
    assert verify(banked.path).ok


def test_a_bottle_nobody_read_counts_as_the_note_says_and_as_not_read(banked: Shop) -> None:
    supplies.change_supply(banked.station, banked.jo, "o1", delivery=deliver(banked)["delivery"])
    (one,) = register.supplies(banked.station.record)["supplies"]
    assert one["pressure_bar"] == pytest.approx(200.0, abs=0.01)
    assert one["read_us"] is None


def test_a_delivery_gives_no_more_bottles_than_came(banked: Shop) -> None:
    number = deliver(banked, bottles=1)["delivery"]
    supplies.change_supply(banked.station, banked.jo, "o1", delivery=number)
    for gone in (number, 0, -1, 77, 10**30):
        with pytest.raises(InputError, match="in the store are none"):
            supplies.change_supply(banked.station, banked.jo, "o1", delivery=gone)
    with pytest.raises(InputError, match="give --at alone"):
        supplies.change_supply(banked.station, banked.jo, "o1", delivery=number, gas="air")


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"bottles": 0}, "1 to 500"),
        ({"gas": "phlogiston"}, "gas"),
        ({"at": "200"}, "--at"),
        ({"on": "2027-01-01"}, "lies in the future"),
        ({"lot": "x" * 61}, "at most 60"),
    ],
)
def test_a_delivery_that_cannot_be_is_refused(
    banked: Shop, facts: dict[str, Any], told: str
) -> None:
    with pytest.raises(InputError, match=told):
        deliver(banked, **facts)
    assert stored(banked) == []


# -- a bank read against what it should show ---------------------------------------------------


def test_a_bank_within_its_uncertainty_is_no_matter(banked: Shop) -> None:
    found = supplies.read_supply(banked.station, banked.jo, "o1", at="178bar")
    # Class 1.6 of 250 bar is 4.0 bar, 2 K are 1.2 bar: twice read, k = 2, evenly spread.
    assert found["uncertainty_bar"] == pytest.approx(
        2 * (2 * (4.0**2 + 1.228**2) / 3) ** 0.5, rel=0.01
    )
    assert not found["outside"]
    assert found["meaning"] is None


@pytest.mark.parametrize(
    ("at", "said"),
    [("165bar", "a leak, or gas used"), ("195bar", "a mis-entry, or another bottle")],
)
def test_outside_its_uncertainty_it_is_said_what_that_means(
    banked: Shop, at: str, said: str
) -> None:
    found = supplies.read_supply(banked.station, banked.jo, "o1", at=at)
    assert found["outside"]
    assert said in supplies.reading_text(found)


def test_a_warm_bank_is_expected_higher_and_what_fills_drew_is_allowed_for(banked: Shop) -> None:
    banked.rested()
    cold = supplies.read_supply(banked.station, banked.jo, "o1", at="172bar")
    gone = amount_for_pressure(parse_gas("oxygen99.5"), 180.0, 20.0, 0.05) - amount_for_pressure(
        parse_gas("oxygen99.5"), cold["expected_bar"], 20.0, 0.05
    )
    drawn = [e.data["drawn_umol"] / 1e6 for e in banked.entries()
             if e.kind == "fill.reading" and e.data["supply"] == "o1"]  # fmt: skip
    assert gone == pytest.approx(sum(drawn), rel=1e-3)
    reading = (4.0**2 + (2.0 * cold["expected_bar"] / 293.15) ** 2) / 3
    assert cold["uncertainty_bar"] > 2 * (2 * reading) ** 0.5
    warm = supplies.read_supply(banked.station, banked.jo, "o1", at="185bar", temperature="40C")
    assert warm["expected_bar"] > 172.0 * 313.15 / 293.15


# -- forecasts ---------------------------------------------------------------------------------


def filled_every_day(shop: Shop, days: int) -> None:
    for _ in range(days):
        shop.reject(shop.rested())
        shop.clock.turn(DAY_MIN)


def test_it_runs_out_when_use_goes_on_as_it_was(banked: Shop) -> None:
    filled_every_day(banked, 8)
    answer = hand(banked)
    assert answer["days"] == 9
    oxygen = gas(answer, "oxygen")
    drawn = [e.data["drawn_umol"] / 1e6 for e in banked.entries()
             if e.kind == "fill.reading" and e.data["supply"] == "o1"]  # fmt: skip
    assert oxygen["a_day_mol"] == pytest.approx(sum(drawn) / 9, rel=1e-6)
    full = amount_for_pressure(parse_gas("oxygen99.5"), 180.0, 20.0, 0.05)
    expected = (full - sum(drawn)) / (sum(drawn) / 9)
    assert oxygen["runs_out"]["days"] == pytest.approx(expected, rel=1e-3)
    assert oxygen["runs_out"]["low_days"] <= expected <= oxygen["runs_out"]["high_days"]
    deliver(banked, bottles=2)
    more = gas(hand(banked), "oxygen")
    each = amount_for_pressure(parse_gas("oxygen99.5"), 200.0, 20.0, 0.05)
    assert more["store_mol"] == pytest.approx(2 * each)
    assert more["runs_out"]["days"] > oxygen["runs_out"]["days"]
    told = in_hand.lines(hand(banked))
    assert any(line.startswith("oxygen:") and "runs out in" in line for line in told)


def test_without_a_week_of_use_nothing_is_foretold(banked: Shop) -> None:
    banked.rested()
    assert gas(hand(banked), "oxygen")["runs_out"] is None
    assert "a week of use is needed" in "\n".join(in_hand.lines(hand(banked)))


def test_a_voided_fill_used_nothing(banked: Shop) -> None:
    fill = banked.analysed()
    before = hand(banked)["supplies"][0]["drawn_mol"]
    banked.accept(fill, "31.8")
    with banked.station.record.write() as unit:
        data = {"fill": fill, "was": "accepted", "reason": "entered twice"}
        unit.append("fill.voided", data, at=banked.clock(), by=banked.mara.signer, meaning="x")
    after = hand(banked)["supplies"][0]
    assert before > 0.0
    assert after["drawn_mol"] == 0.0


def test_a_supply_that_never_runs_out_has_no_day(shop: Shop) -> None:
    equipment.add_supply(shop.station, shop.mara, name="o1", gas="oxygen99.5")
    one = gas(hand(shop), "oxygen")
    assert one["endless"]
    assert one["runs_out"] is None
    with pytest.raises(InputError, match="1 to 52"):
        hand(shop, weeks=0)


# -- today's requests --------------------------------------------------------------------------


def test_requests_fit_in_order_until_the_oxygen_is_gone(shop: Shop) -> None:
    facts = {"gas": "oxygen99.5", "size": "10L", "at": "180bar"}
    equipment.add_supply(shop.station, shop.mara, name="o1", **facts)
    first = shop.request(want="200bar:EAN36")
    assert hand(shop)["requests"]["fit"]
    second = shop.request(cylinder="C-1003", want="200bar:EAN36")
    third = shop.request(cylinder="T-1+T-2", want="200bar:EAN50", have="10bar@20C:air")
    requests = hand(shop)["requests"]
    assert not requests["fit"]
    assert [line["fill"] for line in requests["lines"]] == [first, second, third]
    assert requests["lines"][0]["complete"]
    assert requests["first_short"] in (second, third)
    assert "do NOT fit" in "\n".join(in_hand.lines(hand(shop)))


def test_a_planned_fill_is_foreseen_by_its_own_options(banked: Shop) -> None:
    fill = banked.request()
    banked.plan(fill, method="continuous-flow", rated_intake="40%")
    (line,) = hand(banked)["requests"]["lines"]
    assert line["complete"]
    started = banked.request(cylinder="C-1003")
    banked.plan(started)
    banked.start(started, "C-1003")
    requests = hand(banked)["requests"]
    assert requests["being_filled"] == 1
    assert requests["banks_after"]["o1"] < 180.0


def test_a_plan_whose_supply_was_retired_is_said_not_to_fit(banked: Shop) -> None:
    fill = banked.request()
    banked.plan(fill, supply=("o1",))
    supplies.retire_supply(banked.station, banked.mara, "o1", reason="sold")
    (line,) = hand(banked)["requests"]["lines"]
    assert not line["complete"]
    assert "no supply of that name is in use" in line["why"]
