"""Rest: a caution by default, a gate where the station's rule gives it a time.

Ten minutes are common practice, no source.
"""

from __future__ import annotations

import pytest

from blender.record.verify import verify
from blender.station import analysing, filling, mending, ruling
from blender.station.answer import Answer
from tests.station.shop import Shop, gate


def ten_minutes(shop: Shop) -> None:
    ruling.set_rule(shop.station, shop.mara, "rest", "10min", reason="ours")


def drained(shop: Shop) -> int:
    fill = shop.request(have="180bar@20C:EAN40", want="200bar:EAN32")
    shop.plan(fill)
    shop.start(fill)
    assert shop.reading(fill, "111.462bar").facts["next"]["action"] == "rest"
    return fill


def second(shop: Shop, fill: int, waive: str = "", boss: bool = False) -> Answer:
    who = shop.mara if boss else shop.jo
    return filling.reading(shop.station, who, fill, at="111.462bar", temperature="20C", waive=waive)


def analysed(shop: Shop, fill: int, waive: str = "", boss: bool = False) -> Answer:
    return analysing.analyse(
        shop.station, shop.mara if boss else shop.jo, fill, serial="C-1001", analyser="A1",
        reading="32.1", waive=waive,
    )  # fmt: skip


def test_without_a_rule_it_only_cautions(shop: Shop) -> None:
    fill = drained(shop)
    said = second(shop, fill)
    assert said.done
    assert said.facts["closes"]
    assert "let it rest 10 min" in said.text
    assert said.facts["warnings"][-1]["code"] == "rest"
    shop.reading(fill, "200bar")
    answer = analysed(shop, fill)
    assert (answer.done, answer.state) == (True, "analysed")
    assert answer.facts["warnings"][-1]["code"] == "rest"
    assert "warnings" not in shop.last().data


def test_after_ten_minutes_nothing_is_cautioned(shop: Shop) -> None:
    fill = drained(shop)
    shop.clock.turn(10)
    assert "rest" not in [one["code"] for one in second(shop, fill).facts["warnings"]]
    shop.reading(fill, "200bar")
    shop.clock.turn(10)
    assert "warnings" not in analysed(shop, fill).facts


def test_after_a_drain_the_second_reading_waits(shop: Shop) -> None:
    ten_minutes(shop)
    fill = drained(shop)
    shop.clock.turn(9.9)
    refused = second(shop, fill)
    assert not refused.done
    told = "9 min since gas went in or out: let it rest 10 min; a manager may waive that, "
    assert gate(refused, "rest") == ("stop", told + "with a reason")
    assert shop.row(fill).step == 1
    assert shop.last().data["given"]["gauge_mbar"] == 111462
    shop.clock.turn(0.1)
    assert second(shop, fill).facts["closes"]


def test_after_a_fill_reading_and_analysis_wait(shop: Shop) -> None:
    ten_minutes(shop)
    fill = shop.rested()
    shop.clock.turn(5)
    assert gate(shop.reading(fill, "229bar"), "rest")[0] == "stop"
    refused = analysed(shop, fill)
    assert gate(refused, "rest")[0] == "stop"
    assert shop.row(fill).state == "resting"
    shop.clock.turn(5)
    assert shop.reading(fill, "229.5bar").done
    assert analysed(shop, fill).state == "analysed"


def test_gas_going_in_waits_for_nothing(shop: Shop) -> None:
    ten_minutes(shop)
    fill = shop.filling()
    assert shop.reading(fill, "70bar").done
    assert shop.reading(fill, "84.425bar").done
    assert shop.reading(fill, "230bar").state == "resting"


def test_the_residual_before_any_gas_waits_for_nothing(shop: Shop) -> None:
    ten_minutes(shop)
    assert shop.analyse(shop.request(residual="stated"), "28.0").done


def test_a_manager_waives_it_with_a_reason_and_the_record_says_so(shop: Shop) -> None:
    ten_minutes(shop)
    fill = drained(shop)
    for waive, boss in (("", True), ("boat leaves", False)):
        refused = second(shop, fill, waive, boss)
        assert not refused.done
        assert gate(refused, "rest")[0] in ("stop", "ask")
    assert second(shop, fill, "bled slowly, cylinder is at 20 degC", boss=True).facts["closes"]
    (told,) = shop.last().data["allowed"]
    assert told.startswith("rest: 0 min since gas went in or out: let it rest 10 min; waived: bled")
    assert [row.kind for row in shop.exceptions(fill)] == ["refused", "refused", "allowed"]
    shop.reading(fill, "200bar")
    assert not analysed(shop, fill).done
    assert analysed(shop, fill, "stirred by rolling", boss=True).state == "analysed"
    assert verify(shop.path).ok


def test_held_with_gas_in_it_rests_from_when_it_was_stopped(shop: Shop) -> None:
    ten_minutes(shop)
    fill = shop.filling()
    shop.clock.turn(20)
    shop.reading(fill, "70bar")
    shop.clock.turn(20)
    shop.hold(fill)
    shop.clock.turn(9)
    assert gate(shop.analyse(fill, "36.0"), "rest")[0] == "stop"
    shop.clock.turn(1)
    assert gate(shop.analyse(fill, "36.0"), "rest")[0] == "pass"


def test_a_corrected_reading_rests_from_when_it_was_read(shop: Shop) -> None:
    ten_minutes(shop)
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    shop.reading(fill, "232bar")
    shop.clock.turn(9)
    slip = mending.correct_reading(shop.station, shop.jo, fill, at="230bar", temperature="20C")
    assert slip.done
    shop.clock.turn(1)
    assert analysed(shop, fill).done


@pytest.mark.parametrize(("rule", "said"), [(None, "10 min or more"), ("25min", "25 min or more")])
def test_the_next_text_says_how_long(shop: Shop, rule: str | None, said: str) -> None:
    if rule:
        ruling.set_rule(shop.station, shop.mara, "rest", rule, reason="ours")
    fill = shop.filling()
    shop.reading(fill, "84.425bar")
    assert said in shop.reading(fill, "230bar").facts["next_text"]
